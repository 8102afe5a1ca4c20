package view

import (
	"fmt"
	"strconv"
	"time"
)

// Links is every link of the net at one moment.
type Links struct {
	Head
	Links []Link `json:"links"`
	// HalfDecodeDB is the SNR at which half the frames decode.
	HalfDecodeDB float64 `json:"half_decode_snr_db"`
}

// Link is one direction of a link on one channel.
type Link struct {
	From        string   `json:"from"`
	To          string   `json:"to"`
	Channel     string   `json:"channel"`
	FrequencyHz uint32   `json:"frequency_hz"`
	Decode      float64  `json:"decode"`
	SNRDB       *float64 `json:"snr_db"`
	SNRSDDB     *float64 `json:"snr_sd_db"`
	AgeMinutes  *float64 `json:"age_minutes"`
	Freshness   float64  `json:"freshness"`
	Known       bool     `json:"known"`
	Reports     int      `json:"reports"`
	Unwitnessed int      `json:"unwitnessed_reports"`
	Misses      int      `json:"misses"`
	Inferred    bool     `json:"inferred"`
	Fixed       bool     `json:"fixed"`
	InWindow    bool     `json:"in_window"` // both on the air and listening there at the moment
}

// State says in one word what is known of a link.
func (l *Link) State() string {
	switch {
	case l.Fixed:
		return "stated"
	case l.Inferred:
		return "inferred"
	case !l.Known:
		return "unknown"
	}
	return "known"
}

// Document tells the links as a table.
func (v *Links) Document() Document {
	d := v.open("Links of " + v.Net)
	t := &Table{
		Columns: []Column{
			{Head: "FROM"},
			{Head: "TO", Name: "to"},
			{Head: "ON", Name: "on"},
			{Head: "DECODE", Right: true, Chance: true, Name: "decodes in per cent"},
			{Head: "SNR dB", Right: true, Name: "SNR in dB"},
			{Head: "AGE", Right: true, Name: "age"},
			{Head: "FRESH", Right: true, Name: "freshness in per cent"},
			{Head: "HEARD", Right: true, Name: "reports"},
			{Head: "MISSED", Right: true, Name: "misses"},
			{Head: "", Name: ""},
		},
		Empty: "No links: there is no evidence for any pair of stations, and the plan states none.",
	}
	known, unknown := 0, 0
	for i := range v.Links {
		l := &v.Links[i]
		if l.Known {
			known++
		} else {
			unknown++
		}
		t.Rows = append(t.Rows, l.row())
	}
	d.Add(t)
	if len(v.Links) > 0 {
		d.Say(fmt.Sprintf("%s known, %s unknown.", Count(known, "direction is", "directions are"), Grouped(unknown)))
	}
	v.close(&d,
		"DECODE: chance in per cent that one frame decodes now. SNR: expected, in dB in 2500 Hz; half the frames decode at "+
			strconv.FormatFloat(v.HalfDecodeDB, 'g', -1, 64)+" dB. AGE: of the newest report or miss. FRESH: how much of "+
			"the guesswork the evidence still takes away, 0 to 100 %.",
		"unknown: too little evidence for this hour to call the link open or closed; it is not used unless asked for.")
	return d
}

func (l *Link) row() []string {
	snr := giveOrTake(l.SNRDB, l.SNRSDDB)
	decode := Percents(l.Decode)
	if !l.Known && !l.Inferred {
		decode = "?"
	}
	state := l.State()
	if state == "known" {
		state = ""
	}
	return []string{
		l.From, l.To, l.Channel, decode, snr, number(l.AgeMinutes, ageOf, ""),
		Percents(l.Freshness), strconv.Itoa(l.Reports), strconv.Itoa(l.Misses), state,
	}
}

// giveOrTake writes a figure with its uncertainty, both whole.
func giveOrTake(mean, sd *float64) string {
	s := number(mean, Whole, "")
	if sd != nil {
		s += " ± " + Whole(*sd)
	}
	return s
}

// ageOf says an age given in minutes.
func ageOf(minutes float64) string { return Age(time.Duration(minutes * float64(time.Minute))) }

// Records gives the links as rows.
func (v *Links) Records() ([]string, [][]string) {
	names := []string{
		"from", "to", "channel", "frequency_hz", "decode", "snr_db", "snr_sd_db", "age_minutes",
		"freshness", "known", "reports", "misses", "inferred",
	}
	rows := make([][]string, 0, len(v.Links))
	for i := range v.Links {
		l := &v.Links[i]
		rows = append(rows, []string{
			l.From, l.To, l.Channel, strconv.FormatUint(uint64(l.FrequencyHz), 10), exact(l.Decode),
			number(l.SNRDB, exact, ""), number(l.SNRSDDB, exact, ""), number(l.AgeMinutes, exact, ""),
			exact(l.Freshness), strconv.FormatBool(l.Known), strconv.Itoa(l.Reports), strconv.Itoa(l.Misses),
			strconv.FormatBool(l.Inferred),
		})
	}
	return names, rows
}

// exact writes a figure unrounded.
func exact(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }
