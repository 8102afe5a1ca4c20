package cut

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
)

func TestNewErrors(t *testing.T) {
	ok := fixed(0, 1, 0.5)
	with := func(change func(*Link)) []Link {
		l := ok
		change(&l)
		return []Link{ok, l}
	}
	tests := []struct {
		name     string
		stations int
		links    []Link
	}{
		{"negative count", -1, nil},
		{"sender out of range", 2, with(func(l *Link) { l.From = 2 })},
		{"negative sender", 2, with(func(l *Link) { l.From = -1 })},
		{"receiver out of range", 2, with(func(l *Link) { l.To = 2 })},
		{"to itself", 2, with(func(l *Link) { l.To = 0 })},
		{"chance above 1", 2, with(func(l *Link) { l.Channel, l.Decode = 1, 1.01 })},
		{"chance not a number", 2, with(func(l *Link) { l.Channel, l.Decode = 1, math.NaN() })},
		{"twice", 2, with(func(*Link) {})},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if g, err := New(tt.stations, tt.links); err == nil {
				t.Errorf("accepted: %+v", g)
			}
		})
	}
	if _, err := New(2, with(func(l *Link) { l.Channel = 1 })); err != nil {
		t.Errorf("two channels: %v", err)
	}
}

func TestOptionErrors(t *testing.T) {
	g := certain(t, 3, [2]int{0, 1})
	for name, change := range map[string]func(*Options){
		"threshold above 1":      func(o *Options) { o.Threshold = 1.1 },
		"threshold not a number": func(o *Options) { o.Threshold = math.NaN() },
		"pair out of range":      func(o *Options) { o.Pairs = [][2]int{{0, 3}} },
		"pair of one":            func(o *Options) { o.Pairs = [][2]int{{1, 1}} },
		"negative budget":        func(o *Options) { o.Work = -1 },
		"negative sample":        func(o *Options) { o.Samples = -1 },
	} {
		opt := Defaults()
		change(&opt)
		if _, err := Analyse(t.Context(), g, opt); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// TestEmpty: no stations, or none with a link, is an answer too.
func TestEmpty(t *testing.T) {
	for n := range 3 {
		g, err := New(n, nil)
		if err != nil {
			t.Fatal(err)
		}
		opt := Defaults()
		opt.Pairs = AllPairs(n)
		r, err := Analyse(t.Context(), g, opt)
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Groups) != n || len(r.Isolated) != n || r.ConnectedPairs != 0 || len(r.Pairs) != n*(n-1) {
			t.Errorf("%d stations: %+v", n, r)
		}
		for _, p := range r.Pairs {
			if p.Chains != nil || p.Cut == nil || len(p.Cut) != 0 || p.Reach != 0 || !p.Exact || p.Highest != 0 {
				t.Errorf("pair %+v", p)
			}
		}
	}
}

// TestOpen: which links count, at which threshold, one way and two-way.
func TestOpen(t *testing.T) {
	unknown := fixed(2, 0, 0.9)
	unknown.Known, unknown.Use = false, false
	night := fixed(0, 1, 0.4)
	night.Channel = 1
	g, err := New(4, []Link{
		fixed(0, 1, 0.6), night, fixed(1, 0, 0.1), // the way back is too poor
		fixed(1, 2, 0.5), fixed(2, 1, 0.2), // just enough both ways
		fixed(0, 2, 0.8), unknown, // no known way back
		fixed(3, 0, 0.7), {From: 0, To: 3, Channel: 1, Decode: 0.9, Known: true, Use: true}, // back on another channel
	})
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		threshold float64
		twoWay    bool
		want      [][2]int32
	}{
		{0.5, false, [][2]int32{{0, 1}, {0, 2}, {0, 3}, {1, 2}, {3, 0}}},
		{0.2, false, [][2]int32{{0, 1}, {0, 2}, {0, 3}, {1, 2}, {2, 1}, {3, 0}}},
		{0.75, false, [][2]int32{{0, 2}, {0, 3}}},
		{0.5, true, [][2]int32{{1, 2}}},
		{0.2, true, [][2]int32{{1, 2}, {2, 1}}},
		{0.1, true, [][2]int32{{1, 0}, {1, 2}, {2, 1}}},
	}
	for _, tt := range tests {
		a := g.open(tt.threshold, tt.twoWay)
		var got [][2]int32
		for e := range a.head {
			got = append(got, [2]int32{a.tail[e], a.head[e]})
		}
		if !slices.Equal(got, tt.want) {
			t.Errorf("threshold %v, two-way %v: %v, want %v", tt.threshold, tt.twoWay, got, tt.want)
		}
	}
	if c := g.census(); c.known != 7 || c.unknown != 1 || c.used != 0 || c.nothing != nil {
		t.Errorf("census %+v", c)
	}
}

// TestTwoWayReach: a link without a fair way back counts in reach neither.
func TestTwoWayReach(t *testing.T) {
	g, err := New(3, []Link{fixed(0, 1, 0.9), fixed(1, 0, 0.25), fixed(0, 2, 0.9), fixed(2, 1, 0.8), fixed(1, 2, 0.1)})
	if err != nil {
		t.Fatal(err)
	}
	opt := Defaults()
	opt.Pairs = [][2]int{{0, 1}, {2, 1}}
	for twoWay, want := range map[bool][2]float64{false: {1 - 0.1*(1-0.72), 0.8}, true: {0.9, 0}} {
		opt.TwoWay = twoWay
		r, err := Analyse(t.Context(), g, opt)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range r.Pairs {
			if math.Abs(p.Reach-want[i]) > 1e-12 {
				t.Errorf("two-way %v: %d → %d reach %v, want %v", twoWay, p.From, p.To, p.Reach, want[i])
			}
		}
	}
}

// TestBandsInReach: channels of one band are one chance, other bands another.
func TestBandsInReach(t *testing.T) {
	channel := func(c, band int, p float64) Link {
		l := fixed(0, 1, p)
		l.Channel, l.Band = c, band
		return l
	}
	g, err := New(2, []Link{channel(0, 0, 0.5), channel(1, 0, 0.6), channel(2, 1, 0.3)})
	if err != nil {
		t.Fatal(err)
	}
	opt := Defaults()
	opt.Pairs = [][2]int{{0, 1}}
	r, err := Analyse(t.Context(), g, opt)
	if err != nil {
		t.Fatal(err)
	}
	if p := r.Pairs[0]; math.Abs(p.Reach-0.72) > 1e-12 || p.Lowest != 0.6 || math.Abs(p.Highest-0.9) > 1e-12 {
		t.Errorf("reach %v in %v…%v", p.Reach, p.Lowest, p.Highest)
	}
}

// TestGroupsBrute compares groups and roles with Warshall's closure.
func TestGroupsBrute(t *testing.T) {
	randomNets(t, 2000, 12, func(t *testing.T, a *arcs) {
		c := connected(a, -1)
		all := groups(a)
		of, members := make([]int, a.n), 0
		for i, g := range all {
			for _, v := range g {
				of[v] = i
				members++
			}
			if !slices.IsSorted(g) || i > 0 && (len(g) > len(all[i-1]) || len(g) == len(all[i-1]) && g[0] < all[i-1][0]) {
				t.Errorf("groups out of order: %v", all)
			}
		}
		if members != a.n {
			t.Errorf("groups hold %d stations of %d", members, a.n)
		}
		for u := range a.n {
			for v := range a.n {
				if u != v && (of[u] == of[v]) != (c[u][v] && c[v][u]) {
					t.Errorf("stations %d and %d in groups %v", u, v, all)
				}
			}
		}
		isolated, deaf, unheard := roles(a)
		for v := range a.n {
			hears, heard := false, false
			for u := range a.n {
				hears, heard = hears || c[u][v], heard || c[v][u]
			}
			if slices.Contains(isolated, v) != (!hears && !heard) || slices.Contains(deaf, v) != (!hears && heard) || slices.Contains(unheard, v) != (hears && !heard) {
				t.Errorf("station %d: isolated %v, deaf %v, unheard %v", v, isolated, deaf, unheard)
			}
		}
	})
}

// TestCertain: a single point of failure at 0.5 that has help at 0.2, or none
// left to part at 0.8, is not certain.
func TestCertain(t *testing.T) {
	tests := []struct {
		name  string
		links []Link
		want  bool
	}{
		{"at all three", []Link{fixed(0, 1, 0.9), fixed(1, 2, 0.9)}, true},
		{"a weak way around", []Link{fixed(0, 1, 0.9), fixed(1, 2, 0.9), fixed(0, 2, 0.3)}, false},
		{"weak itself", []Link{fixed(0, 1, 0.9), fixed(1, 2, 0.7)}, false},
	}
	for _, tt := range tests {
		g, err := New(3, tt.links)
		if err != nil {
			t.Fatal(err)
		}
		for _, threshold := range []float64{0.5, 0.6} {
			opt := Defaults()
			opt.Threshold = threshold
			r, err := Analyse(t.Context(), g, opt)
			if err != nil {
				t.Fatal(err)
			}
			if len(r.SingleStations) != 1 || r.SingleStations[0].Certain != tt.want {
				t.Errorf("%s at %v: %+v", tt.name, threshold, r.SingleStations)
			}
		}
	}
}

// TestOrderDoesNotMatter: links in any order give the same report, every time.
func TestOrderDoesNotMatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	links := scattered(25, 180).Links()
	opt := Defaults()
	opt.Pairs, opt.Work, opt.Samples = AllPairs(25), 1e6, 700
	var first *Report
	for range 4 {
		rng.Shuffle(len(links), func(i, j int) { links[i], links[j] = links[j], links[i] })
		g, err := New(25, links)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Analyse(t.Context(), g, opt)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = r
		} else if !reflect.DeepEqual(r, first) {
			t.Fatal("another order, another report")
		}
	}
	if !slices.ContainsFunc(first.Pairs, func(p Pair) bool { return !p.Exact }) {
		t.Error("nothing was sampled: the test says less than it should")
	}
}

func TestWarningStrings(t *testing.T) {
	for kind := UnknownLeftOut; kind <= PairsNotChecked; kind++ {
		text := Warning{kind, 3}.String()
		if text == "" || text == (Warning{PairsNotChecked + 1, 3}).String() {
			t.Errorf("kind %d has no words of its own: %q", kind, text)
		}
	}
	for count, want := range map[int]string{1: "1 link was counted", 2: "2 links were counted"} {
		if got := (Warning{UncertainUsed, count}).String(); !strings.HasPrefix(got, want) {
			t.Errorf("%q, want %q first", got, want)
		}
	}
}
