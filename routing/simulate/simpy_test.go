package simulate_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/routing/simulate"
)

// pythonWith finds a Python that has a module; it skips the test where none does.
// Debian's own comes second, since another one may stand first in the path.
func pythonWith(t *testing.T, module string) string {
	t.Helper()
	for _, python := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(python, "-c", "import "+module).Run() == nil {
			return python
		}
	}
	t.Skipf("no python3 with %s is installed (Debian: python3-simpy3)", module)
	return ""
}

// processHop is one hop as the process-based simulation takes it.
type processHop struct {
	Open    []bool    `json:"open"`    // by slot
	Forward []float64 `json:"forward"` // margin, SD, common, noise; or one figure
	Reverse []float64 `json:"reverse"`
}

// processScenario is what the process-based simulation reads.
type processScenario struct {
	Runs       int          `json:"runs"`
	Seed       uint64       `json:"seed"`
	Frames     int          `json:"frames"`
	Block      int          `json:"block"`
	Ack        int          `json:"ack"`
	Turnaround int          `json:"turnaround"`
	Rounds     int          `json:"rounds"`
	Busy       float64      `json:"busy"`
	Slots      int          `json:"slots"` // that end by the deadline
	Hops       []processHop `json:"hops"`
}

// processResult is what it prints.
type processResult struct {
	Delivered, Confirmed int
	Airtime, Squared     float64 // sums of frames keyed and of their squares
	Arrivals             []int
}

// TestAgainstProcesses holds the exact computation against a third opinion: stations
// as processes that key, listen and wait on a common clock, written in another
// language on another library's event queue (SimPy), with its own dice.
func TestAgainstProcesses(t *testing.T) {
	python := pythonWith(t, "simpy")
	script, err := os.ReadFile("testdata/processes.py")
	if err != nil {
		t.Fatal(err)
	}
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	const runs = 20_000
	for i, c := range []tried{
		{name: "two hops, busy", net: "A-B:0.83/0.8 B-C:0.83/0.8", frames: 9, deadline: time.Hour, change: busy(0.1)},
		{name: "blocks, weak answers", net: "A-B:0.8/0.6 B-C:0.7/0.75", frames: 7, deadline: 2 * time.Hour, change: blocksOf(3, 4)},
		{name: "Gaussian, windows", net: "A-B:-12dB±4/-14dB±5 B-C:-14dB±3/-13dB±6", frames: 6, deadline: 3 * time.Hour, change: windowed("18:05-18:30", "19:00-20:30")},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := c.scenario(t)
			want := computed(t, s)
			n := s.Net
			q := processScenario{
				Runs: runs, Seed: uint64(i) + 1, Frames: s.Frames, Block: n.Slots.Block, Ack: n.Slots.Ack,
				Turnaround: n.Slots.Turnaround, Rounds: n.Slots.Rounds, Busy: n.Slots.Busy, Slots: len(want.there.Delivered),
			}
			first := n.Slots.Start(s.Start)
			for h, ch := range s.Channels {
				from, to := s.Stations[h], s.Stations[h+1]
				hop := processHop{Forward: direction(t, s.Links, from, to, ch, s.Start), Reverse: direction(t, s.Links, to, from, ch, s.Start)}
				for slot := range 3 * q.Slots {
					hop.Open = append(hop.Open, n.OpenSlot(from, to, ch, first+int64(slot)*n.Slots.Seconds()))
				}
				q.Hops = append(q.Hops, hop)
			}
			r := processes(t, python, script, q)
			share := func(what string, count int, exact float64) {
				se := math.Sqrt(max(exact*(1-exact), 1.0/runs) / runs)
				if away := (float64(count)/runs - exact) / se; math.Abs(away) > 4 {
					t.Errorf("%s: %d of %d is %.1f standard errors from %.6f", what, count, runs, away, exact)
				}
			}
			share("delivered", r.Delivered, want.there.Chance())
			share("confirmed", r.Confirmed, last(want.confirmed))
			mean := r.Airtime / runs
			se := math.Sqrt((r.Squared/runs - mean*mean) / runs)
			if away := (mean - sum(want.frames)) / se; math.Abs(away) > 4 {
				t.Errorf("frames keyed: %.4f is %.1f standard errors from %.4f", mean, away, sum(want.frames))
			}
			count := 0
			for slot, k := range r.Arrivals {
				count += k
				if slot%10 == 9 {
					share(fmt.Sprintf("there by slot %d", slot), count, want.there.Delivered[slot])
				}
			}
		})
	}
}

// processes runs the script.
func processes(t *testing.T, python string, script []byte, q processScenario) (r processResult) {
	t.Helper()
	input, err := json.Marshal(q)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), python, "-c", string(script))
	cmd.Stdin = bytes.NewReader(input)
	var problems bytes.Buffer
	cmd.Stderr = &problems
	output, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, problems.String())
	}
	if err := json.Unmarshal(output, &r); err != nil || len(r.Arrivals) != q.Slots {
		t.Fatalf("%v: %s", err, output)
	}
	return r
}

// direction is one direction of a link that stays as it is.
func direction(t *testing.T, links simulate.Source, from, to, channel int, unix int64) []float64 {
	t.Helper()
	e, ok := links.Edge(from, to, channel, unix)
	switch d := e.Direction; {
	case !ok:
		return []float64{0}
	case d.Kind == link.Certain:
		return []float64{d.Decode}
	default:
		return []float64{d.Margin, d.SD, d.Common, d.Noise}
	}
}

func blocksOf(frames, rounds int) func(*mesh.Net) {
	return func(n *mesh.Net) { n.Slots.Block, n.Slots.Rounds = frames, rounds }
}

func windowed(list ...string) func(*mesh.Net) {
	return func(n *mesh.Net) { n.Channels[0].Windows, n.Slots.Busy = parsed(list...), 0.1 }
}
