package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"farhop/cmd/farhop/internal/config"
)

// The soundings that are written for a plan, put into it as they are, make a plan
// that is accepted and has these soundings at these times, and no others.
func TestSoundingsPasted(t *testing.T) {
	for _, horizon := range []time.Duration{3 * time.Hour, 24 * time.Hour} {
		ask := []string{
			"soundings", "--plan", aysenPlan, "--observations", aysenLog, "--at", "newest",
			"--within-db", "8.5", "--lists-every", "24h", "--horizon", horizon.String(),
		}
		status, fragment, stderr := run(append(ask, "--format", "yaml")...)
		if status != exitDone {
			t.Fatalf("exit %d: %s", status, stderr)
		}
		_, out, _ := run(append(ask, "--format", "json")...)
		var planned struct {
			Soundings []struct {
				Station, Channel string
				Start            time.Time
			}
		}
		if err := json.Unmarshal([]byte(out), &planned); err != nil || len(planned.Soundings) < 10 {
			t.Fatalf("%d soundings, %v", len(planned.Soundings), err)
		}
		var want []string
		for _, s := range planned.Soundings {
			want = append(want, s.Start.Format(time.RFC3339)+" "+s.Station+" "+s.Channel)
		}
		path := filepath.Join(t.TempDir(), "plan.yaml")
		if err := os.WriteFile(path, []byte(pasted(t, fragment)), 0o600); err != nil {
			t.Fatal(err)
		}
		if status, stdout, stderr := run("check", "--plan", path); status != exitDone {
			t.Fatalf("check: exit %d: %s%s", status, stdout, stderr)
		}
		net, problems, err := config.LoadFile(path)
		if err != nil || net == nil {
			t.Fatal(problems, err)
		}
		var got []string
		start := time.Date(2026, 3, 16, 2, 30, 0, 0, time.UTC)
		for at := start; at.Before(start.Add(horizon)); at = at.Add(net.Slots.Length) {
			for i := range net.Stations {
				for c := range net.Channels {
					if net.SoundsOn(i, c, at.Unix()) {
						got = append(got, at.Format(time.RFC3339)+" "+net.Stations[i].Call+" "+net.Channels[c].Name)
					}
				}
			}
		}
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Errorf("over %v the plan has %d soundings, not the %d planned", horizon, len(got), len(want))
		}
	}
}

// pasted puts each station's list in place of the one it has in the example's plan.
func pasted(t *testing.T, fragment string) string {
	t.Helper()
	data, err := os.ReadFile(aysenPlan)
	if err != nil {
		t.Fatal(err)
	}
	lists := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^  - call: (\S+)\n((?:    .*\n)+)`).FindAllStringSubmatch(fragment, -1) {
		lists[m[1]] = m[2]
	}
	call, skip := "", false
	var out strings.Builder
	for line := range strings.Lines(string(data)) {
		if rest, ok := strings.CutPrefix(line, "  - call: "); ok {
			call = strings.TrimSpace(rest)
		}
		switch {
		case line == "    soundings:\n":
			skip = true
			out.WriteString(lists[call])
			delete(lists, call)
		case skip && strings.HasPrefix(line, "      - "):
		default:
			skip = false
			out.WriteString(line)
		}
	}
	if len(lists) > 0 {
		t.Fatalf("no place for %v", lists)
	}
	return out.String()
}
