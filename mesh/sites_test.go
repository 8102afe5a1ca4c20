package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"farhop/mesh/link"
)

// siteWorld is a net with a truth: path losses that are the same both ways, with a
// curve over the day and fluctuations, powers, receiving offsets, and how much the
// directions of a pair differ beyond these. The last station listens elsewhere while
// the second half of the others send.
type siteWorld struct {
	net     *Net
	offsets []float64
	level   [][]float64 // dB at 1 W and offset 0, and over the day:
	wave    [][]float64
	hour    [][]float64
	odd     [][]float64 // from, to; the opposite sign back
}

// siteLaw says how a world is drawn.
type siteLaw struct {
	members, days int
	oddDB         float64 // standard deviation of what directions differ by
}

func drawSites(t testing.TB, law siteLaw, r *rand.Rand) *siteWorld {
	t.Helper()
	w := &siteWorld{net: &Net{Slots: DefaultSlots(), Channels: []Channel{{Name: "day", Frequency: dayHz}}}}
	table := func(draw func() float64, back float64) [][]float64 {
		m := make([][]float64, law.members)
		for i := range m {
			m[i] = make([]float64, law.members)
			for j := range i {
				m[i][j] = draw()
				m[j][i] = back * m[i][j]
			}
		}
		return m
	}
	for i := range law.members {
		w.net.Stations = append(w.net.Stations, Station{Call: string(rune('A' + i)), PowerW: math.Pow(10, 0.5+r.Float64()), Watch: WatchAll})
		w.offsets = append(w.offsets, 4*r.NormFloat64())
	}
	w.net.Stations[law.members-1].Watch = WatchHeard
	w.level = table(func() float64 { return -15 + 5*r.NormFloat64() }, 1)
	w.wave = table(func() float64 { return 5 * r.Float64() }, 1)
	w.hour = table(func() float64 { return 24 * r.Float64() }, 1)
	w.odd = table(func() float64 { return law.oddDB / 2 * r.NormFloat64() }, -1)
	prepared(t, w.net)
	return w
}

// snr is what one station hears of another on average.
func (w *siteWorld) snr(from, to int, unix int64) float64 {
	h := float64(unix%86400) / 3600
	return w.level[from][to] + w.wave[from][to]*math.Cos(2*math.Pi*(h-w.hour[from][to])/24) +
		10*math.Log10(w.net.Stations[from].PowerW) + w.offsets[to] + w.odd[from][to]
}

// log draws reports: every station sends four times an hour.
func (w *siteWorld) log(days int, r *rand.Rand) []row {
	const fastDB, slowDB, slotDB = 6, 5, 3.5
	members := len(w.offsets)
	keep := func(hours float64) (float64, float64) {
		k := math.Exp(-0.25 / hours)
		return k, math.Sqrt(1 - k*k)
	}
	fastKeep, fastNew := keep(1)
	slowKeep, slowNew := keep(20)
	fast, slow := make([]float64, members*members), make([]float64, members*members)
	for i := range fast {
		fast[i], slow[i] = r.NormFloat64(), r.NormFloat64()
	}
	var rows []row
	for k := range int64(days * 96) {
		for i := range fast {
			fast[i], slow[i] = fastKeep*fast[i]+fastNew*r.NormFloat64(), slowKeep*slow[i]+slowNew*r.NormFloat64()
		}
		for from := range members {
			unix := at(0, 0, 0) + k*900 + int64(from)*80
			for to := range members {
				if from == to {
					continue
				}
				if to == members-1 && from >= members/2 {
					rows = append(rows, row{unix: unix, hz: otherHz, receiver: w.net.Stations[to].Call, sender: "X", snr: -3})
					continue
				}
				path := max(from, to)*members + min(from, to)
				z := w.snr(from, to, unix) + fastDB*fast[path] + slowDB*slow[path] + slotDB*r.NormFloat64()
				if r.Float64() < link.Phi((z-w.net.Slots.HalfDecodeDB)/w.net.Slots.SpreadDB) {
					rows = append(rows, row{unix: unix, hz: dayHz, receiver: w.net.Stations[to].Call, sender: w.net.Stations[from].Call, snr: float32(z)})
				}
			}
		}
	}
	return rows
}

// covers reports whether so many of n are 85 to 95 %, give or take the standard error of
// such a share.
func covers(within, n float64) bool {
	return math.Abs(within/n-0.9) <= 0.05+math.Sqrt(0.9*0.1/n)
}

// typical is the middle of some figures that far-off ones don't shift: each counts as at
// most 3 from it.
func typical(list []float64) (m float64) {
	sorted := slices.Sorted(slices.Values(list))
	m = sorted[len(sorted)/2]
	for range 1000 {
		for _, x := range list {
			m += min(max(x-m, -3), 3) / float64(10*len(list))
		}
	}
	return m
}

// TestOffsetsFromTruth holds the estimated offsets against those the reports were
// made from: their errors are as large as stated, whether paths are the same both
// ways or nearly so.
func TestOffsetsFromTruth(t *testing.T) {
	for _, tt := range []struct {
		name  string
		law   siteLaw
		seeds int
	}{
		{"the same both ways", siteLaw{members: 8, days: 6}, 24},
		{"1.5 dB apart", siteLaw{members: 8, days: 6, oddDB: 1.5}, 24},
		{"4 dB apart", siteLaw{members: 8, days: 6, oddDB: 4}, 24},
		{"four stations, 3 dB apart", siteLaw{members: 4, days: 6, oddDB: 3}, 60},
		{"a day", siteLaw{members: 8, days: 2, oddDB: 1}, 40},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var square, stated, within, n float64
			for seed := range tt.seeds {
				r := rand.New(rand.NewPCG(uint64(seed), 3))
				w := drawSites(t, tt.law, r)
				l := learn(t, w.net, makeLog(w.log(tt.law.days, r)), at(0, 0, 0)+int64(tt.law.days)*86400)
				groups := make(map[int][]float64)
				for _, s := range l.Sites() {
					groups[s.Group] = append(groups[s.Group], w.offsets[s.Station])
				}
				for _, s := range l.Sites() {
					z := (s.OffsetDB - (w.offsets[s.Station] - typical(groups[s.Group]))) / s.SDDB
					square += z * z
					stated += s.SDDB
					n++
					if math.Abs(z) < 1.645 {
						within++
					}
				}
			}
			spread := math.Sqrt(square / n)
			t.Logf("%.0f offsets, stated ± %.2f dB on average: errors spread %.2f times that, %.0f %% within the 90 %% interval", n, stated/n, spread, 100*within/n)
			if n < 0.8*float64(tt.seeds*tt.law.members) || !(spread > 0.7 && spread < 1.3) || !covers(within, n) {
				t.Errorf("%.0f offsets, errors spread %.2f, %.0f %% within the 90 %% interval", n, spread, 100*within/n)
			}
		})
	}
}

// Links that nobody listened to are inferred from the opposite direction, with the
// power and the offsets of their ends, and as near the truth as they say.
func TestInferredFromTruth(t *testing.T) {
	var square, n float64
	for seed := range 20 {
		r := rand.New(rand.NewPCG(uint64(seed), 5))
		law := siteLaw{members: 8, days: 6, oddDB: 4}
		w := drawSites(t, law, r)
		l := learn(t, w.net, makeLog(w.log(law.days, r)), at(0, 0, 0)+int64(law.days)*86400)
		last := law.members - 1
		for from := law.members / 2; from < last; from++ {
			for h := int64(0); h < 24; h += 6 {
				unix := l.At() + h*3600
				e, ok := l.Edge(from, last, 0, unix)
				back := edge(t, l, last, from, 0, unix)
				if !ok || e.Inferred != back.Known || e.Reports+e.Misses != 0 || e.Known != back.Known {
					t.Fatalf("seed %d: %+v from %+v", seed, e, back)
				}
				if !e.Inferred {
					continue
				}
				if math.Abs(e.SD-math.Hypot(back.SD, InferredSDDB)) > 1e-9 || e.Newest == 0 {
					t.Errorf("seed %d: %+v from %+v", seed, e, back)
				}
				z := (e.Climate - w.snr(from, last, unix)) / e.ClimateSD
				square += z * z
				n++
			}
		}
	}
	spread := math.Sqrt(square / n)
	t.Logf("%.0f inferred links: errors spread %.2f times what they say", n, spread)
	if n < 150 || spread < 0.3 || spread > 1.1 {
		t.Errorf("%.0f inferred links: errors spread %.2f times what they say", n, spread)
	}
}

// Sites are told against the typical one: a bad one doesn't lift all others, nor do two
// that are far apart fail to have a middle.
func TestOneBadSiteLiftsNobody(t *testing.T) {
	solved := func(truth ...float64) siteOffsets {
		n := len(truth)
		o := siteOffsets{make([]float64, n), make([]float64, n), make([]int, n), make([]int, n)}
		var pairs []bothWays
		for a := range n {
			for b := range a {
				pairs = append(pairs, bothWays{int32(b), int32(a), truth[a] - truth[b], 0.5})
				o.links[a]++
				o.links[b]++
			}
		}
		o.solve(pairs)
		return o
	}
	sound := []float64{0, 1, -1, 0.5, -0.5, 2, -2}
	without, with := solved(sound...), solved(append(sound, -40)...)
	for i := range sound {
		if math.Abs(without.db[i]-sound[i]) > 0.1 || math.Abs(with.db[i]-without.db[i]) > 0.6 {
			t.Errorf("station %d: %+.2f dB, with a bad one beside it %+.2f", i, without.db[i], with.db[i])
		}
		if !(with.sd[i] > 0.1 && with.sd[i] < 2) {
			t.Errorf("station %d: ± %.2f dB", i, with.sd[i])
		}
	}
	if bad := with.db[len(sound)]; bad > -38 || bad < -42 {
		t.Errorf("the bad one: %+.2f dB", bad)
	}
	if two := solved(10, -10); math.Abs(two.db[0]-10) > 1 || math.Abs(two.db[0]+two.db[1]) > 1e-6 || !(two.sd[0] > 0.1) {
		t.Errorf("two alone: %v ± %v", two.db, two.sd)
	}
}
