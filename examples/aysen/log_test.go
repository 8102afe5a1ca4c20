package aysen

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"os"
	"testing"
	"time"
)

// The committed files are what the generator makes.
func TestCommittedFilesAreCurrent(t *testing.T) {
	truth := newTruth(t)
	plan, err := truth.Scenario.Plan()
	if err != nil {
		t.Fatal(err)
	}
	const mend = "run: go run ./examples/aysen/generate"
	if committed, err := os.ReadFile("plan.yaml"); err != nil || !bytes.Equal(committed, plan) {
		t.Errorf("plan.yaml is not what the scenario says (%v); %s", err, mend)
	}
	packed, err := os.ReadFile("observations.csv.gz")
	if err != nil {
		t.Fatal(err)
	}
	if len(packed) >= 600_000 {
		t.Errorf("observations.csv.gz has %d bytes", len(packed))
	}
	reader, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	committed, err := io.ReadAll(reader)
	if err != nil {
		t.Fatal(err)
	}
	var made bytes.Buffer
	if err := WriteCSV(&made, onceRows()); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(made.Bytes(), committed) {
		t.Errorf("observations.csv.gz differs from what the generator makes (%d and %d bytes); %s", len(committed), made.Len(), mend)
	}
}

// senders knows who sent what in each slot.
func senders(list []Transmission) map[int64]map[int]Transmission {
	out := make(map[int64]map[int]Transmission)
	for _, x := range list {
		at := x.At.Unix()
		if out[at] == nil {
			out[at] = make(map[int]Transmission)
		}
		out[at][x.Station] = x
	}
	return out
}

// station resolves a name of the log to an index into all stations.
func (t *Truth) station(name string) int {
	for _, a := range t.Scenario.Aliases {
		if a.As == name {
			name = a.Call
		}
	}
	return index(t.all, name)
}

// Nobody hears while sending, off the air, asleep or on another channel, and
// nobody is heard who did not send.
func TestReportsRespectTheRadio(t *testing.T) {
	truth := newTruth(t)
	s := truth.Scenario
	sent := senders(truth.Transmissions())
	var before time.Time
	for _, r := range onceRows() {
		receiver, sender := truth.station(r.Receiver), truth.station(r.Sender)
		if receiver < 0 || sender < 0 || receiver >= len(s.Stations) {
			t.Fatalf("%+v: unknown station", r)
		}
		x, ok := sent[r.At.Unix()][sender]
		if !ok || s.Channels[x.Channel].FrequencyHz != r.FrequencyHz || x.PowerW != r.PowerW {
			t.Fatalf("%+v: nobody sent that", r)
		}
		if _, busy := sent[r.At.Unix()][receiver]; busy {
			t.Fatalf("%+v: heard while sending", r)
		}
		if !truth.Watches(receiver, x.Channel, r.At) || truth.absent(receiver, r.At) || truth.absent(sender, r.At) {
			t.Fatalf("%+v: somebody was not there", r)
		}
		if r.SNR < lowestSNR || r.SNR > highestSNR || r.At.Before(before) || r.At.Unix()%40 != 0 {
			t.Fatalf("%+v: out of range or order", r)
		}
		before = r.At
	}
	if !before.Equal(s.End) {
		t.Errorf("the newest report is of %v, want %v", before, s.End)
	}
}

func TestNamesInTheLog(t *testing.T) {
	count := make(map[string]int)
	for _, r := range onceRows() {
		count[r.Sender]++
		if r.Receiver == "TRAWLER" || (r.Sender == "GLACER" && r.Receiver != "MILL") {
			t.Fatalf("%+v: should not be", r)
		}
		if pier := r.At.Before(at("2026-03-06T12:00")); (r.Sender == "JETTY" || r.Receiver == "JETTY") && pier ||
			(r.Sender == "PIER" || r.Receiver == "PIER") && !pier {
			t.Fatalf("%+v: the wrong name for the day", r)
		}
		if half := r.At.Before(at("2026-03-08T15:00")); r.Sender == "OUTPOST" && (r.PowerW == 2.5) != half {
			t.Fatalf("%+v: the wrong power for the day", r)
		}
	}
	for name, least := range map[string]int{"PIER": 100, "JETTY": 100, "GLACER": 3, "TRAWLER": 20, "ICEFIELD": 10, "SCHOOL": 1000, "OUTPOST": 300} {
		if count[name] < least {
			t.Errorf("%s is heard %d times, want %d or more", name, count[name], least)
		}
	}
}

// The share decoded is what the truth says, by bins of chance and in all, over
// the histories of three seeds. The disturbed evening is left out. Each history
// has a net-wide part that shifts all links for a day or so, about 1 dB over its
// two weeks: some 0.025 in the middle bins over three.
func TestShareDecodedMatchesTruth(t *testing.T) {
	var total tally
	for seed := range uint64(3) {
		s := New()
		s.Seed += seed
		truth, err := NewTruth(s)
		if err != nil {
			t.Fatal(err)
		}
		truth.count(&total)
	}
	var all, expected, decoded float64
	for b := range total.n {
		n, e, d := total.n[b], total.expected[b], total.decoded[b]
		t.Logf("%3d %% to %3d %%: %6.0f opportunities, %.3f expected, %.3f decoded", 10*b, 10*b+10, n, e/n, d/n)
		if n < 500 || math.Abs(e-d)/n > 0.05 {
			t.Errorf("bin %d: %.0f opportunities, %.3f expected, %.3f decoded", b, n, e/n, d/n)
		}
		all, expected, decoded = all+n, expected+e, decoded+d
	}
	if math.Abs(expected-decoded)/all > 0.025 {
		t.Errorf("%.3f expected, %.3f decoded", expected/all, decoded/all)
	}
}

// tally counts opportunities by the true chance, in ten bins.
type tally struct{ n, expected, decoded [10]float64 }

// count draws the log and adds every opportunity at planned power outside the
// disturbed evening.
func (t *Truth) count(into *tally) {
	type key struct{ at, receiver, sender int64 }
	heard := make(map[key]bool)
	for _, r := range t.Observations() {
		heard[key{r.At.Unix(), int64(t.station(r.Receiver)), int64(t.station(r.Sender))}] = true
	}
	sent := t.Transmissions()
	slots := senders(sent)
	for _, x := range sent {
		if t.Scenario.Evening.Spell.Holds(x.At) || x.PowerW != t.all[x.Station].PowerW {
			continue
		}
		for r := range t.Scenario.Stations {
			if _, busy := slots[x.At.Unix()][r]; busy || t.absent(r, x.At) || !t.Watches(r, x.Channel, x.At) {
				continue
			}
			chance := t.Decode(x.Station, r, x.Channel, x.At)
			bin := min(int(10*chance), 9)
			into.n[bin]++
			into.expected[bin] += chance
			if heard[key{x.At.Unix(), int64(r), int64(x.Station)}] {
				into.decoded[bin]++
			}
		}
	}
}
