package view

import (
	"strings"
	"testing"
)

func TestAhead(t *testing.T) {
	for minutes, want := range map[float64]string{
		0: "right before", 15: "15 min ahead", 60: "1 h ahead", 90: "90 min ahead", 1440: "24 h ahead", 0.5: "0.5 min ahead",
	} {
		if got := Ahead(minutes); got != want {
			t.Errorf("%v minutes: %q, want %q", minutes, got, want)
		}
	}
}

func TestShort(t *testing.T) {
	for f, want := range map[float64]string{
		0: "0", 12.345: "12.3", -4.3: "-4.30", 0.6: "0.600", 123.4: "123", 1234.5: "1234", 0.000123: "0.0001",
	} {
		if got := short(f); got != want {
			t.Errorf("%v: %q, want %q", f, got, want)
		}
	}
}

// The diagram has its marks where the figures are, ends included.
func TestReliability(t *testing.T) {
	table := reliability([]BacktestModel{{Bins: []BacktestBin{
		{N: 5, Forecast: 0, Seen: 1}, {N: 1234, Forecast: 0.5, Seen: 0.25}, {N: 1, Forecast: 1, Seen: 1},
	}}})
	for i, want := range [][2]int{{0, 40}, {20, 10}, {-1, 40}} {
		line := table.Rows[i][3]
		if len(line) != 41 || strings.IndexByte(line, '|') != want[0] || strings.IndexByte(line, 'o') != want[1] {
			t.Errorf("row %d: %q", i, line)
		}
	}
	if table.Rows[1][2] != "1,234" || table.Rows[1][0] != "50.0" {
		t.Errorf("%q", table.Rows[1])
	}
	if rows := reliability(nil).Rows; rows != nil {
		t.Errorf("without any models: %q", rows)
	}
}

// The verdict counts what was compared, and what is beyond doubt.
func TestBacktestVerdict(t *testing.T) {
	model := func(gain, low float64) BacktestModel { return BacktestModel{Gain: &gain, GainLow: &low} }
	v := Backtest{Reports: 1200, Misses: 1, Links: 2, LinksSeen: 3, Horizons: []BacktestHorizon{
		{HorizonMinutes: 900, Forecasts: 5, Models: []BacktestModel{{}, model(0.1, 0.05), model(0.1, -0.05), model(-0.1, -0.2)}},
		{HorizonMinutes: 45, Forecasts: 5},
		{HorizonMinutes: 60, Models: []BacktestModel{{}, model(1, 1)}},
	}}
	want := "1,200 reports and 1 miss on 3 links; 2 links are scored.\nOf 3 comparisons with simple rules farhop was better in 2, beyond doubt in 1."
	if got := v.Verdict(); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if h := v.shown(); h == nil || h.HorizonMinutes != 45 {
		t.Errorf("shown in detail: %+v", h)
	}
	v.Horizons = nil
	if got := v.Verdict(); !strings.Contains(got, "nothing to score") || v.shown() != nil {
		t.Errorf("nothing to score: %q", got)
	}
}

func TestFitSaysWhenItTeachesNothing(t *testing.T) {
	v := Fit{Reason: "It may be luck", Fragment: "model: {}\n", Fitted: 1, HeldOut: 2}
	if y := v.YAML(); !strings.HasSuffix(y, "\nmodel: {}\n") || !strings.Contains(y, "as good; keep them. It may be luck.") {
		t.Errorf("%q", y)
	}
	for line := range strings.SplitSeq(strings.TrimSpace(v.YAML()), "\n") {
		if !strings.HasPrefix(line, "# ") && line != "model: {}" {
			t.Errorf("a line that is neither comment nor plan: %q", line)
		}
	}
	if s := v.common(); !strings.Contains(s, "No slot shows several links") {
		t.Errorf("%q", s)
	}
}
