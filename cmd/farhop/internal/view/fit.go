package view

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Fit is what a log says about the link settings.
type Fit struct {
	Head
	Better   bool   `json:"better"` // the fitted settings foretell the held out part better
	Fragment string `json:"fragment"`
	Reason   string `json:"reason"` // in words, why the settings are taken or not

	Fitted       int          `json:"fitted"`   // reports and misses that were fitted
	HeldOut      int          `json:"held_out"` // and those that validate
	Until        time.Time    `json:"fitted_until"`
	GainFitted   float64      `json:"gain_fitted"` // in mean log-likelihood one step ahead
	Gain         float64      `json:"gain_held_out"`
	GainError    float64      `json:"gain_held_out_error"` // standard error
	Steps        int          `json:"steps"`
	TimesHeld    bool         `json:"fluctuation_times_held"`
	Ahead        []FitAhead   `json:"ahead"`
	Settings     []FitSetting `json:"settings"`
	CommonDB     float64      `json:"common_db"`
	CommonSeen   *float64     `json:"common_db_seen"` // by the log alone; nil where it shows none
	CommonSquare float64      `json:"common_square_db2"`
	CommonError  *float64     `json:"common_square_error_db2"`
	CommonSlots  int          `json:"common_slots"`
	CommonHours  float64      `json:"common_hours_ahead"`
	CommonStep   float64      `json:"common_square_one_step_db2"` // the square by forecasts one step ahead
}

// FitAhead is the log loss of the held out part so far ahead.
type FitAhead struct {
	HorizonMinutes float64 `json:"horizon_minutes"`
	Before         float64 `json:"log_loss_before"`
	After          float64 `json:"log_loss_after"`
}

// FitSetting is one setting, before and after.
type FitSetting struct {
	Key      string  `json:"key"` // of the plan's model
	Unit     string  `json:"unit"`
	Before   float64 `json:"before"`
	After    float64 `json:"after"`
	Low      float64 `json:"low"` // After less and plus a standard error
	High     float64 `json:"high"`
	AtBounds bool    `json:"at_its_bounds"`
}

// Document says whether the log has anything to teach, and what to write into the plan.
func (v *Fit) Document() Document {
	d := v.open("Link settings learnt from the log: " + v.Net)
	d.Say(v.verdict())
	d.Say("For the plan:")
	d.Try(strings.Split(strings.TrimRight(v.Fragment, "\n"), "\n")...)
	t := &Table{Columns: []Column{
		{Head: "SETTING"},
		{Head: "BUILT IN", Right: true, Name: "built in"},
		{Head: "FITTED", Right: true, Name: "fitted"},
		{Head: "WITHIN", Right: true, Name: "within"},
	}, Empty: "Nothing was fitted."}
	for _, s := range v.Settings {
		within := short(s.Low) + " to " + short(s.High)
		if s.AtBounds {
			within = "at its bounds"
		}
		name := s.Key
		if s.Unit != "" {
			name += ", " + s.Unit
		}
		t.Rows = append(t.Rows, []string{name, short(s.Before), short(s.After), within})
	}
	d.Add(t)
	d.Say(v.common())
	v.close(&d,
		"The settings of the greatest likelihood of what happened one step ahead, given all that was known before, over all links; held near "+
			"the built-in ones as far as the log is silent. WITHIN: one standard error either way.",
		"half_decode_snr_db and decode_spread_db belong to the mode, level_time and harmonic_time are beyond what a log of "+
			"weeks can tell: they are taken as the plan has them.")
	return d
}

func (v *Fit) verdict() string {
	s := fmt.Sprintf("Fitted to %s up to %s, checked on the %s after it.\n", Count(v.Fitted, "report or miss", "reports and misses"),
		v.Clock.Date(v.Until), Count(v.HeldOut, "one", "ones"))
	if v.Better {
		s += "The fitted settings are better: "
	} else {
		s += "The built-in settings are as good; keep them. "
	}
	s += v.Reason + "."
	for _, a := range v.Ahead {
		s += fmt.Sprintf("\nLog loss %s: %.4f by the built-in settings, %.4f by the fitted ones.", Ahead(a.HorizonMinutes), a.Before, a.After)
	}
	return s
}

func (v *Fit) common() string {
	if v.CommonError == nil {
		return fmt.Sprintf("No slot shows several links at once, so the net-wide deviation stays at %s dB.", short(v.CommonDB))
	}
	seen := "none to be seen"
	if v.CommonSeen != nil {
		seen = short(*v.CommonSeen) + " dB"
	}
	return fmt.Sprintf("Net-wide deviation: %s dB. By the log alone, %s (its square %s ± %s dB², %s h ahead; one step ahead %s), from %s "+
		"with several links.", short(v.CommonDB), seen, short(v.CommonSquare), short(*v.CommonError), exact(v.CommonHours),
		short(v.CommonStep), Count(v.CommonSlots, "slot", "slots"))
}

// short writes a figure to three digits.
func short(f float64) string {
	if f == 0 || math.IsNaN(f) || math.IsInf(f, 0) {
		return strconv.FormatFloat(f, 'f', -1, 64)
	}
	digits := 2 - int(math.Floor(math.Log10(math.Abs(f))))
	return strconv.FormatFloat(f, 'f', min(max(digits, 0), 4), 64)
}

// YAML is the fragment with what it rests on, to be put into a plan.
func (v *Fit) YAML() string {
	said := strings.ReplaceAll(strings.TrimSpace(v.verdict()), "\n", "\n# ")
	return "# " + said + "\n" + v.Fragment
}

// Records gives the settings as rows.
func (v *Fit) Records() ([]string, [][]string) {
	rows := [][]string{}
	for _, s := range v.Settings {
		rows = append(rows, []string{
			s.Key, s.Unit, exact(s.Before), exact(s.After), exact(s.Low), exact(s.High), strconv.FormatBool(v.Better),
		})
	}
	return []string{"key", "unit", "before", "after", "low", "high", "better"}, rows
}
