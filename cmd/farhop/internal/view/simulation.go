package view

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Simulation is a plan played many times, beside the exact figures.
type Simulation struct {
	Head
	From       string      `json:"from"`
	To         string      `json:"to"`
	Start      time.Time   `json:"start"`
	Deadline   time.Time   `json:"deadline"`
	Characters int         `json:"characters"`
	Frames     int         `json:"frames"`
	Runs       int         `json:"runs"`
	Seed       uint64      `json:"seed"`
	Chains     []PlayedRun `json:"chains"`
}

// PlayedRun is one chain, computed and played.
type PlayedRun struct {
	Stations []string `json:"stations"`
	Channels []string `json:"channels"`
	Figures  []Figure `json:"figures"`
	Worst    float64  `json:"largest_difference_standard_errors"`
}

// Figure is one figure, computed and counted.
type Figure struct {
	Name           string   `json:"name"`
	Unit           string   `json:"unit"`
	Computed       *float64 `json:"computed"` // nil: not reached by the deadline
	Counted        *float64 `json:"counted"`
	StandardErrors *float64 `json:"difference_standard_errors"` // nil for times: they move by whole slots
}

// Document tells both beside each other.
func (v *Simulation) Document() Document {
	d := v.open(fmt.Sprintf("%s%s%s played %s times (seed %d): %s, by %s", v.From, Arrow, v.To, Grouped(v.Runs), v.Seed,
		Count(v.Characters, "character", "characters"), v.Clock.At(v.Deadline)))
	for i := range v.Chains {
		c := &v.Chains[i]
		d.Title(strings.Join(c.Stations, Arrow))
		t := &Table{Columns: []Column{
			{Head: ""},
			{Head: "COMPUTED", Right: true, Name: "computed"},
			{Head: "PLAYED", Right: true, Name: "played"},
			{Head: "DIFFERENCE", Right: true, Name: "difference"},
		}}
		for _, f := range c.Figures {
			t.Rows = append(t.Rows, f.row())
		}
		d.Add(t)
		d.Say(c.verdict())
	}
	v.close(&d, "DIFFERENCE in standard errors of the count: about 1 in 3 is beyond 1 by luck alone, 1 in 400 beyond 3.")
	return d
}

func (f *Figure) row() []string {
	write := func(p *float64) string {
		switch {
		case p == nil:
			return "-"
		case f.Unit == "share":
			return strconv.FormatFloat(100**p, 'f', 2, 64) + " %"
		}
		return strconv.FormatFloat(*p, 'f', 2, 64) + " " + f.Unit
	}
	difference := ""
	if f.StandardErrors != nil {
		difference = strconv.FormatFloat(*f.StandardErrors, 'f', 1, 64)
	}
	return []string{f.Name, write(f.Computed), write(f.Counted), difference}
}

func (c *PlayedRun) verdict() string {
	if math.Abs(c.Worst) <= 3 {
		return "Both agree within 3 standard errors."
	}
	return fmt.Sprintf("They differ by up to %.1f standard errors: more than luck explains. Please report this with the plan.", math.Abs(c.Worst))
}

// Records gives the figures as rows.
func (v *Simulation) Records() ([]string, [][]string) {
	var rows [][]string
	for _, c := range v.Chains {
		for _, f := range c.Figures {
			rows = append(rows, []string{
				strings.Join(c.Stations, " - "), f.Name, f.Unit, number(f.Computed, exact, ""),
				number(f.Counted, exact, ""), number(f.StandardErrors, exact, ""),
			})
		}
	}
	return []string{"chain", "figure", "unit", "computed", "counted", "difference_standard_errors"}, rows
}
