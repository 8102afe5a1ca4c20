package cli

import (
	"io"
	"testing"
)

// Each command is found under the name it is listed with, alone as in the whole tree.
func TestCommandsByName(t *testing.T) {
	whole := newRoot(Streams{})
	if len(whole.Commands()) != len(commands) {
		t.Errorf("%d commands, %d listed", len(whole.Commands()), len(commands))
	}
	for _, c := range commands {
		root := newRoot(Streams{}, c.name, "--help")
		found, _, err := root.Find([]string{c.name})
		if err != nil || found.Name() != c.name || len(root.Commands()) != 1 {
			t.Errorf("%s: found %s of %d commands: %v", c.name, found.Name(), len(root.Commands()), err)
			continue
		}
		inWhole, _, err := whole.Find([]string{c.name})
		if err != nil || inWhole.UsageString() != found.UsageString() {
			t.Errorf("%s alone has other usage than in the whole tree: %v", c.name, err)
		}
	}
}

func BenchmarkStart(b *testing.B) {
	for _, args := range [][]string{{"table", "--help"}, {"help"}} {
		b.Run(args[0], func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if code := Run(b.Context(), Streams{Out: io.Discard, Err: io.Discard}, args); code != exitDone {
					b.Fatal(code)
				}
			}
		})
	}
}
