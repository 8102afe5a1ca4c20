package mesh

import (
	"math"
	"reflect"
	"testing"

	"farhop/observations"
)

// replanNet has reports both ways between A and B and one way from A to C.
func replanNet(t *testing.T) (*Net, *Links) {
	t.Helper()
	n := abcNet(t, func(n *Net) {
		n.Stations[0].Locator = "RE44"
		n.Fixed = []FixedLink{
			{From: 2, To: 1, Channel: 1, SNRDB: -12, SNRSDDB: 4},
			{From: 2, To: 0, Channel: 1, Decode: 0.5, HasDecode: true},
		}
		n.Traffic = []Message{{ID: "M1", From: 0, To: 2, Characters: 5}, {ID: "M2", From: 2, To: EveryMember, Characters: 5}, {ID: "M3", From: 1, To: 0, Characters: 5}}
	})
	rows := twoWays(row{receiver: "B", sender: "A", snr: -4, hz: dayHz}, row{receiver: "A", sender: "B", snr: -6, hz: dayHz}, 10)
	for k := range int64(720) {
		rows = append(rows, row{unix: at(0, 0, 0) + k*1200 + 5, receiver: "C", sender: "A", snr: -8, hz: dayHz})
	}
	return n, learn(t, n, makeLog(rows), at(0, 0, 0)+10*86400)
}

func replan(t *testing.T, l *Links, n *Net) *Links {
	t.Helper()
	r, err := l.Replan(prepared(t, n))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestReplanTheSame(t *testing.T) {
	n, l := replanNet(t)
	r := replan(t, l, n.Clone())
	if got, want := allEdges(r, l.At(), l.At()+7200), allEdges(l, l.At(), l.At()+7200); !reflect.DeepEqual(got, want) {
		t.Error("the same plan gives other links")
	}
	if r.Newest() != l.Newest() || r.Place(0) != "RE44" || r.Counts != l.Counts || !r.Estimated() {
		t.Error("what is known of the log has gone")
	}
}

func TestReplanPower(t *testing.T) {
	n, l := replanNet(t)
	c := n.Clone()
	c.Stations[0].PowerW, c.Stations[2].PowerW = 100, 5
	for _, r := range []*Links{replan(t, l, c), replan(t, replan(t, l, n.Clone()), c)} {
		before, after := edge(t, l, 0, 1, 0, l.At()), edge(t, r, 0, 1, 0, l.At())
		if math.Abs(after.SNR-before.SNR-10) > 1e-9 || after.SD != before.SD || after.Decode <= before.Decode || after.Reports != before.Reports {
			t.Errorf("ten times the power: %+v, before %+v", after, before)
		}
		if b, a := edge(t, l, 1, 0, 0, l.At()), edge(t, r, 1, 0, 0, l.At()); a != b {
			t.Errorf("what B sends changes: %+v, before %+v", a, b)
		}
		if e := edge(t, r, 2, 1, 1, l.At()); math.Abs(e.SNR-(-12-10*math.Log10(2))) > 1e-9 {
			t.Errorf("fixed SNR at half power: %+v", e)
		}
		if e := edge(t, r, 2, 0, 1, l.At()); e.Decode != 0.5 {
			t.Errorf("a fixed chance changes: %+v", e)
		}
		// C → A is inferred from A → C, at C's new power and what A sent with.
		b, a := edge(t, l, 2, 0, 0, l.At()), edge(t, r, 2, 0, 0, l.At())
		if !a.Inferred || math.Abs(a.SNR-b.SNR+10*math.Log10(2)) > 1e-9 {
			t.Errorf("inferred at half power: %+v, before %+v", a, b)
		}
	}
}

func TestReplanMove(t *testing.T) {
	n, l := replanNet(t)
	before := allEdges(l, l.At())
	c := n.Clone()
	c.Stations[0].Locator = "RE45" // 111.2 km
	r := replan(t, l, c)
	s := l.records[l.table.find(0, 1, 0)].state.Clone()
	l.model.Move(s, l.At(), 1-6371.0088*math.Pi/180/300)
	want, got := l.model.Forecast(s, l.At()), edge(t, r, 0, 1, 0, l.At())
	if math.Abs(got.SNR-want.SNR) > 1e-9 || math.Abs(got.SD-want.SD) > 1e-9 || got.SD <= edge(t, l, 0, 1, 0, l.At()).SD {
		t.Errorf("moved %+v, want %+v", got, want)
	}
	if !reflect.DeepEqual(allEdges(l, l.At()), before) {
		t.Error("the old links changed")
	}
	if r.Place(0) != "RE45" {
		t.Errorf("A is at %q", r.Place(0))
	}
}

func TestWithout(t *testing.T) {
	n, l := replanNet(t)
	c := n.Without(0)
	if len(c.Stations) != 2 || c.Stations[0].Call != "B" || len(n.Stations) != 3 {
		t.Fatalf("stations %+v", c.Stations)
	}
	if i, ok := c.Find("C"); !ok || i != 1 {
		t.Errorf("C is station %d, %v", i, ok)
	}
	if len(c.Fixed) != 1 || c.Fixed[0].From != 1 || c.Fixed[0].To != 0 {
		t.Errorf("fixed links %+v", c.Fixed)
	}
	if len(c.Traffic) != 1 || c.Traffic[0].ID != "M2" || c.Traffic[0].From != 1 || c.Traffic[0].To != EveryMember {
		t.Errorf("traffic %+v", c.Traffic)
	}
	r := replan(t, l, c)
	got, want := edge(t, r, 0, 1, 0, l.At()), edge(t, l, 1, 2, 0, l.At())
	got.From, got.To = 1, 2
	if got != want {
		t.Errorf("B → C %+v, before %+v", got, want)
	}
	if issues := n.Without(0, 1, 2).Prepare(); len(issues) == 0 {
		t.Error("a net without stations passes")
	}
}

func TestReplanWithANewStation(t *testing.T) {
	n, l := replanNet(t)
	c := n.Clone()
	c.Stations = append(c.Stations, Station{Call: "AA", PowerW: 5})
	r := replan(t, l, c) // A, AA, B, C
	if e := edge(t, r, 0, 2, 0, l.At()); e.Reports != 720 {
		t.Errorf("A → B %+v", e)
	}
	if e := edge(t, r, 1, 0, 0, l.At()); e.Known || e.Reports != 0 {
		t.Errorf("AA → A %+v", e)
	}
	c = n.Clone()
	c.Slots.HalfDecodeDB = -20
	prepared(t, c)
	if _, err := l.Replan(c); err == nil {
		t.Error("another mode passes")
	}
	none := learn(t, n, nil, 0)
	if r, err := none.Replan(n); err != nil || r.Estimated() {
		t.Errorf("without observations: %v", err)
	}
	if l := learn(t, n, &observations.Log{}, 5); l.Estimated() || l.Newest() != 0 {
		t.Error("an empty log estimates")
	}
}
