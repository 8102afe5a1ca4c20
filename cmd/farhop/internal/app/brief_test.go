package app

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"farhop/cmd/farhop/internal/view"
)

// load is a session over a plan given as text.
func load(t *testing.T, plan, at string) *Session {
	t.Helper()
	r := DefaultRequest()
	r.Plan, r.At = filepath.Join(t.TempDir(), "plan.yaml"), at
	if err := os.WriteFile(r.Plan, []byte(plan), 0o600); err != nil {
		t.Fatal(err)
	}
	return loaded(t, r)
}

func loaded(t *testing.T, r Request) *Session {
	t.Helper()
	s, err := Load(context.Background(), r, Environment{Now: time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// example is the worked example at its newest report.
func example(t *testing.T) *Session {
	t.Helper()
	r := DefaultRequest()
	r.Plan, r.Observations, r.At = "../../../../examples/aysen/plan.yaml", []string{"../../../../examples/aysen/observations.csv.gz"}, "newest"
	return loaded(t, r)
}

func brief(t *testing.T, s *Session) *view.Brief {
	t.Helper()
	v, err := s.Brief(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

const twoStations = `net: two
slots: {length: 40s, keyed: 34s, characters: 18, rounds: 6, block_frames: 10, half_decode_snr_db: -16, decode_spread_db: %g, busy: 0.1}
channels: [{name: day, frequency_hz: 7131000, windows: ["%s"]}]
stations: [{call: A, locator: FE34, power_w: 20}, {call: B, locator: FE35, power_w: 20}]
links:
  - {from: A, to: B, channel: day, snr_db: %d, snr_sd_db: %g}
  - {from: B, to: A, channel: day, snr_db: %d, snr_sd_db: %g}
`

// The table for choosing by hand says what 'route' says of a hop with such an SNR both
// ways, as sure as a fresh report makes it, whose slots scatter like estimated ones.
func TestHandIsWhatRouteSays(t *testing.T) {
	const at = "2026-03-02T18:00:00Z"
	s := load(t, fmt.Sprintf(twoStations, 1.5, "00:00-24:00", 0, 4.0, 0, 4.0), at)
	hand, err := s.hand()
	if err != nil {
		t.Fatal(err)
	}
	scatter := math.Hypot(1.5, s.net.Link.SlotSD)
	compared, refused := 0, 0
	for i, snr := range hand.SNRDB {
		if i%2 == 1 {
			continue
		}
		r := load(t, fmt.Sprintf(twoStations, scatter, "00:00-24:00", snr, hand.SDDB, snr, hand.SDDB), at)
		for c, characters := range hand.Characters {
			r.req.From, r.req.To, r.req.Characters, r.req.Deadline = "A", "B", characters, "12h"
			routes, err := r.Route(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			want := routes[0].Chains[0].P80Minutes
			switch got := hand.Minutes[i][c]; {
			case got == nil && want == nil:
				refused++
			case got == nil || want == nil || math.Abs(*got-*want) > 1e-9:
				t.Errorf("%d characters at %d dB: %v by hand, %v by route", characters, snr, number(got), number(want))
			default:
				compared++
			}
		}
	}
	if compared < 8 || refused < 2 {
		t.Errorf("only %d times and %d refusals compared", compared, refused)
	}
	for c := range hand.Characters {
		for i := 1; i < len(hand.SNRDB); i++ {
			better, worse := hand.Minutes[i-1][c], hand.Minutes[i][c]
			if better == nil && worse != nil || better != nil && worse != nil && *worse < *better {
				t.Errorf("column %d gets quicker at %d dB", c, hand.SNRDB[i])
			}
		}
	}
}

func number(f *float64) string {
	if f == nil {
		return "none"
	}
	return fmt.Sprint(*f)
}

// Where only windows end, a sheet is stale when they do; where nothing does, never.
func TestStaleAtTheEndOfWindows(t *testing.T) {
	for window, want := range map[string]string{"17:00-21:10": "2026-03-02T21:15:00Z", "17:00-21:00": "2026-03-02T21:00:00Z", "00:00-24:00": ""} {
		v := brief(t, load(t, fmt.Sprintf(twoStations, 1.5, window, -5, 4.0, -5, 4.0), "2026-03-02T18:00:00Z"))
		got := ""
		if at := v.Sheets[0].Plans[0].Stale.At; at != nil {
			got = at.Format(time.RFC3339)
		}
		if got != want {
			t.Errorf("window %s: stale at %q, want %q", window, got, want)
		}
	}
	// A sheet made in the last minutes before its window ends isn't good for a day more.
	v := brief(t, load(t, fmt.Sprintf(twoStations, 1.5, "17:00-21:00", -5, 4.0, -5, 4.0), "2026-03-02T20:52:00Z"))
	if at := v.Sheets[0].Plans[0].Stale.At; at == nil || at.Format(time.RFC3339) != "2026-03-02T21:00:00Z" {
		t.Errorf("made at 20:52: stale at %v, want 21:00", at)
	}
}

// On the worked example the parts of the sheets agree with the answers they are taken
// from: next hops and give-up times with 'route', staleness and hours with the links.
func TestSheetsAgreeWithOtherAnswers(t *testing.T) {
	s := example(t)
	v := brief(t, s)
	if len(v.Sheets) != 18 || v.Stale.At == nil {
		t.Fatalf("%d sheets, stale %v", len(v.Sheets), v.Stale.At)
	}
	for _, call := range []string{"HARBOR", "OUTPOST"} {
		i := slices.IndexFunc(v.Sheets, func(x view.Sheet) bool { return x.Member.Call == call })
		sheet := &v.Sheets[i]
		for k := range sheet.Plans[0].Destinations {
			if d := &sheet.Plans[0].Destinations[k]; d.Next != nil && k%3 == 0 {
				sameAsRoute(t, s, sheet, d)
			}
		}
		staleByHand(t, s, sheet)
		hoursByHand(t, s, sheet)
	}
}

func sameAsRoute(t *testing.T, s *Session, sheet *view.Sheet, d *view.Destination) {
	t.Helper()
	s.req.From, s.req.To = sheet.Member.Call, d.To
	routes, err := s.Route(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	c := &routes[0].Chains[0]
	if !slices.Equal(c.Stations, d.Chain) || math.Abs(c.DeliveredByDeadline-d.Delivered) > 1e-9 || *d.Next != c.Stations[1] {
		t.Errorf("%s → %s: %v (%g) on the sheet, %v (%g) by route", s.req.From, d.To, d.Chain, d.Delivered, c.Stations, c.DeliveredByDeadline)
	}
	if got, want := *d.GiveUpMinutes, c.Hops[0].GiveUpAt.Sub(s.at).Minutes(); math.Abs(got-want) > 1e-6 {
		t.Errorf("%s → %s: given up after %g min on the sheet, %g by route", s.req.From, d.To, got, want)
	}
}

// staleByHand finds the moment by looking at every quarter of an hour anew.
func staleByHand(t *testing.T, s *Session, sheet *view.Sheet) {
	t.Helper()
	for _, p := range sheet.Plans {
		own, _ := s.net.Find(sheet.Member.Call)
		begun, spent := map[string]bool{}, map[string]bool{} // a window still to open doesn't count
		stale := time.Time{}
		next := 0
		for at := p.From.Truncate(15 * time.Minute).Add(15 * time.Minute); stale.IsZero() && !at.After(p.From.Add(48*time.Hour)); at = at.Add(15 * time.Minute) {
			next = 0
			for _, d := range p.Destinations {
				if d.Next == nil {
					continue
				}
				next++
				to, _ := s.net.Find(*d.Next)
				ch, _ := s.net.FindChannel(d.Channel)
				before, _ := s.links.Edge(own, to, ch, p.From.Unix())
				e, ok := s.links.Edge(own, to, ch, at.Unix())
				holds := ok && e.Known && !e.Inferred && e.Decode >= before.Decode/2
				open := s.net.OpenSlot(own, to, ch, s.net.Slots.Start(at.Unix()))
				if begun[d.To] = begun[d.To] || open; begun[d.To] && !(holds && open) {
					spent[d.To] = true
				}
			}
			if 2*len(spent) >= next {
				stale = at
			}
		}
		if p.Stale.NextHop != next || p.Stale.At == nil || !p.Stale.At.Equal(stale) {
			t.Errorf("%s from %v: stale at %v with %d next hops, by hand at %v with %d", sheet.Member.Call, p.From, p.Stale.At, p.Stale.NextHop, stale, next)
		}
	}
}

// hoursByHand looks the hours up channel by channel.
func hoursByHand(t *testing.T, s *Session, sheet *view.Sheet) {
	t.Helper()
	own, _ := s.net.Find(sheet.Member.Call)
	looked := 0
	for _, n := range sheet.Neighbours {
		other, _ := s.net.Find(n.Call)
		for h, mark := range n.Heard.Hours {
			middle := sheet.From.Truncate(time.Hour).Add(time.Duration(h)*time.Hour + 30*time.Minute).Unix()
			for ch := range s.net.Channels {
				if !s.net.OpenSlot(other, own, ch, s.net.Slots.Start(middle)) {
					continue
				}
				e, _ := s.links.Edge(other, own, ch, middle)
				looked++
				switch {
				case e.Known && (mark.State != view.CellOpen || mark.Decode < e.Decode):
					t.Errorf("%s hears %s in hour %d: %+v, on %s %g", sheet.Member.Call, n.Call, h, mark, s.net.Channels[ch].Name, e.Decode)
				case !e.Known && mark.State == view.CellNone:
					t.Errorf("%s and %s both listen in hour %d", sheet.Member.Call, n.Call, h)
				}
			}
		}
	}
	if looked < 50 {
		t.Errorf("only %d hours looked at", looked)
	}
}

// The moment of printing is left open unless it is known.
func TestPrinted(t *testing.T) {
	plan := fmt.Sprintf(twoStations, 1.5, "00:00-24:00", -5, 4.0, -5, 4.0)
	for _, x := range []struct{ at, printed, want string }{
		{"now", "", "2026-03-02T18:00:00Z"},
		{"2026-03-02T20:00:00Z", "", ""},
		{"2026-03-02T20:00:00Z", "now", "2026-03-02T18:00:00Z"},
		{"2026-03-02T20:00:00Z", "2026-03-02T20:05:00+01:00", "2026-03-02T19:05:00Z"},
	} {
		s := load(t, plan, x.at)
		s.req.Printed = x.printed
		got := ""
		if p := brief(t, s).Printed; p != nil {
			got = p.Format(time.RFC3339)
		}
		if got != x.want {
			t.Errorf("at %s, printed %q: %q, want %q", x.at, x.printed, got, x.want)
		}
	}
	s := load(t, plan, "now")
	s.req.Printed = "noon"
	if _, err := s.Brief(context.Background()); err == nil || !strings.Contains(err.Error(), "noon") {
		t.Errorf("noon: %v", err)
	}
}
