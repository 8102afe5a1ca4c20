package observations

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Every value on the edge of its range and just beyond.
func TestRanges(t *testing.T) {
	snr := func(s string) (float64, fault) { v, f := snrOf([]byte(s)); return float64(v), f }
	frequency := func(s string) (float64, fault) { v, f := frequencyOf([]byte(s)); return float64(v), f }
	power := func(s string) (float64, fault) { v, f := powerOf([]byte(s)); return float64(v), f }
	clock := func(s string) (float64, fault) { v, f := timeOf([]byte(s)); return float64(v), f }
	for _, c := range []struct {
		name string
		read func(string) (float64, fault)
		text string
		want float64
		ok   bool
	}{
		{"snr", snr, "-60", -60, true},
		{"snr", snr, "60", 60, true},
		{"snr", snr, "-60.001", 0, false},
		{"snr", snr, "60.00000001", 0, false},
		{"snr", snr, "-0", 0, true},
		{"frequency", frequency, "1000", 1000, true},
		{"frequency", frequency, "999.9", 0, false},
		{"frequency", frequency, "4e9", 4e9, true},
		{"frequency", frequency, "4000000000.4", 0, false},
		{"frequency", frequency, "7131000.5", 7131001, true},
		{"frequency", frequency, "0", 0, false},
		{"power", power, "10000000", 1e7, true},
		{"power", power, "10000000.1", 0, false},
		{"power", power, "0.000001", 1e-6, true},
		{"power", power, "-5", 0, false},
		{"power", power, "1e-46", 0, false},
		{"time", clock, "0", 0, true},
		{"time", clock, "4102444799", 4102444799, true},
		{"time", clock, "4102444800", 0, false},
		{"time", clock, "1969-12-31T23:59:59.9Z", 0, false},
		{"time", clock, "2100-01-01T01:59:59+02:00", 4102444799, true},
	} {
		got, f := c.read(c.text)
		if f.isNone() != c.ok || c.ok && math.Abs(got-c.want) > 1e-6*math.Abs(c.want) || !f.isNone() && f.mend == "" {
			t.Errorf("%s %s: %v, %+v", c.name, c.text, got, f)
		}
	}
	if v, _ := snrOf([]byte("-0")); math.Signbit(float64(v)) {
		t.Error("-0 dB would sort apart from 0 dB")
	}
}

// What can't be used has a message of its own and says what to do.
func TestFaultsTellTheUsualSlips(t *testing.T) {
	for _, c := range []struct {
		f    fault
		want string
	}{
		{second(frequencyOf([]byte("7131"))), ""},
		{second(frequencyOf([]byte("7.131"))), "in Hz, not in kHz or MHz"},
		{second(powerOf([]byte("-3"))), "not in dBm"},
		{second(timeOf([]byte("1772461200000"))), "milliseconds"},
		{second(timeOf([]byte("2026-03-02 14:20:00"))), "add Z"},
		{locatorFault([]byte("RE4")), "like RE44"},
		{callFault(value{text: []byte("MILL!")}), "letters, digits"},
	} {
		if c.want == "" && !c.f.isNone() || !strings.Contains(c.f.mend, c.want) {
			t.Errorf("%+v, want %q", c.f, c.want)
		}
	}
}

func second[T any](_ T, f fault) fault { return f }

func TestTrim(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spaces := rapid.SampledFrom([]string{"", " ", "\t", "\u00a0", "\u202f", " \u00a0 "})
		before, after := spaces.Draw(t, "before"), spaces.Draw(t, "after")
		inner := rapid.StringMatching(`|[a-zé"]([a-z é]{0,4}[a-zé"])?`).Draw(t, "inner")
		got, at := trim([]byte(before + inner + after))
		if string(got) != inner || inner != "" && at != len(before) {
			t.Fatalf("%q from %d, want %q from %d", got, at, inner, len(before))
		}
	})
}

// A report is kept in exactly one of the three ways, as the definition says.
func TestSpell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		moment, window := rapid.Int64Range(-50, 50).Draw(t, "moment"), rapid.Int64Range(0, 30).Draw(t, "window")
		at, delay := rapid.Int64Range(-100, 100).Draw(t, "time"), rapid.Int64Range(0, 40).Draw(t, "delay")
		s := spellUntil(moment, time.Duration(window)*time.Second)
		want := 0
		switch {
		case at > moment || at+delay > moment:
			want = 1
		case window > 0 && at < moment-window:
			want = -1
		}
		if got := s.check(at, delay); got != want {
			t.Fatalf("%+v: %d, want %d", s, got, want)
		}
		if always := allTimes(refuseUndated); always.check(at, delay) != 0 {
			t.Fatal("all times are kept")
		}
	})
}

// Problems of one kind that concern the whole source don't take the place of
// others, nor does it matter how the source is cut into blocks.
func TestGeneralProblemsAndTheRest(t *testing.T) {
	var text strings.Builder
	for i := range 400 {
		fmt.Fprintf(&text, `{"time":%d,"receiver":"MILL","sender":"HARBOR","snr_db":"%s","rig":1}`+"\n", i, strings.Repeat("x", i%2))
	}
	want := readWith(t, Options{MaxProblems: 7}, text.String())
	if len(want.Problems) != 7 || want.ProblemCount != 401 || want.Problems[0].Value != "rig" || want.Problems[1].Field != "snr_db" {
		t.Errorf("%d of %d\n%s", len(want.Problems), want.ProblemCount, problems(want))
	}
	for _, workers := range []int{1, 3} {
		got, err := read(t.Context(), []Input{{Text: text.String(), Name: "text 1"}}, Options{MaxProblems: 7}, limits{block: 500, record: 200}, workers)
		if err != nil || problems(got) != problems(want) || got.ProblemCount != want.ProblemCount {
			t.Errorf("%v, %d\n%swant\n%s", err, got.ProblemCount, problems(got), problems(want))
		}
	}
}

// A hundred readings give the same hundred times.
func TestSameEveryTime(t *testing.T) {
	text := string(benchRows(400, true)) + "1300Z all POST01 copies POST02 -3 on day\n" + strings.Repeat("oops\n", 20)
	want := ""
	for range 100 {
		l, err := read(t.Context(), []Input{{Text: text, Name: "a"}, {Text: "1301Z POST02 copies POST01 4 on night"}}, Options{Newest: true}, limits{block: 2000, record: 500}, 4)
		if err != nil {
			t.Fatal(err)
		}
		got := fmt.Sprintf("%+v", *l)
		if want == "" {
			want = got
		}
		if got != want {
			t.Fatal("two readings differ")
		}
	}
}

func TestChannelsPastCounting(t *testing.T) {
	c := newCollector(nil, Options{}, smallLimits, 1)
	names := make([]string, maxChannels)
	for i := range names {
		names[i] = fmt.Sprint(i)
	}
	c.takeChannels(names)
	if got := c.takeChannels([]string{"7", "one more"}); got[0] != 0 || got[1] != 8 || got[2] != 0 || len(c.log.Channels) != maxChannels {
		t.Errorf("%v, %d channels", got, len(c.log.Channels))
	}
}

func TestTooManySources(t *testing.T) {
	if _, _, err := findSources(make([]Input, maxSources+1), nil); err == nil {
		t.Error("more sources than can be told apart")
	}
	if s, _, err := findSources(make([]Input, maxSources), nil); err != nil || len(s) != maxSources {
		t.Error(len(s), err)
	}
}

func TestHeaderWithTooManyColumns(t *testing.T) {
	l := readText(t, "time,receiver,sender,snr_db"+strings.Repeat(",x", maxHeader)+"\n1,A,B,2\n")
	if l.Counts.Rejected != 2 || !strings.Contains(l.Problems[0].Message, "no header line") {
		t.Errorf("%+v\n%s", l.Counts, problems(l))
	}
}

func TestClampLine(t *testing.T) {
	if clampLine(7) != 7 || clampLine(math.MaxUint32+9) != math.MaxUint32 {
		t.Error(clampLine(7), clampLine(math.MaxUint32+9))
	}
}
