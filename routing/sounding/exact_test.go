package sounding

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"

	"farhop/mesh"
	"farhop/mesh/link"
)

// tiny nets: slots of a quarter of an hour, so that every timetable can be tried.
const quarter = 15 * time.Minute

// tinyCase has two senders and a receiver who is the coordinator. Links are known to
// different degrees, one may be weak.
func tinyCase(t *testing.T, seed uint64) (*mesh.Net, *fake, Request) {
	rnd := rand.New(rand.NewPCG(seed, 11))
	n := testNet(t, 3, quarter, func(n *mesh.Net) { n.Channels[0].OffsetsHz = nil })
	f := newFake(t, n, -4)
	r := Request{Start: dawn + 6*3600, Horizon: 2 * time.Hour, Gap: quarter, WithinDB: 5.2 + 2.5*rnd.Float64(), Coordinator: 2}
	for _, from := range []int{0, 1} {
		f.know(from, 2, 0, n.Slots.HalfDecodeDB+25*rnd.Float64()-3, r.Start-int64(rnd.IntN(5400)))
	}
	f.know(0, 1, 0, n.Slots.HalfDecodeDB+15, r.Start)
	always(&r, [2]int{0, 2}, [2]int{1, 2})
	return n, f, r
}

// every instant a link is above the limit under some soundings, as one bit each.
func missed(g mesh.Growth, starts []int64, share float64, p *Plan, slot int64) (bits uint64) {
	k := 0
	for at := p.First; at < p.End; at += 900 {
		s := g.State.Clone()
		for _, x := range starts {
			if x+slot <= at {
				g.Model.Expect(s, x, g.Raise, share)
			}
		}
		if g.Model.Forecast(s, at).SD > p.Request.WithinDB+1e-6 {
			bits |= 1 << k
		}
		k++
	}
	return bits
}

// By enumeration of all timetables in which no two stations share a slot: none that
// keeps what the plan keeps has fewer soundings, or keeps more, but hardly ever.
func TestPlanAgainstEnumeration(t *testing.T) {
	equal, sounded, needless, cases := 0, 0, 0, 60
	for seed := range uint64(cases) {
		n, f, r := tinyCase(t, seed)
		p, err := Make(context.Background(), n, f, r)
		if err != nil {
			t.Fatal(err)
		}
		check(t, n, f, p)
		length := int64(quarter / time.Second)
		const slots = 8
		var starts [2][]int64
		for _, s := range p.Soundings {
			starts[s.Station] = append(starts[s.Station], s.Start)
		}
		var masks [2][1 << slots]uint64
		var want [2]uint64
		for v := range 2 {
			g, _ := f.Growth(v, 2, 0)
			want[v] = missed(g, starts[v], 1, p, length)
			for set := range 1 << slots {
				var list []int64
				for k := range slots {
					if set>>k&1 == 1 {
						list = append(list, p.First+int64(k)*length)
					}
				}
				masks[v][set] = missed(g, list, 1, p, length)
			}
		}
		best, more := math.MaxInt, false
		for a := range 1 << slots {
			for b := range 1 << slots {
				if a&b == 0 && masks[0][a]&^want[0] == 0 && masks[1][b]&^want[1] == 0 {
					best = min(best, ones(a)+ones(b))
					more = more || masks[0][a] != want[0] || masks[1][b] != want[1]
				}
			}
		}
		if more {
			needless++
		}
		switch {
		case p.Count < best:
			t.Errorf("seed %d: %d soundings, fewer than enumeration allows, %d", seed, p.Count, best)
		case p.Count > best+1:
			t.Errorf("seed %d: %d soundings where %d do", seed, p.Count, best)
		case p.Count == best:
			equal++
		}
		sounded += p.Count
	}
	t.Logf("as light as can be in %d of %d, %d soundings; more could be kept in %d", equal, cases, sounded, needless)
	if needless > cases/10 {
		t.Errorf("more could be kept in %d of %d", needless, cases)
	}
	if sounded < 2*cases {
		t.Errorf("only %d soundings in %d cases", sounded, cases)
	}
	if equal < cases*9/10 {
		t.Errorf("as light as can be in %d of %d only", equal, cases)
	}
}

func ones(set int) (count int) {
	for ; set != 0; set &= set - 1 {
		count++
	}
	return count
}

// With lists to pass on, by enumeration of all soundings of one station and of who is
// to report each: the airtime is the least, or within a tenth of it.
func TestListsAgainstEnumeration(t *testing.T) {
	equal, reports, cases := 0, 0.0, 12
	for seed := range uint64(cases) {
		rnd := rand.New(rand.NewPCG(seed, 12))
		n := testNet(t, 4, quarter, nil)
		f := newFake(t, n, -4)
		r := Request{Start: dawn + 6*3600, Horizon: 90 * time.Minute, Lists: 45 * time.Minute, Gap: quarter, WithinDB: 5.5 + 2*rnd.Float64(), Coordinator: 3}
		for _, to := range []int{1, 2} {
			f.know(0, to, 0, n.Slots.HalfDecodeDB+5+20*rnd.Float64(), r.Start-int64(rnd.IntN(5400)))
		}
		always(&r, [2]int{0, 1}, [2]int{0, 2})
		straight(n, &r)
		p, err := Make(context.Background(), n, f, r)
		if err != nil {
			t.Fatal(err)
		}
		check(t, n, f, p)
		best := leastAirtime(n, f, p)
		if p.AirtimeSeconds() < best-1e-6 || p.AirtimeSeconds() > 1.1*best+1e-6 {
			t.Errorf("seed %d: %v s, by enumeration %v s", seed, p.AirtimeSeconds(), best)
		}
		if p.AirtimeSeconds() < best+1e-6 {
			equal++
		}
		for _, l := range p.Lists {
			reports += l.Reports
		}
	}
	t.Logf("as light as can be in %d of %d, %.0f reports", equal, cases, reports)
	if reports < 2*float64(cases) {
		t.Errorf("only %v reports in %d cases", reports, cases)
	}
	if equal < cases*2/3 {
		t.Errorf("as light as can be in %d of %d only", equal, cases)
	}
}

// leastAirtime tries every set of reports that each receiver could pass on; a
// slot is sounded in when anybody reports it.
func leastAirtime(n *mesh.Net, f *fake, p *Plan) float64 {
	length := int64(quarter / time.Second)
	slots := int((p.End - p.First) / length)
	type choice struct {
		set     int
		seconds float64
	}
	var fits [3][]choice
	for to := 1; to <= 2; to++ {
		g, _ := f.Growth(0, to, 0)
		var own []int64
		for _, s := range p.Soundings {
			for _, v := range s.For {
				if v == to {
					own = append(own, s.Start)
				}
			}
		}
		want := missed(g, own, 1, p, length)
		for set := range 1 << slots {
			var list []int64
			for k := range slots {
				if set>>k&1 == 1 {
					list = append(list, p.First+int64(k)*length)
				}
			}
			if missed(g, list, 1, p, length)&^want == 0 {
				fits[to] = append(fits[to], choice{set, listAirtime(n, g, list, p)})
			}
		}
	}
	best := math.Inf(1)
	for _, a := range fits[1] {
		for _, b := range fits[2] {
			best = min(best, a.seconds+b.seconds+float64(ones(a.set|b.set))*n.Slots.Keyed.Seconds())
		}
	}
	return best
}

// listAirtime is what the lists with these reports take: for a list, 14 characters
// and a call of 3, for each report 11 and a call of 3, in frames of 18 characters; a
// frame takes 40 s and the list 38 s more.
func listAirtime(n *mesh.Net, g mesh.Growth, starts []int64, p *Plan) float64 {
	characters := [2]float64{}
	s := g.State.Clone()
	for _, x := range starts {
		chance := g.Model.Expect(s, x, g.Raise, 1)
		characters[(x-p.First)/2700] += chance * 14
	}
	sum := 0.0
	for _, c := range characters {
		if c > 0 {
			sum += 40*(math.Ceil((17+math.Ceil(c-1e-9))/18)+float64(n.Slots.Header)) + 38
		}
	}
	return sum
}

// Where every frame decodes, the deviation that a plan promises is that of a Gaussian
// process measured at the soundings, solved as a whole.
func TestDeviationEqualsDenseProcess(t *testing.T) {
	n := testNet(t, 2, 40*time.Second, nil)
	f := newFake(t, n, 0)
	f.states[[3]int{0, 1, 0}], f.raise = f.model.NewState(), -900
	r := Request{Start: dawn + 3600, Horizon: 5 * time.Hour, WithinDB: 8, Coordinator: 1}
	always(&r, [2]int{0, 1})
	p, err := Make(context.Background(), n, f, r)
	if err != nil {
		t.Fatal(err)
	}
	if p.Count < 3 {
		t.Fatalf("only %d soundings", p.Count)
	}
	set := f.model.Settings()
	worst, judged := 0.0, 0
	for at := p.First + 900; at < p.End; at += 900 {
		worst = max(worst, denseSD(set, p, at))
		judged++
	}
	if math.Abs(worst-p.WorstSDDB) > 1e-6 || judged < 10 {
		t.Errorf("the dense process says %v, the plan %v", worst, p.WorstSDDB)
	}
}

// denseSD is the deviation of x at a moment after the soundings before it.
func denseSD(set link.Settings, p *Plan, at int64) float64 {
	cov := func(s, t int64) float64 {
		gap := math.Abs(float64(t - s))
		part := func(sd float64, tau time.Duration) float64 { return sd * sd * math.Exp(-gap/tau.Seconds()) }
		sum := part(set.LevelSD, set.LevelTau) + part(set.FastSD, set.FastTau) + part(set.SlowSD, set.SlowTau)
		for k := 1; k <= set.Harmonics; k++ {
			sum += part(set.HarmonicSD*math.Pow(set.HarmonicRatio, float64(k-1)), set.HarmonicTau) * math.Cos(2*math.Pi*float64(k)*gap/86400)
		}
		return sum
	}
	var times []int64
	for _, s := range p.Soundings {
		if s.Start+40 <= at {
			times = append(times, s.Start)
		}
	}
	k, with := mat.NewSymDense(len(times), nil), mat.NewVecDense(len(times), nil)
	for i, a := range times {
		for j := i; j < len(times); j++ {
			c := cov(a, times[j])
			if i == j {
				c += set.SlotSD * set.SlotSD
			}
			k.SetSym(i, j, c)
		}
		with.SetVec(i, cov(a, at))
	}
	var chol mat.Cholesky
	var solved mat.VecDense
	if !chol.Factorize(k) || chol.SolveVecTo(&solved, with) != nil {
		return math.NaN()
	}
	return math.Sqrt(cov(at, at) - mat.Dot(with, &solved))
}
