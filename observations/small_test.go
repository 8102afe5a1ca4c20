package observations

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
	"unsafe"

	"pgregory.net/rapid"
)

func TestReportIsSmall(t *testing.T) {
	if size := unsafe.Sizeof(Report{}); size != 40 {
		t.Errorf("%d bytes", size)
	}
}

// Edges and just beyond, from the band table of ADIF 3.1.6 (2025-09-15,
// adif.org.uk/316).
func TestBands(t *testing.T) {
	for hz, want := range map[uint32]string{
		0: "", 1: "0 MHz", 135_699: "0 MHz", 135_700: "2190m", 137_800: "2190m", 137_801: "0 MHz", 475_000: "630m", 502_000: "560m",
		1_799_999: "1 MHz", 1_800_000: "160m", 2_000_000: "160m", 2_000_001: "2 MHz", 3_500_000: "80m", 3_999_999: "80m",
		5_059_999: "5 MHz", 5_060_000: "60m", 5_450_000: "60m", 7_000_000: "40m", 7_300_000: "40m", 7_300_001: "7 MHz",
		10_100_000: "30m", 10_150_000: "30m", 14_350_000: "20m", 18_068_000: "17m", 18_168_001: "18 MHz", 21_000_000: "15m",
		24_890_000: "12m", 27_000_000: "27 MHz", 28_000_000: "10m", 29_700_001: "29 MHz", 40_680_000: "8m", 50_313_000: "6m",
		54_000_000: "6m", 54_000_001: "5m", 69_900_000: "5m", 69_900_001: "69 MHz", 70_200_000: "4m", 144_000_000: "2m",
		222_100_000: "1.25m", 432_000_000: "70cm", 902_000_000: "33cm", 1_296_000_000: "23cm", 2_320_000_000: "13cm",
		4_000_000_000: "4000 MHz", 4_294_967_295: "4294 MHz",
	} {
		if got := BandOf(hz).String(); got != want {
			t.Errorf("%d Hz: %q, want %q", hz, got, want)
		}
	}
	if got := Band(99).String(); got != "band 99" {
		t.Error(got)
	}
}

func TestBandTableIsInOrder(t *testing.T) {
	names := map[string]bool{}
	for i, b := range adifBands {
		if b.low >= b.high || i > 0 && b.low <= adifBands[i-1].high || names[b.name] {
			t.Errorf("%+v", b)
		}
		names[b.name] = true
	}
	if len(adifBands) != 23 {
		t.Errorf("%d bands", len(adifBands))
	}
}

func TestNearest(t *testing.T) {
	names := []string{"HARBOR", "MILL", "MALL", "SUMMIT", "A", "snr_db"}
	for name, want := range map[string]string{
		"HARBOR": "HARBOR", "harbour": "HARBOR", "HABROR": "HARBOR", "HRBOR": "HARBOR", "HARBORXX": "HARBOR", "HARBORXXX": "", "HXRXXR": "",
		"MLL": "MALL", "mill": "MILL", "MULL": "MALL", "IMLL": "MILL", "B": "", "AB": "", "a": "A", "": "", "SNR": "", "SNRDB": "snr_db", "SUMIT": "SUMMIT",
	} {
		if got, ok := Nearest(name, names); got != want || ok != (want != "") {
			t.Errorf("%s: %q, %v, want %q", name, got, ok, want)
		}
	}
	if got, ok := Nearest("X", nil); ok {
		t.Error(got)
	}
}

func TestNearestDoesNotDependOnOrder(t *testing.T) {
	word := rapid.StringMatching(`[ABC]{1,5}`)
	rapid.Check(t, func(t *rapid.T) {
		name, names := word.Draw(t, "name"), rapid.SliceOf(word).Draw(t, "names")
		want, ok := Nearest(name, names)
		if got, again := Nearest(name, rapid.Permutation(names).Draw(t, "order")); got != want || again != ok {
			t.Fatalf("%q, then %q", want, got)
		}
		if ok && slices.Contains(names, name) && want != name {
			t.Fatalf("%q though %q is among them", want, name)
		}
	})
}

// editDistance against its definition by recursion.
func TestEditDistance(t *testing.T) {
	var slow func(a, b []rune) int
	slow = func(a, b []rune) int {
		if len(a) == 0 || len(b) == 0 {
			return len(a) + len(b)
		}
		d := min(slow(a[1:], b)+1, slow(a, b[1:])+1, slow(a[1:], b[1:])+btoi(a[0] != b[0]))
		if len(a) > 1 && len(b) > 1 && a[0] == b[1] && a[1] == b[0] {
			d = min(d, slow(a[2:], b[2:])+1)
		}
		return d
	}
	word := rapid.StringMatching(`[ABC]{0,5}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := []rune(word.Draw(t, "a")), []rune(word.Draw(t, "b"))
		if got, want := editDistance(a, b), slow(a, b); got != want {
			t.Fatalf("%s, %s: %d, want %d", string(a), string(b), got, want)
		}
	})
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func TestVisible(t *testing.T) {
	for text, want := range map[string]string{
		"HARBOR": "HARBOR", "": "", "a\tb\n\x00\x1b[31m": `a\tb\n\x00\x1b[31m`, "\xff\xfe": `\xff\xfe`, "ÄÖ": "ÄÖ", "\u202e": `\u202e`, "'\"\\": "'\"\\",
		strings.Repeat("é", 41): strings.Repeat("é", 40) + "…", strings.Repeat("x", 40): strings.Repeat("x", 40),
	} {
		if got := visible([]byte(text)); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func TestDirectory(t *testing.T) {
	d := newDirectory()
	ids := map[Site]SiteID{}
	for i := range 5000 {
		site := Site{Call: fmt.Sprintf("POST%d", i%2500), Locator: fmt.Sprintf("RE%02d", i%97)}
		if i%7 == 0 {
			site.Call += "-LONGER-NAME"
		}
		for _, spelled := range []string{site.Call, strings.ToLower(site.Call)} {
			s, v := d.lookup([]byte(spelled), []byte(strings.ToLower(site.Locator)))
			if known, ok := ids[site]; v != siteKnown || ok && known != s.site || d.sites[s.site] != site || d.stations[s.site] != s.station {
				t.Fatalf("%s: %+v, %v", spelled, s, v)
			}
			ids[site] = s.site
		}
	}
	if len(ids) != len(d.sites) {
		t.Errorf("%d sites, want %d", len(d.sites), len(ids))
	}
	a, _ := d.lookup([]byte("POST1"), nil)
	b, _ := d.lookup([]byte("post1"), []byte("RE44"))
	if a.station != b.station || a.site == b.site {
		t.Errorf("%+v, %+v", a, b)
	}
	for _, c := range []struct {
		call, place string
		want        verdict
	}{
		{"", "", badCall},
		{"", "RE44", badCall},
		{"POST1\x00", "", badCall},
		{"POST1", "RE44\x00", badPlace},
		{"\x00", "", badCall},
		{"POST 1", "", badCall},
		{"POST1", "RE4", badPlace},
		{"POST1", strings.Repeat("RE44", 5), badPlace},
		{strings.Repeat("X", 21), "", badCall},
	} {
		if s, v := d.lookup([]byte(c.call), []byte(c.place)); v != c.want {
			t.Errorf("%q at %q: %v, %+v", c.call, c.place, v, s)
		}
	}
}

func someReports(t *rapid.T) []Report {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Report {
		return Report{
			Time:     rapid.Int64Range(1000, 1020).Draw(t, "time"),
			Sender:   SiteID(rapid.IntRange(0, 2).Draw(t, "sender")),
			Receiver: SiteID(rapid.IntRange(0, 2).Draw(t, "receiver")),
			SNR:      float32(rapid.IntRange(-2, 2).Draw(t, "snr")),
			Line:     rapid.Uint32Range(1, 9).Draw(t, "line"),
		}
	}), 0, 40).Draw(t, "reports")
}

func TestSortReports(t *testing.T) {
	for _, n := range []int{0, 1, fewReports, fewReports + 1, 20_000} {
		for _, span := range []int64{1, 50, 1 << 20, endOfTime} {
			rng := rand.New(rand.NewPCG(uint64(n), uint64(span)))
			reports := make([]Report, n)
			for i := range reports {
				reports[i] = Report{Time: rng.Int64N(span), Sender: SiteID(rng.IntN(9)), Receiver: SiteID(rng.IntN(9)), SNR: float32(rng.IntN(3)), Line: uint32(i)}
			}
			want := slices.Clone(reports)
			slices.SortFunc(want, compareReports)
			sortReports(reports)
			if !slices.Equal(reports, want) {
				t.Errorf("%d reports in %d s are out of order", n, span)
			}
			if sortReports(reports); !slices.Equal(reports, want) {
				t.Errorf("%d sorted reports were put out of order", n)
			}
		}
	}
}

// Sites beyond the numbers that fit a word are sorted all the same.
func TestSortManySites(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	reports := make([]Report, 3000)
	for i := range reports {
		reports[i] = Report{Time: int64(i / 1000), Sender: SiteID(rng.Uint32()), Receiver: SiteID(rng.Uint32N(1 << 22)), Line: uint32(i)}
	}
	want := slices.Clone(reports)
	slices.SortFunc(want, compareReports)
	if sortReports(reports); !slices.Equal(reports, want) {
		t.Error("out of order")
	}
}

func TestCompareReportsOrdersEveryField(t *testing.T) {
	low := Report{Time: 1, Sender: 1, Receiver: 1, Frequency: 1, SNR: 1, Power: 1, Delay: 1, Channel: 1, Source: 1, Line: 1}
	for i, change := range []func(r *Report){
		func(r *Report) { r.Time++ }, func(r *Report) { r.Sender++ }, func(r *Report) { r.Receiver++ }, func(r *Report) { r.Frequency++ },
		func(r *Report) { r.SNR++ }, func(r *Report) { r.Power++ }, func(r *Report) { r.Delay++ }, func(r *Report) { r.Channel++ },
		func(r *Report) { r.Source++ }, func(r *Report) { r.Line++ },
	} {
		high := low
		change(&high)
		if compareReports(low, high) != -1 || compareReports(high, low) != 1 || compareReports(high, high) != 0 {
			t.Errorf("field %d", i)
		}
	}
}

// Distinct against choosing the best of every group outright.
func TestDistinct(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := &Log{Reports: someReports(t)}
		sortReports(l.Reports)
		slot := rapid.Int64Range(1, 9).Draw(t, "slot")
		ok := func(r *Report) bool { return r.Sender != 2 }
		kept, duplicates := l.Distinct(time.Duration(slot)*time.Second, func(r *Report) (uint32, uint32, Band, bool) {
			return uint32(r.Receiver), uint32(r.Sender), BandOf(r.Frequency), ok(r)
		})
		type group struct {
			slot             int64
			sender, receiver SiteID
		}
		best, all := map[group]int{}, 0
		for i := range l.Reports {
			r := &l.Reports[i]
			if !ok(r) {
				continue
			}
			all++
			k := group{r.Time / slot, r.Sender, r.Receiver}
			if j, found := best[k]; !found || r.SNR > l.Reports[j].SNR {
				best[k] = i
			}
		}
		var places []int
		for _, i := range best {
			places = append(places, i)
		}
		slices.Sort(places)
		want := []Report{}
		for _, i := range places {
			want = append(want, l.Reports[i])
		}
		if !slices.Equal(kept, want) || duplicates != all-len(want) {
			t.Fatalf("%v, %d duplicates, want %v", kept, duplicates, want)
		}
	})
}

func TestDistinctTies(t *testing.T) {
	l := &Log{Reports: []Report{{Time: 100, SNR: -9, Line: 1}, {Time: 101, SNR: -9, Line: 2}, {Time: 139, SNR: -8, Line: 3}, {Time: 160, SNR: -20, Line: 4}}}
	all := func(r *Report) (uint32, uint32, Band, bool) { return 0, 1, 0, true }
	kept, duplicates := l.Distinct(40*time.Second, all)
	if len(kept) != 3 || kept[0].Line != 1 || kept[1].Line != 3 || duplicates != 1 {
		t.Errorf("%+v, %d", kept, duplicates)
	}
	if kept, duplicates = l.Distinct(0, all); len(kept) != 4 || duplicates != 0 {
		t.Errorf("%+v, %d", kept, duplicates)
	}
	if len(l.Reports) != 4 || !slices.IsSortedFunc(kept, func(a, b Report) int { return cmp.Compare(a.Time, b.Time) }) {
		t.Error("the log was changed")
	}
}
