package view

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Backtest is how well a log would have been foretold.
type Backtest struct {
	Head
	Reports     int                `json:"reports"`
	Unwitnessed int                `json:"unwitnessed_reports"`
	Misses      int                `json:"misses"`
	Links       int                `json:"links"`      // links that were scored
	LinksSeen   int                `json:"links_seen"` // links with any evidence
	MinReports  int                `json:"min_reports"`
	ScoreFrom   *time.Time         `json:"score_from"` // nil without any evidence
	Seed        uint64             `json:"seed"`
	Horizons    []BacktestHorizon  `json:"horizons"`
	Delivery    *BacktestDeliverer `json:"delivery,omitempty"`
}

// BacktestHorizon is the scores of forecasts so far ahead.
type BacktestHorizon struct {
	HorizonMinutes float64         `json:"horizon_minutes"`
	Forecasts      int             `json:"forecasts"`
	BaseRate       float64         `json:"base_rate"` // share of the slots that decoded
	Models         []BacktestModel `json:"models"`
	Known          BacktestGroup   `json:"known"`
	Unknown        BacktestGroup   `json:"unknown"`
	ByLink         []BacktestGroup `json:"by_link"`
	ByHour         []BacktestGroup `json:"by_hour"`
	ByFreshness    []BacktestGroup `json:"by_freshness"`
}

// BacktestModel is the scores of one way of forecasting.
type BacktestModel struct {
	Name             string        `json:"name"`
	Brier            float64       `json:"brier"`
	LogLoss          float64       `json:"log_loss"`
	CalibrationError float64       `json:"calibration_error"`
	Bins             []BacktestBin `json:"bins"`
	// Gain is the Brier score of this way less that of farhop, above zero where
	// farhop is better, with the 95 % interval; nil for farhop itself.
	Gain     *float64 `json:"farhop_better_by"`
	GainLow  *float64 `json:"farhop_better_by_low"`
	GainHigh *float64 `json:"farhop_better_by_high"`
}

// BacktestBin is the forecasts between two chances.
type BacktestBin struct {
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	N        int     `json:"n"`
	Forecast float64 `json:"forecast"`
	Seen     float64 `json:"seen"`
}

// BacktestGroup is the scores of a part of the forecasts; what makes the part is
// set in one of the first fields.
type BacktestGroup struct {
	From          string             `json:"from,omitempty"`
	To            string             `json:"to,omitempty"`
	Band          string             `json:"band,omitempty"`
	Hour          *int               `json:"hour,omitempty"`
	FreshnessLow  *float64           `json:"freshness_low,omitempty"`
	FreshnessHigh *float64           `json:"freshness_high,omitempty"`
	Forecasts     int                `json:"forecasts"`
	Seen          float64            `json:"seen"`
	Forecast      float64            `json:"forecast"`
	Brier         map[string]float64 `json:"brier"` // by way of forecasting
	LogLoss       map[string]float64 `json:"log_loss"`
}

// BacktestDeliverer is how replayed messages went.
type BacktestDeliverer struct {
	Frames        int                  `json:"frames"`
	WithinMinutes float64              `json:"within_minutes"`
	TooShort      int                  `json:"tries_with_too_few_slots"`
	Horizons      []BacktestDeliveries `json:"horizons"`
}

// BacktestDeliveries is the scores of what was said so far ahead.
type BacktestDeliveries struct {
	HorizonMinutes float64         `json:"horizon_minutes"`
	Tries          int             `json:"tries"`
	Slots          float64         `json:"mean_slots"`
	Delivered      float64         `json:"delivered"`
	Models         []BacktestModel `json:"models"`
}

// Document tells the scores, the calibration of the first horizon as a diagram, and
// the parts in which the forecasts were good and bad.
func (v *Backtest) Document() Document {
	d := v.open("How well this log would have been foretold: " + v.Net)
	d.Say(v.Verdict())
	for i := range v.Horizons {
		h := &v.Horizons[i]
		if h.Forecasts == 0 {
			continue
		}
		d.Title(Ahead(h.HorizonMinutes))
		d.Say(fmt.Sprintf("%s, of which %s decoded.", Count(h.Forecasts, "forecast", "forecasts"), Percent(h.BaseRate)))
		d.Add(scoreTable(h.Models))
	}
	if h := v.shown(); h != nil {
		ahead := Ahead(h.HorizonMinutes)
		d.Title("Said and seen, " + ahead)
		d.Add(reliability(h.Models))
		d.Title("Known and unknown links, by freshness and by UTC hour, " + ahead)
		d.Add(h.partTable())
		d.Title("Links, " + ahead)
		d.Add(h.linkTable())
	}
	if v.Delivery != nil {
		v.Delivery.document(&d)
	}
	v.close(&d,
		"BRIER: mean square of the chance said less 1 for a decode, 0 for none. LOG LOSS: mean of −ln of the chance given to what "+
			"happened. OFF: how far said and seen are apart, in points. The lower the better.",
		fmt.Sprintf("FARHOP BETTER BY: in Brier score, with the 95 %% interval over whole days drawn anew (seed %d). An interval "+
			"that holds zero may be luck.", v.Seed),
		fmt.Sprintf("Scored: every known transmission, heard or missed, of links with %s or more%s. A forecast uses only what was "+
			"known that long before. base rate: the link's share of decodes so far; recent: the same over about an hour; hour of "+
			"day: the same in this UTC hour; hour and recent: the last two joined.",
			Count(v.MinReports, "report", "reports"), v.since()),
	)
	return d
}

func (v *Backtest) since() string {
	if v.ScoreFrom == nil {
		return ""
	}
	return ", from " + v.Clock.Date(*v.ScoreFrom) + " on"
}

// shown is the horizon whose parts the text shows: the one nearest to an hour.
func (v *Backtest) shown() (best *BacktestHorizon) {
	far := func(h *BacktestHorizon) float64 { return math.Abs(math.Log(math.Max(h.HorizonMinutes, 1) / 60)) }
	for i := range v.Horizons {
		if h := &v.Horizons[i]; h.Forecasts > 0 && (best == nil || far(h) < far(best)) {
			best = h
		}
	}
	return best
}

// Verdict says whether the forecasts beat the simple rules.
func (v *Backtest) Verdict() string {
	forecasts, better, sure, rules := 0, 0, 0, 0
	for i := range v.Horizons {
		h := &v.Horizons[i]
		forecasts += h.Forecasts
		if h.Forecasts == 0 {
			continue
		}
		for j := range h.Models {
			if g := h.Models[j].Gain; g != nil {
				rules++
				if *g > 0 {
					better++
				}
				if *h.Models[j].GainLow > 0 {
					sure++
				}
			}
		}
	}
	evidence := fmt.Sprintf("%s and %s on %s; %s scored.", Count(v.Reports, "report", "reports"),
		Count(v.Misses, "miss", "misses"), Count(v.LinksSeen, "link", "links"), Count(v.Links, "link is", "links are"))
	if forecasts == 0 {
		return evidence + " There is nothing to score."
	}
	return fmt.Sprintf("%s\nOf %s with simple rules farhop was better in %d, beyond doubt in %d.",
		evidence, Count(rules, "comparison", "comparisons"), better, sure)
}

// Ahead says a horizon: '15 min ahead', '3 h ahead'.
func Ahead(minutes float64) string {
	switch {
	case minutes == 0:
		return "right before"
	case minutes >= 60 && math.Mod(minutes, 60) == 0:
		return strconv.FormatFloat(minutes/60, 'f', -1, 64) + " h ahead"
	}
	return strconv.FormatFloat(minutes, 'f', -1, 64) + " min ahead"
}

func score(f float64) string { return strconv.FormatFloat(f, 'f', 4, 64) }

func scoreTable(models []BacktestModel) *Table {
	t := &Table{Columns: []Column{
		{Head: ""},
		{Head: "BRIER", Right: true, Name: "Brier score"},
		{Head: "LOG LOSS", Right: true, Name: "log loss"},
		{Head: "OFF", Right: true, Name: "points off"},
		{Head: "FARHOP BETTER BY", Right: true, Name: "farhop better by"},
	}}
	for i := range models {
		m := &models[i]
		gain := ""
		if m.Gain != nil {
			gain = fmt.Sprintf("%+.4f (%+.4f to %+.4f)", *m.Gain, *m.GainLow, *m.GainHigh)
		}
		t.Rows = append(t.Rows, []string{
			m.Name, score(m.Brier), score(m.LogLoss), strconv.FormatFloat(100*m.CalibrationError, 'f', 1, 64), gain,
		})
	}
	return t
}

// reliability draws what was said of each ten points and what was seen.
func reliability(models []BacktestModel) *Table {
	const width = 40
	t := &Table{Columns: []Column{
		{Head: "SAID %", Right: true, Name: "said in per cent"},
		{Head: "SEEN %", Right: true, Name: "seen in per cent"},
		{Head: "TIMES", Right: true, Name: "times"},
		{Head: "0 seen (o) beside said (|) 100", Name: "diagram"},
	}}
	if len(models) == 0 {
		return t
	}
	for _, b := range models[0].Bins {
		line := []byte(strings.Repeat(".", width+1))
		line[int(math.Round(b.Forecast*width))] = '|'
		line[int(math.Round(b.Seen*width))] = 'o'
		t.Rows = append(t.Rows, []string{
			strconv.FormatFloat(100*b.Forecast, 'f', 1, 64), strconv.FormatFloat(100*b.Seen, 'f', 1, 64), Grouped(b.N), string(line),
		})
	}
	return t
}

// groupColumns follow a group's name.
var groupColumns = []Column{
	{Head: "FORECASTS", Right: true, Name: "forecasts"},
	{Head: "SAID %", Right: true, Name: "said in per cent"},
	{Head: "SEEN %", Right: true, Name: "seen in per cent"},
	{Head: "BRIER", Right: true, Name: "Brier score"},
	{Head: "BEST RULE", Right: true, Name: "best simple rule"},
}

// row tells a group, if it has forecasts.
func (g *BacktestGroup) row(t *Table, name ...string) {
	if g.Forecasts == 0 {
		return
	}
	best := math.Inf(1)
	for way, b := range g.Brier {
		if way != "farhop" {
			best = math.Min(best, b)
		}
	}
	t.Rows = append(t.Rows, append(name, Grouped(g.Forecasts), strconv.FormatFloat(100*g.Forecast, 'f', 1, 64),
		strconv.FormatFloat(100*g.Seen, 'f', 1, 64), score(g.Brier["farhop"]), score(best)))
}

func (h *BacktestHorizon) partTable() *Table {
	t := &Table{Columns: append([]Column{{Head: "WHICH"}}, groupColumns...)}
	h.Known.row(t, "known")
	h.Unknown.row(t, "unknown")
	for i := range h.ByFreshness {
		g := &h.ByFreshness[i]
		g.row(t, fmt.Sprintf("fresh %.0f to %.0f %%", 100**g.FreshnessLow, 100**g.FreshnessHigh))
	}
	for i := range h.ByHour {
		h.ByHour[i].row(t, fmt.Sprintf("%02d to %02d h", i, i+1))
	}
	return t
}

// shownLinks is how many links the text shows: those with the most forecasts.
const shownLinks = 20

func (h *BacktestHorizon) linkTable() *Table {
	t := &Table{Columns: append([]Column{{Head: "FROM"}, {Head: "TO", Name: "to"}, {Head: "BAND", Name: "band"}}, groupColumns...), Empty: "None."}
	list := append([]BacktestGroup(nil), h.ByLink...)
	sortStable(list, func(a, b *BacktestGroup) bool { return a.Forecasts > b.Forecasts })
	for i := range list[:min(len(list), shownLinks)] {
		list[i].row(t, list[i].From, list[i].To, list[i].Band)
	}
	return t
}

func (v *BacktestDeliverer) document(d *Document) {
	d.Title(fmt.Sprintf("Messages of %s within %s, replayed", Count(v.Frames, "frame", "frames"),
		strings.TrimSuffix(Ahead(v.WithinMinutes), " ahead")))
	d.Say("Each recorded opportunity stands for a slot; the sender knows what is missing, and what acknowledgments cost is left out.")
	for i := range v.Horizons {
		h := &v.Horizons[i]
		d.Title("Said " + Ahead(h.HorizonMinutes))
		d.Say(fmt.Sprintf("%s of %.1f slots on the average; %s through in time.", Count(h.Tries, "try", "tries"), h.Slots, Percent(h.Delivered)))
		if h.Tries > 0 {
			d.Add(scoreTable(h.Models))
			d.Add(reliability(h.Models))
		}
	}
}

// Records gives the scores as rows: of the forecasts, then of the deliveries.
func (v *Backtest) Records() ([]string, [][]string) {
	names := []string{
		"of", "horizon_minutes", "n", "base_rate", "model", "brier", "log_loss", "calibration_error",
		"farhop_better_by", "farhop_better_by_low", "farhop_better_by_high",
	}
	rows := [][]string{}
	add := func(of string, minutes float64, n int, rate float64, models []BacktestModel) {
		for i := range models {
			m := &models[i]
			rows = append(rows, []string{
				of, exact(minutes), strconv.Itoa(n), exact(rate), m.Name, exact(m.Brier), exact(m.LogLoss), exact(m.CalibrationError),
				number(m.Gain, exact, ""), number(m.GainLow, exact, ""), number(m.GainHigh, exact, ""),
			})
		}
	}
	for i := range v.Horizons {
		h := &v.Horizons[i]
		add("slot", h.HorizonMinutes, h.Forecasts, h.BaseRate, h.Models)
	}
	if v.Delivery != nil {
		for i := range v.Delivery.Horizons {
			h := &v.Delivery.Horizons[i]
			add("delivery", h.HorizonMinutes, h.Tries, h.Delivered, h.Models)
		}
	}
	return names, rows
}
