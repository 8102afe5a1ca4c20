package config

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"farhop/mesh"
	"farhop/mesh/link"
)

var linkTable = table[mesh.FixedLink]{fields: []field[mesh.FixedLink]{
	stationKey(Key{
		Name: "from", Required: true, Sample: "HARBOR",
		Help: "The station that sends.",
	}, func(l *mesh.FixedLink) *int { return &l.From }),
	stationKey(Key{
		Name: "to", Required: true, Sample: "MILL",
		Help: "The station that hears it, or does not.",
	}, func(l *mesh.FixedLink) *int { return &l.To }),
	channelKey(Key{
		Name: "channel", Required: true, Sample: "day",
		Help: "The channel this holds for.",
	}, func(l *mesh.FixedLink) *int { return &l.Channel }),
	number(Key{
		Name: "decode", DefaultNote: "taken from snr_db", Sample: "0.83",
		Help: "The chance that one frame decodes: 0.83 is 83 in 100.",
	}, 0, 1, func(l *mesh.FixedLink) *float64 { return &l.Decode }),
	number(Key{
		Name: "snr_db", Unit: "dB", DefaultNote: "decode says it all", Sample: "-12",
		Help: "In place of decode: the mean signal-to-noise ratio, in 2500 Hz.",
	}, -60, 60, func(l *mesh.FixedLink) *float64 { return &l.SNRDB }),
	number(Key{
		Name: "snr_sd_db", Unit: "dB", Default: "0", Sample: "4",
		Help: "With snr_db: how far it strays from that mean (standard deviation), fading included.",
	}, 0, 60, func(l *mesh.FixedLink) *float64 { return &l.SNRSDDB }),
}, check: checkLink}

// checkLink sees to it that a link is stated in one way.
func checkLink(d *decoder, g given, path string, l *mesh.FixedLink) bool {
	l.HasDecode = g.has("decode")
	switch {
	case l.HasDecode && g.has("snr_db"):
		return d.wrong(g.keys["snr_db"], path+".snr_db", "stands beside decode", "give one of decode and snr_db")
	case l.HasDecode && g.has("snr_sd_db"):
		return d.wrong(g.keys["snr_sd_db"], path+".snr_sd_db", "stands beside decode", "snr_sd_db goes with snr_db only")
	case !l.HasDecode && !g.has("snr_db") && len(g.keys) > 0:
		d.problem(Problem{
			Path: path, Message: "says nothing about the link", Mend: "add decode: 0 to 1, or snr_db: a number in dB",
		}, g.node)
		return false
	}
	return true
}

// modelTable is the settings of the link estimate. Their defaults are those of
// the link package.
var modelTable = func() table[mesh.Net] {
	s := link.Defaults()
	const least, most = time.Second, 36_500 * 24 * time.Hour
	db := func(name string, value, low, high float64, help string, at func(*link.Settings) *float64) field[mesh.Net] {
		return number(Key{Name: name, Unit: "dB", Default: figure(value), Help: help}, low, high,
			func(n *mesh.Net) *float64 { return at(&n.Link) })
	}
	tau := func(name string, value time.Duration, help string, at func(*link.Settings) *time.Duration) field[mesh.Net] {
		return duration(Key{Name: name, Default: span(value), Help: help}, least, most, time.Second,
			func(n *mesh.Net) *time.Duration { return at(&n.Link) })
	}
	type ls = link.Settings
	return table[mesh.Net]{fields: []field[mesh.Net]{
		db("level_mean_db", s.MeanDB, -100, 100, "Mean level of links before any evidence, relative to half_decode_snr_db.", func(s *ls) *float64 { return &s.MeanDB }),
		db("level_sd_db", s.LevelSD, 0, 100, "How much that level differs from link to link (standard deviation).", func(s *ls) *float64 { return &s.LevelSD }),
		tau("level_time", s.LevelTau, "Time over which a link's level changes.", func(s *ls) *time.Duration { return &s.LevelTau }),
		whole(Key{
			Name: "harmonics", Default: fmt.Sprint(s.Harmonics),
			Help: "How finely the course of the day is followed: number of waves that make it up.",
		}, 1, link.MaxHarmonics, func(n *mesh.Net) *int { return &n.Link.Harmonics }),
		db("harmonic_sd_db", s.HarmonicSD, 0, 100, "Size of the once-a-day wave (standard deviation over links).", func(s *ls) *float64 { return &s.HarmonicSD }),
		number(Key{
			Name: "harmonic_ratio", Default: figure(s.HarmonicRatio),
			Help: "Size of each further wave relative to the one before.",
		}, 0, 1, func(n *mesh.Net) *float64 { return &n.Link.HarmonicRatio }),
		tau("harmonic_time", s.HarmonicTau, "Time over which the course of the day changes.", func(s *ls) *time.Duration { return &s.HarmonicTau }),
		db("fast_sd_db", s.FastSD, 0, 100, "Size of the fast fluctuation (standard deviation).", func(s *ls) *float64 { return &s.FastSD }),
		tau("fast_time", s.FastTau, "Time over which the fast fluctuation fades away.", func(s *ls) *time.Duration { return &s.FastTau }),
		db("slow_sd_db", s.SlowSD, 0, 100, "Size of the slow fluctuation (standard deviation).", func(s *ls) *float64 { return &s.SlowSD }),
		tau("slow_time", s.SlowTau, "Time over which the slow fluctuation fades away.", func(s *ls) *time.Duration { return &s.SlowTau }),
		db("slot_sd_db", s.SlotSD, 0.1, 100, "What changes from slot to slot: fading, noise bursts, reporting (standard deviation).", func(s *ls) *float64 { return &s.SlotSD }),
		db("known_sd_db", s.KnownSD, 0.1, 1000, "A link counts as known at an hour at which its ends were on the air lately, while its usual level there is certain to within this (standard deviation).", func(s *ls) *float64 { return &s.KnownSD }),
		number(Key{
			Name: "common_db", Unit: "dB", Default: figure(mesh.DefaultCommonDB),
			Help: "The part of the deviation that all estimated links share: on a disturbed evening all are worse at once.",
		}, 0, 100, func(n *mesh.Net) *float64 { return &n.CommonDB }),
	}}
}()

const everyMember = "every-member"

var precedenceWords = []string{"EMERGENCY", "PRIORITY", "WELFARE", "ROUTINE"}

var trafficTable = table[mesh.Message]{fields: []field[mesh.Message]{
	text(Key{
		Name: "id", Type: "name", Allowed: nameAllowed, DefaultNote: "M1, M2 … by its place in the list", Sample: "M1",
		Help: "A short name for the message.",
	}, nameForm, nil, func(m *mesh.Message) *string { return &m.ID }),
	stationKey(Key{
		Name: "from", Required: true, Sample: "HARBOR",
		Help: "The station it starts from.",
	}, func(m *mesh.Message) *int { return &m.From }),
	destinationKey(Key{
		Name: "to", Required: true, Sample: "SUMMIT",
		Help: "The station it goes to, or " + everyMember + " for all of them.",
	}, func(m *mesh.Message) *int { return &m.To }),
	whole(Key{
		Name: "characters", DefaultNote: "counted from text", Sample: "140",
		Help: "Its length. Give this or the text itself.",
	}, 1, 100_000, func(m *mesh.Message) *int { return &m.Characters }),
	text(Key{
		Name: "text", DefaultNote: "only the length is known", Sample: `"ROAD OPEN AGAIN"`, Allowed: "up to 100000 characters",
		Help: "The text itself, in place of characters.",
	}, textForm, nil, func(m *mesh.Message) *string { return &m.Text }),
	choice(Key{
		Name: "precedence", Default: "ROUTINE", Sample: "WELFARE",
		Help: "What goes first when not everything fits.",
	}, precedenceWords, func(m *mesh.Message) *mesh.Precedence { return &m.Precedence }),
	moment(Key{
		Name: "ready", DefaultNote: "at once", Sample: `"2026-03-02T18:00:00Z"`,
		Help: "When it can be sent.",
	}, func(m *mesh.Message) *time.Time { return &m.Ready }),
	moment(Key{
		Name: "deadline", DefaultNote: "none", Sample: `"2026-03-02T20:00:00Z"`,
		Help: "When it must have arrived.",
	}, func(m *mesh.Message) *time.Time { return &m.Deadline }),
}, check: checkMessage}

func textForm(s string) string {
	switch {
	case strings.TrimSpace(s) == "":
		return "is empty"
	case utf8.RuneCountInString(s) > 100_000:
		return "is too long"
	}
	return ""
}

// checkMessage sees to it that a message has a length and a name.
func checkMessage(d *decoder, g given, path string, m *mesh.Message) bool {
	if m.ID == "" && !g.has("id") {
		m.ID = fmt.Sprintf("M%d", place(path)+1)
	}
	switch {
	case g.has("text") && g.has("characters"):
		return d.wrong(g.keys["characters"], path+".characters", "stands beside text", "give one of text and characters")
	case g.has("text"):
		m.Characters = utf8.RuneCountInString(m.Text)
	case !g.has("characters") && len(g.keys) > 0:
		d.problem(Problem{Path: path, Message: "has no length", Mend: "add characters: a number, or text: the text itself"}, g.node)
		return false
	}
	return true
}
