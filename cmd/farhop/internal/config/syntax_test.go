package config

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// places returns "line:column path" of problems.
func places(ps []Problem) []string {
	var out []string
	for _, p := range ps {
		place, _, _ := strings.Cut(strings.TrimPrefix(p.String(), p.Source+":"), ": ")
		out = append(out, strings.TrimSpace(place+" "+p.Path))
	}
	return out
}

// Faults of the YAML itself are located by the line they begin on, each section
// of the plan by itself, and what is sound is still checked.
func TestSyntax(t *testing.T) {
	tail := "    power_w: 20\n"
	for _, c := range []struct {
		name, plan string
		want       []string
		mend       string // of the first problem
	}{
		{"tab", head + "\tpower_w: 5\n", []string{"6:1 stations"}, "a tab"},
		{"two colons", head + "    roles: a: b\n", []string{"6:5 stations"}, "double quotes"},
		{"indentation", head + tail + "   watch: all\n" + tail, []string{"7:4 stations"}, "indentation"},
		{"entry indentation", head + tail + " - call: MILL\n" + tail, []string{"7:2 stations"}, "indentation"},
		{"bracket", head + "    roles: [gateway\n" + tail, []string{"6:5 stations"}, "bracket"},
		{"bracket at the end", head + "    roles: [gateway", []string{"6:5 stations"}, "bracket"},
		{"brace over lines", head + "    supply: {battery_wh: 1,\n      receive_w: 2,\n" + tail + "net2: 1\n", []string{"6:5 stations", "9:1 net2"}, "bracket"},
		{"quote", head + "    locator: \"RE44\n" + tail, []string{"6:5 stations"}, "quote"},
		{"sign", head + "    roles: @x\n", []string{"6:5 stations"}, "double quotes"},
		{"no colon", head + "    watch all\n" + tail, []string{"6:5 stations"}, ""},
		{"alias", head + "    power_w: *p\n", []string{"6:5"}, "anchor"},
		{
			"two sections and a bad value", strings.Replace(head, "40s,", "40s, rounds: 0,", 1) + "    roles: [gateway\n" + tail + "model: {a\nevidence: {moved_km: no}\n",
			[]string{"2:30 slots.rounds", "6:5 stations", "8:1 model", "9:22 evidence.moved_km"},
			"allowed",
		},
		{"broken section is not missing", "net: N\nslots: {\nchannels: [\nstations: [\n", []string{"2:1 slots", "3:1 channels", "4:1 stations"}, "bracket"},
		{"two documents", head + "---\n" + head, []string{"6:1"}, "one document"},
		{"end and more", head + "...\nnet: x\n", []string{"7:1", "7:1 net"}, "one document"},
		{"late anchor", head + "    power_w: *p\nmodel: {common_db: &p 3}\n", []string{"6:5"}, "anchor"},
		{"windows line ends", strings.ReplaceAll(head+"    watch: al\n", "\n", "\r\n"), []string{"6:12 stations[0].watch"}, "did you mean all"},
		{"old line ends", strings.ReplaceAll(head+"    watch: al\n", "\n", "\r"), []string{"6:12 stations[0].watch"}, "did you mean all"},
		{"byte order mark", "\ufeff" + head + "    watch: al\n", []string{"6:12 stations[0].watch"}, "did you mean all"},
		{"not UTF-8", head + "    locator: \xff\n    call: \xc3\n", []string{"6:14", "7:11"}, "UTF-8"},
		{"control", "net: a\x00b\x07\r\nx: \u2028\n", []string{"1:7", "1:9", "2:4"}, "UTF-8"},
		{"UTF-16", "\xff\xfen\x00e\x00t\x00", []string{""}, "UTF-8"},
		{"empty", "", []string{""}, "init"},
		{"only comments", "# nothing\n\n", []string{""}, "init"},
		{"only a marker", "---\n", []string{"2:1"}, "init"},
	} {
		t.Run(c.name, func(t *testing.T) {
			net, ps := Load("p", []byte(c.plan))
			got := places(ps)
			for i := range got {
				if ps[i].Line == 0 {
					got[i] = ps[i].Path
				}
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s\n%s", diff, strings.Join(lines(ps), "\n"))
			}
			if net != nil || len(ps) == 0 || !strings.Contains(ps[0].Mend, c.mend) {
				t.Errorf("mend of %v lacks %q", lines(ps), c.mend)
			}
		})
	}
}

// A file that is not text is answered by a short list.
func TestBinary(t *testing.T) {
	data := make([]byte, 100_000)
	for i := range data {
		data[i] = byte(i * 7919 >> 3)
	}
	if _, ps := Load("p", data); len(ps) != maxByteProblems || !Failed(ps) {
		t.Errorf("%d problems", len(ps))
	}
}

func FuzzLoad(f *testing.F) {
	f.Add([]byte(head))
	f.Add(Starter())
	for _, c := range broken {
		f.Add([]byte(c.plan))
		f.Add([]byte(head + strings.TrimPrefix(c.plan, "+")))
	}
	for _, s := range []string{"&a [*a]", "<<: &a {<<: *a}", "? {a: [\n", "%YAML 9\n---\n", "!!binary x", "net: !!int x", "- - - -", "\ufeff", "a: |\n  b\n c"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		net, ps := Load("p", data)
		if (net == nil) != Failed(ps) {
			t.Fatalf("net %v, problems %v", net != nil, lines(ps))
		}
		text := strings.Split(strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n").Replace(string(data)), "\n")
		for _, p := range ps {
			if p.Line < 0 || p.Line > len(text)+1 || p.Column < 0 || p.Message == "" || strings.ContainsAny(p.String(), "\n\r") {
				t.Fatalf("badly located: %q", p.String())
			}
		}
		if net != nil && len(net.Prepare()) > 0 {
			t.Fatal("a net with issues")
		}
		again, same := Load("p", data)
		if (again == nil) != (net == nil) || len(same) != len(ps) {
			t.Fatal("not the same twice")
		}
		for i := range ps {
			if ps[i] != same[i] {
				t.Fatal("not the same problems twice")
			}
		}
	})
}
