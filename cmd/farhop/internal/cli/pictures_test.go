package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"
)

// The pictures shown in the README are what the commands beside them draw. With
// -update they are drawn anew.
func TestReadmePictures(t *testing.T) {
	t.Chdir("../../../..")
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	shown := regexp.MustCompile(`<!-- picture: go run ./cmd/farhop (.*?) -->`).FindAllSubmatch(readme, -1)
	if len(shown) != 4 {
		t.Fatalf("%d pictures are shown, not 4", len(shown))
	}
	for _, m := range shown {
		args := arguments(string(m[1]))
		k := slices.Index(args, "--output")
		if k < 0 {
			t.Fatalf("%s names no --output", m[1])
		}
		file := args[k+1]
		if !regexp.MustCompile(`\]\(` + regexp.QuoteMeta(file) + `\)`).Match(readme) {
			t.Errorf("%s is drawn but not shown", file)
		}
		drawn := filepath.Join(t.TempDir(), "drawn.svg")
		args[k+1] = drawn
		if status, _, stderr := run(args...); status != exitDone {
			t.Fatalf("%s: exit %d: %s", m[1], status, stderr)
		}
		got, err := os.ReadFile(drawn)
		if err != nil {
			t.Fatal(err)
		}
		if *update {
			if err := os.WriteFile(file, got, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if string(got) != string(want) {
			t.Errorf("%s isn't what is drawn now; draw it anew with: go test ./cmd/farhop/internal/cli -run ReadmePictures -update", file)
		}
		if len(got) > 80_000 {
			t.Errorf("%s has %d bytes, too many to show", file, len(got))
		}
	}
}
