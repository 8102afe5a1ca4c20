package timetable

import (
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"farhop/mesh"
)

// heed makes the change that a piece of advice names; the kind is the word it
// is counted by.
func heed(t *testing.T, advice string, m *mesh.Message, o *Options) (kind string) {
	t.Helper()
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatalf("%q: %v", advice, err)
		}
		return v
	}
	advice, _, _ = strings.Cut(advice, " (all but ")
	words := strings.Fields(advice)
	switch {
	case strings.HasPrefix(advice, "a deadline of "):
		at, err := time.Parse("2006-01-02 15:04:05Z", words[3]+" "+words[4])
		if err != nil {
			t.Fatal(err)
		}
		m.Deadline = at
		if len(words) > 7 {
			o.Horizon = time.Duration(number(words[len(words)-2])) * time.Hour
			return "horizon"
		}
		return "deadline"
	case strings.HasPrefix(advice, "a horizon of "):
		o.Horizon = time.Duration(number(words[3])) * time.Hour
		return "horizon alone"
	case strings.HasPrefix(advice, "half the length, "):
		m.Characters = int(number(words[3]))
		return "length"
	case strings.HasPrefix(advice, "precedence "):
		for level := mesh.Emergency; level <= mesh.Routine; level++ {
			if level.String() == words[1] {
				m.Precedence = level
			}
		}
		return "precedence"
	case strings.HasPrefix(advice, "a margin of "):
		o.Margin = number(words[3])
		return "margin"
	case advice == "no catch-up blocks":
		o.CatchUp = NoCatchUp
	case advice == "no quiet hours":
		o.AnyHour = true
	case advice == "no duty limits":
		o.AnyDuty = true
	default:
		t.Fatalf("no such advice: %q", advice)
	}
	return advice
}

// limitedNet is such a net with quiet hours and limits of duty.
func limitedNet(t *testing.T, seed uint64) (*mesh.Net, *mesh.Links) {
	n, _ := randomNet(t, seed, 12)
	quiet, _ := mesh.ParseWindows([]string{"09:00-12:00"})
	for i := range n.Stations {
		if i%3 == 0 {
			n.Stations[i].Quiet, n.Stations[i].DutyLimit = quiet, 0.1
		}
	}
	return prepared(t, n)
}

// Whatever would make a message fit, does: the whole list planned anew with just
// that change has it through in time.
func TestAdviceIsTrue(t *testing.T) {
	counts := map[string]int{}
	for seed := range uint64(4) {
		n, links := limitedNet(t, seed)
		list := randomTraffic(rand.New(rand.NewPCG(seed, 12)), 12, 20)
		for i := range list {
			if i%2 == 0 {
				list[i].Ready = start.Add(time.Hour)
			}
			list[i].Deadline = list[i].Ready.Add(time.Hour)
		}
		o := Options{Horizon: 20 * time.Hour, Start: start.Unix()}
		made := mustMake(t, n, links, list, o)
		for m := range made.Messages {
			v := &made.Messages[m]
			if v.Fits && len(v.Changes) > 0 || v.Fits != (v.WhyNot == "") {
				t.Errorf("%s fits %v: why not %q, changes %q", list[m].ID, v.Fits, v.WhyNot, v.Changes)
			}
			for _, advice := range v.Changes {
				changed, with := append([]mesh.Message(nil), list...), o
				counts[heed(t, advice, &changed[m], &with)]++
				if again := mustMake(t, n, links, changed, with); !again.Messages[m].Fits {
					t.Errorf("seed %d: %s does not fit with %s: %s", seed, list[m].ID, advice, again.Messages[m].WhyNot)
				}
			}
		}
	}
	t.Log(counts)
	for _, kind := range []string{"deadline", "horizon", "length", "precedence", "margin", "no catch-up blocks", "no quiet hours", "no duty limits"} {
		if counts[kind] == 0 {
			t.Errorf("no advice of the kind '%s': the test shows nothing of it", kind)
		}
	}
}

// What keeps a single message from fitting is told.
func TestWhyNot(t *testing.T) {
	for _, c := range []struct {
		says   string
		change func(n *mesh.Net, m *mesh.Message)
	}{
		{"", func(*mesh.Net, *mesh.Message) {}},
		{"no usable chain", func(n *mesh.Net, m *mesh.Message) { n.Fixed = nil }},
		{"C → F gets through with", func(n *mesh.Net, m *mesh.Message) { n.Slots.Rounds, m.From, m.To = 1, 2, 5 }},
		{"its deadline is over", func(_ *mesh.Net, m *mesh.Message) { m.Deadline = start.Add(time.Second) }},
		{"quiet hours leave no stretch", func(n *mesh.Net, _ *mesh.Message) {
			n.Limits.Quiet, _ = mesh.ParseWindows([]string{"06:10-11:00"})
			n.Stations[0].Quiet, _ = mesh.ParseWindows([]string{"05:00-06:10"})
		}},
		{"past the duty limit of B, 2 %", func(n *mesh.Net, _ *mesh.Message) { n.Stations[1].DutyLimit = 0.02 }},
		{"hold the stations or the channel", nil},
		{"at a stretch", func(n *mesh.Net, m *mesh.Message) { m.Characters = 1500 }},
	} {
		n, _ := lateNet(t, 2)
		list := []mesh.Message{{ID: "M", From: 0, To: 2, Characters: 60, Deadline: start.Add(4 * time.Hour)}}
		if c.change == nil {
			list[0].Deadline, list[0].To = start.Add(25*time.Minute), 1
			list = append(list, mesh.Message{ID: "N", From: 0, To: 1, Characters: 200, Precedence: mesh.Emergency})
			list[0].Precedence = mesh.Routine
		} else {
			c.change(n, &list[0])
		}
		n, links := prepared(t, n)
		v := mustMake(t, n, links, list, Options{Start: start.Unix()}).Messages[0]
		if v.Fits != (c.says == "") || !strings.Contains(v.WhyNot, c.says) {
			t.Errorf("%q is told as %q", c.says, v.WhyNot)
		}
	}
}

// A hop whose ends have no offset clear of noise in common is not used.
func TestNoiseLeavesNoOffset(t *testing.T) {
	n, _ := lateNet(t, 2)
	n.Stations[0].Noisy = []mesh.Noise{{Channel: 0, OffsetHz: 1000}}
	n.Stations[1].Noisy = []mesh.Noise{{Channel: 0, OffsetHz: 1450}}
	n, links := prepared(t, n)
	list := []mesh.Message{{ID: "M", From: 0, To: 1, Characters: 60}, {ID: "N", From: 1, To: 2, Characters: 60}}
	made := mustMake(t, n, links, list, Options{Start: start.Unix()})
	if made.Messages[0].Fits || !made.Messages[1].Fits || made.Reservations[0].OffsetHz != 1000 {
		t.Errorf("%+v", made)
	}
}

// Too many messages that don't fit aren't all given advice, and it is said.
func TestAdviceEnds(t *testing.T) {
	n, links := randomNet(t, 2, 12)
	list := randomTraffic(rand.New(rand.NewPCG(2, 12)), 12, 150)
	for i := range list {
		list[i].Deadline = list[i].Ready.Add(40 * time.Minute)
	}
	made := mustMake(t, n, links, list, Options{})
	untried, advised := 0, 0
	for i := range made.Messages {
		if v := &made.Messages[i]; !v.Fits && v.Untried {
			untried++
		}
		advised += len(made.Messages[i].Changes)
	}
	if untried == 0 || advised == 0 {
		t.Errorf("%d not tried, %d changes told", untried, advised)
	}
}

// A message to every member that some have already goes only to the rest, from any
// that have it; nobody is sent it twice.
func TestEveryMemberInPartDone(t *testing.T) {
	for seed := range uint64(5) {
		n, links := randomNet(t, seed, 12)
		whole := []mesh.Message{{ID: "M", From: 0, To: mesh.EveryMember, Characters: 40}}
		first := mustMake(t, n, links, whole, Options{})
		if len(first.Reservations) < 2 {
			continue
		}
		part := append([]mesh.Message(nil), whole...)
		part[0].Has = first.Reservations[0].To
		made := mustMake(t, n, links, part, Options{})
		got := map[int]bool{0: true}
		for _, v := range part[0].Has {
			got[v] = true
		}
		for _, r := range made.Reservations {
			if !got[r.From] {
				t.Errorf("seed %d: %d sends what it hasn't got", seed, r.From)
			}
			for _, v := range r.To {
				if got[v] {
					t.Errorf("seed %d: %d gets it twice", seed, v)
				}
				got[v] = true
			}
		}
		if len(made.Messages[0].Missing)+len(got) != 12 || len(made.Reservations) > len(first.Reservations) {
			t.Errorf("seed %d: %d reached, %v missing; %d reservations after %d", seed, len(got), made.Messages[0].Missing, len(made.Reservations), len(first.Reservations))
		}
	}
}

// A message without a deadline that comes too late for the horizon is told so, and how much
// longer that must be.
func TestAdviceWithoutDeadline(t *testing.T) {
	n, links := randomNet(t, 1, 12)
	m := mesh.Message{ID: "M", From: 0, To: 1, Characters: 40, Precedence: mesh.Routine, Ready: start.Add(25 * time.Hour)}
	v := mustMake(t, n, links, []mesh.Message{m}, Options{}).Messages[0]
	if v.WhyNot != "it is ready only when the time planned for is over" {
		t.Errorf("why: %s", v.WhyNot)
	}
	for _, advice := range v.Changes {
		o := Options{}
		if kind := heed(t, advice, &m, &o); kind != "horizon alone" {
			t.Errorf("%s: %s", kind, advice)
		} else if made := mustMake(t, n, links, []mesh.Message{m}, o).Messages[0]; !made.Fits {
			t.Errorf("%s: %s", advice, made.WhyNot)
		}
	}
	if len(v.Changes) == 0 {
		t.Error("no advice")
	}
}

// What would let a message to all reach more, does, and all but those it names.
func TestAdviceForAllIsTrue(t *testing.T) {
	counts := map[string]int{}
	for seed := range uint64(6) {
		n, links := limitedNet(t, seed)
		for _, m := range []mesh.Message{
			{ID: "M", From: 0, To: mesh.EveryMember, Characters: 200, Precedence: mesh.Routine, Deadline: start.Add(90 * time.Minute)},
			{ID: "M", From: 1, To: mesh.EveryMember, Characters: 900, Precedence: mesh.Welfare, Deadline: start.Add(5 * time.Hour)},
		} {
			before := mustMake(t, n, links, []mesh.Message{m}, Options{}).Messages[0]
			for _, advice := range before.Changes {
				changed, o := m, Options{}
				counts[heed(t, advice, &changed, &o)]++
				made := mustMake(t, n, links, []mesh.Message{changed}, o).Messages[0]
				var names []string
				for _, v := range made.Missing {
					names = append(names, n.Stations[v].Call)
				}
				_, but, _ := strings.Cut(strings.TrimSuffix(advice, ")"), " (all but ")
				if got := strings.Join(names, ", "); got != but || len(made.Missing) >= len(before.Missing) {
					t.Errorf("seed %d: %s: lacks %s, %v before", seed, advice, got, before.Missing)
				}
			}
		}
	}
	t.Log(counts)
	if counts["deadline"] < 1 || counts["length"] < 3 || counts["no duty limits"] < 3 {
		t.Errorf("little advice: %v", counts)
	}
}

// A station to spare relays less.
func TestSpare(t *testing.T) {
	spared := 0
	for seed := range uint64(4) {
		n, links := randomNet(t, seed, 12)
		list := randomTraffic(rand.New(rand.NewPCG(seed, 3)), 12, 25)
		list[4].To = mesh.EveryMember
		before := mustMake(t, n, links, list, Options{})
		relays := relayed(before)
		busiest := 0
		for v := range n.Stations {
			if relays[v] > relays[busiest] {
				busiest = v
			}
		}
		after := mustMake(t, n, links, list, Options{Spare: []int{busiest}})
		now := relayed(after)[busiest]
		if spared += relays[busiest] - now; now > relays[busiest] {
			t.Errorf("seed %d: station %d relays %d times, to be spared %d times", seed, busiest, relays[busiest], now)
		}
	}
	if spared < 4 {
		t.Errorf("only %d times a relay is spared", spared)
	}
}

func relayed(t *Timetable) map[int]int {
	count := map[int]int{}
	for _, m := range t.Messages {
		for i, v := range m.Chain {
			if i > 0 && i < len(m.Chain)-1 {
				count[v]++
			}
		}
	}
	return count
}
