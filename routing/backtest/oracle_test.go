package backtest

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/mesh"
	"farhop/mesh/link"
)

// said is one forecast by every way, and what came of it.
type said struct {
	chances [ModelCount]float64
	decoded bool
}

// plainly forecasts a link's opportunities straight from the definitions: for
// each one anew, from the list of what may be known.
func plainly(m *link.Model, entries []mesh.Entry, ahead, from int64) (list []said) {
	for _, e := range entries {
		if !e.Opportunity() || e.Unix < from {
			continue
		}
		var known []mesh.Entry
		for _, k := range entries {
			if k.Told <= e.Unix-ahead && k.Told < e.Unix {
				known = append(known, k)
			}
		}
		state := m.NewState()
		for i := range known {
			known[i].Update(m, state)
		}
		known = slices.DeleteFunc(known, func(k mesh.Entry) bool { return !k.Opportunity() })
		f := m.Forecast(state, e.Unix)
		noise := math.Hypot(m.Settings().SlotSD, m.Settings().SpreadDB)
		margin := f.SNR - m.Settings().HalfDecodeDB - float64(e.Raise)
		s := said{decoded: e.Kind == mesh.EventReport}
		s.chances[Model] = 0.5 * math.Erfc(-margin/math.Hypot(f.SD, noise)/math.Sqrt2)
		count := func(weight func(k mesh.Entry) float64) (decodes, all float64) {
			for _, k := range known {
				w := weight(k)
				all += w
				if k.Kind == mesh.EventReport {
					decodes += w
				}
			}
			return decodes, all
		}
		d, n := count(func(mesh.Entry) float64 { return 1 })
		base := (d + 0.5) / (n + 1)
		d, n = count(func(k mesh.Entry) float64 { return math.Exp(-float64(e.Unix-k.Unix) / 3600) })
		recent := (d + base) / (n + 1)
		hour := func(unix int64) int { return time.Unix(unix, 0).UTC().Hour() }
		d, n = count(func(k mesh.Entry) float64 {
			if hour(k.Unix) == hour(e.Unix) {
				return 1
			}
			return 0
		})
		byHour := (d + 2*base) / (n + 2)
		logit := func(p float64) float64 {
			p = min(max(p, 0.01), 0.99)
			return math.Log(p) - math.Log(1-p)
		}
		both := logit(byHour) + math.Exp(-float64(ahead)/3/3600)*(logit(recent)-logit(base))
		s.chances[BaseRate], s.chances[Recent], s.chances[HourOfDay] = base, recent, byHour
		s.chances[HourAndRecent] = 1 / (1 + math.Exp(-both))
		for i := range s.chances {
			s.chances[i] = min(max(s.chances[i], 0.001), 0.999)
		}
		list = append(list, s)
	}
	return list
}

// plainScore scores one way of a list of forecasts from the definitions.
func plainScore(list []said, way int) (s Score) {
	type bin struct{ n, sum, seen float64 }
	bins := map[int]bin{}
	for _, f := range list {
		p, hit := f.chances[way], 0.0
		if f.decoded {
			hit = 1
			s.LogLoss -= math.Log(p)
		} else {
			s.LogLoss -= math.Log(1 - p)
		}
		s.Brier += (p - hit) * (p - hit)
		k := int(10 * (p + 1e-9)) // a chance on an edge belongs to the bin above, whatever its last bits
		bins[k] = bin{bins[k].n + 1, bins[k].sum + p, bins[k].seen + hit}
	}
	n := float64(len(list))
	s.Brier /= n
	s.LogLoss /= n
	for _, b := range bins {
		s.CalibrationError += math.Abs(b.sum-b.seen) / n
	}
	return s
}

// someEntries draws a link's history with everything that may be in one.
func someEntries(t *rapid.T) (list []mesh.Entry) {
	unix := int64(1_772_409_600)
	told := unix
	for range rapid.IntRange(0, 25).Draw(t, "entries") {
		unix += int64(rapid.SampledFrom([]int{0, 60, 600, 3000, 40_000}).Draw(t, "gap"))
		e := mesh.Entry{
			Unix: unix, Told: unix, Kind: mesh.EventKind(rapid.SampledFrom([]int{0, 0, 1, 2, 2, 3, 4, 5}).Draw(t, "kind")),
			Value: float32(rapid.IntRange(-32, 0).Draw(t, "snr")),
		}
		switch {
		case !e.Kind.Evidence():
			e.Value = 0.5
		case rapid.Bool().Draw(t, "weaker"):
			e.Raise = 3
		}
		if e.Kind == mesh.EventMiss && rapid.IntRange(0, 9).Draw(t, "claimed") == 0 {
			e.Unix -= 500
			e.Told = max(e.Told, told)
		}
		told = max(told, e.Told)
		list = append(list, e)
	}
	return list
}

func TestAgainstDefinitions(t *testing.T) {
	m, err := link.NewModel(link.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	forecasts := 0
	rapid.Check(t, func(t *rapid.T) {
		n := &mesh.Net{Link: link.Defaults()}
		h := &mesh.History{First: math.MaxInt64, Last: math.MinInt64}
		for range rapid.IntRange(1, 4).Draw(t, "links") {
			h.Links = append(h.Links, someEntries(t))
			for _, e := range h.Links[len(h.Links)-1] {
				h.First, h.Last = min(h.First, e.Unix), max(h.Last, e.Unix)
			}
		}
		o := Options{
			Horizons:   []time.Duration{0, time.Hour, 12 * time.Hour},
			MinReports: rapid.IntRange(0, 6).Draw(t, "least"), ScoreFrom: From(h),
		}
		r, err := Run(context.Background(), n, h, o)
		if err != nil {
			t.Fatal(err)
		}
		for k, ahead := range o.Horizons {
			var all []said
			for _, entries := range h.Links {
				reports := 0
				for _, e := range entries {
					if e.Kind == mesh.EventReport || e.Kind == mesh.EventUnwitnessed {
						reports++
					}
				}
				if reports >= o.MinReports {
					all = append(all, plainly(m, entries, int64(ahead/time.Second), o.ScoreFrom)...)
				}
			}
			z := r.Horizons[k]
			if z.Forecasts != len(all) {
				t.Fatalf("%v ahead: %d forecasts, want %d", ahead, z.Forecasts, len(all))
			}
			if len(all) == 0 {
				continue
			}
			forecasts += len(all)
			for way := range z.Models {
				got, want := z.Models[way], plainScore(all, way)
				if math.Abs(got.Brier-want.Brier) > 1e-9 || math.Abs(got.LogLoss-want.LogLoss) > 1e-9 ||
					math.Abs(got.CalibrationError-want.CalibrationError) > 1e-9 {
					t.Fatalf("%v ahead, %s: %+v, want %+v", ahead, Names[way], got, want)
				}
				if d := z.Differences[way].Value; math.Abs(d-(z.Models[Model].Brier-got.Brier)) > 1e-9 {
					t.Fatalf("difference %v to %s", d, Names[way])
				}
			}
			checkParts(t, &z)
		}
	})
	if forecasts < 1000 {
		t.Errorf("only %d forecasts were compared", forecasts)
	}
}

// checkParts: hours, freshness, links, known and unknown each make up the whole.
func checkParts(t *rapid.T, z *Horizon) {
	groups := map[string][]Group{
		"hours": z.Hours[:], "freshness": z.Freshness[:], "known and unknown": {z.Known, z.Unknown},
	}
	for _, l := range z.Links {
		groups["links"] = append(groups["links"], l.Group)
	}
	for name, list := range groups {
		n, brier, seen := 0, 0.0, 0.0
		for _, g := range list {
			n += g.Forecasts
			brier += float64(g.Forecasts) * g.Brier[HourOfDay]
			seen += float64(g.Forecasts) * g.Seen
		}
		all := float64(z.Forecasts)
		if n != z.Forecasts || math.Abs(brier/all-z.Models[HourOfDay].Brier) > 1e-9 || math.Abs(seen/all-z.Seen) > 1e-9 {
			t.Fatalf("%s: %d of %d forecasts, Brier %v of %v", name, n, z.Forecasts, brier/all, z.Models[HourOfDay].Brier)
		}
	}
}
