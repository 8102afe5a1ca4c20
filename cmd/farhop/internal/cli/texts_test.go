package cli

import (
	"slices"
	"testing"

	"github.com/spf13/pflag"
)

// A repeatable flag keeps each text as it is, commas and all, and shows no default.
func TestTexts(t *testing.T) {
	for _, c := range []struct {
		args, want []string
		says       string
	}{
		{nil, nil, ""},
		{[]string{"--heard", "1420Z A copies B -9, C -14"}, []string{"1420Z A copies B -9, C -14"}, "1420Z A copies B -9, C -14"},
		{[]string{"--heard=a", "--heard", "", "--heard", "b"}, []string{"a", "", "b"}, "a, , b"},
	} {
		var got []string
		f := pflag.NewFlagSet("", pflag.ContinueOnError)
		f.Var((*texts)(&got), "heard", "a `TEXT`")
		if usage := f.FlagUsages(); usage != "      --heard TEXT   a TEXT\n" {
			t.Errorf("usage %q", usage)
		}
		if err := f.Parse(c.args); err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%q: %q, %v", c.args, got, err)
		}
		if says := f.Lookup("heard").Value.String(); says != c.says {
			t.Errorf("%q: says %q", c.args, says)
		}
	}
}
