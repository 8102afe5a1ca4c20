package view

import (
	"strconv"
	"strings"
)

// Sites is how well each station hears, as its links known both ways show it.
type Sites struct {
	Head
	Sites []Site `json:"sites"`
	// ExtraSDDB is the standard deviation that a link inferred with these offsets
	// carries beside that of the link it is inferred from.
	ExtraSDDB float64 `json:"inferred_sd_db"`
}

// Site is a station's reception on a band, beside that of the stations it can be
// compared with.
type Site struct {
	Station    string   `json:"station"`
	Channels   []string `json:"channels"` // those on the band
	OffsetDB   float64  `json:"offset_db"`
	OffsetSDDB float64  `json:"offset_sd_db"` // standard error
	Pairs      int      `json:"pairs"`        // pairs of links known both ways that it rests on
	Group      int      `json:"group"`        // from 1; only stations of one group and band can be compared
}

// Document tells the sites as a table.
func (v *Sites) Document() Document {
	d := v.open("How well each station of " + v.Net + " hears")
	t := &Table{
		Columns: []Column{
			{Head: "STATION"},
			{Head: "ON", Name: "on"},
			{Head: "HEARS dB", Right: true, Name: "hears better than the others by, in dB"},
			{Head: "±", Right: true, Name: "standard error in dB"},
			{Head: "PAIRS", Right: true, Name: "pairs known both ways"},
			{Head: "", Name: ""},
		},
		Empty: "No pair of stations is known in both directions, so nothing can be said of how well each hears.",
	}
	apart := false
	for i := range v.Sites {
		s := &v.Sites[i]
		group := ""
		if s.Group > 1 {
			apart, group = true, "group "+strconv.Itoa(s.Group)
		}
		t.Rows = append(t.Rows, []string{
			s.Station, strings.Join(s.Channels, " "), signed(s.OffsetDB),
			strconv.FormatFloat(s.OffsetSDDB, 'f', 1, 64), strconv.Itoa(s.Pairs), group,
		})
	}
	d.Add(t)
	notes := []string{
		"HEARS: by how many dB the station hears better than the typical one of those it can be compared with (which those far off hardly shift), powers allowed for: " +
			"noise at its site, cable, receiver. ±: standard error; two times in three the truth is within it. " +
			"The path is the same both ways, so the two directions of a pair tell the sites apart.",
		"A link that nobody has listened to is inferred from its opposite direction with these offsets and another " +
			strconv.FormatFloat(v.ExtraSDDB, 'g', -1, 64) + " dB of uncertainty; chains use it only with --inferred.",
	}
	if apart {
		notes = append(notes, "Stations of different groups can't be compared: no links known both ways join them.")
	}
	v.close(&d, notes...)
	return d
}

// signed writes dB with their sign and one decimal.
func signed(db float64) string {
	s := strconv.FormatFloat(db, 'f', 1, 64)
	if s == "-0.0" {
		s = "0.0"
	}
	if db >= 0 && s != "0.0" {
		return "+" + s
	}
	return s
}

// Records gives the sites as rows.
func (v *Sites) Records() ([]string, [][]string) {
	names := []string{"station", "channels", "offset_db", "offset_sd_db", "pairs", "group"}
	rows := make([][]string, 0, len(v.Sites))
	for i := range v.Sites {
		s := &v.Sites[i]
		rows = append(rows, []string{
			s.Station, strings.Join(s.Channels, " "), exact(s.OffsetDB), exact(s.OffsetSDDB), strconv.Itoa(s.Pairs), strconv.Itoa(s.Group),
		})
	}
	return names, rows
}
