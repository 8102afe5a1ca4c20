package cli

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// statedPlan writes a plan of stations on one channel with so many stated links drawn
// at random, and returns its path.
func statedPlan(tb testing.TB, stations, links int) string {
	tb.Helper()
	rng := rand.New(rand.NewPCG(uint64(stations), 8))
	var b strings.Builder
	b.WriteString("slots: {length: 40s, characters: 18, half_decode_snr_db: -16}\nchannels:\n  - {name: day, frequency_hz: 7131000}\nstations:\n")
	for i := range stations {
		fmt.Fprintf(&b, "  - {call: S%04d, power_w: 20}\n", i)
	}
	b.WriteString("links:\n")
	for seen := map[[2]int]bool{}; len(seen) < links; {
		if p := [2]int{rng.IntN(stations), rng.IntN(stations)}; p[0] != p[1] && !seen[p] {
			seen[p] = true
			fmt.Fprintf(&b, "  - {from: S%04d, to: S%04d, channel: day, snr_db: %.1f, snr_sd_db: 4}\n", p[0], p[1], -16+12*rng.Float64())
		}
	}
	path := filepath.Join(tb.TempDir(), "plan.yaml")
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}

// BenchmarkResilience is the whole command but for the start of the process: reading
// the plan, the analysis, the text. Of 2,000 stations pairs of stations aren't looked at.
func BenchmarkResilience(b *testing.B) {
	for _, size := range [][2]int{{200, 2400}, {2000, 24_000}} {
		path := statedPlan(b, size[0], size[1])
		b.Run(fmt.Sprintf("stations=%d/links=%d", size[0], size[1]), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if status, _, stderr := run("resilience", "--plan", path, "--at", "2026-03-02T18:00:00Z"); status != exitDone {
					b.Fatalf("exit %d: %s", status, stderr)
				}
			}
		})
	}
}

// BenchmarkTimetable is the whole command but for the start of the process: 200 messages,
// every thirteenth to all, between 30 stations over 24 hours.
func BenchmarkTimetable(b *testing.B) {
	plan, traffic := writePlan(b, 1, 30, 200)
	b.Run("stations=30/messages=200", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if status, _, stderr := run("timetable", "--plan", plan, "--traffic", traffic); status != exitDone {
				b.Fatalf("exit %d: %s", status, stderr)
			}
		}
	})
}
