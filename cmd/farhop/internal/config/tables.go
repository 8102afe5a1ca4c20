package config

import (
	"strings"
	"time"
	"unicode"

	"farhop/mesh"
)

// planTable is the outermost keys. Channels come before stations, and those
// before links and traffic, since the later ones name the earlier ones.
var planTable = table[mesh.Net]{fields: []field[mesh.Net]{
	text(Key{
		Name: "net", Allowed: "one line of up to 100 characters", Default: "unnamed net", Sample: "Relief net",
		Help: "The name of the net, printed on everything.",
	}, lineForm(100), nil, func(n *mesh.Net) *string { return &n.Name }),
	settings(Key{
		Name: "slots", Required: true,
		Help: "The slot scheme: how time is cut into slots, what a frame carries, and how an exchange between two stations goes. Take the figures from the mode you use.",
	}, slotsTable, func(n *mesh.Net) *mesh.Slots { return &n.Slots }),
	nonEmpty(entries(Key{
		Name: "channels", Required: true,
		Help: "The frequencies the net uses, each with a name and the UTC hours it is used in. Your band plan and licence decide.",
	}, channelTable, false, func(n *mesh.Net) *[]mesh.Channel { return &n.Channels })),
	nonEmpty(entries(Key{
		Name: "stations", Required: true,
		Help: "The members of the net, one entry each.",
	}, stationTable, false, func(n *mesh.Net) *[]mesh.Station { return &n.Stations })),
	entries(Key{
		Name: "links",
		Help: "Fixed links: what you already know of one direction of a path, in place of an estimate from observations. Give decode, or snr_db; the other direction is an entry of its own.",
	}, linkTable, true, func(n *mesh.Net) *[]mesh.FixedLink { return &n.Fixed }),
	entries(Key{
		Name: "traffic",
		Help: "The messages that wait to be sent.",
	}, trafficTable, true, func(n *mesh.Net) *[]mesh.Message { return &n.Traffic }),
	settings(Key{
		Name: "limits", DefaultNote: "the values below hold",
		Help: "What the net keeps to so that its transmissions get along with each other and with everybody else's.",
	}, limitsTable, func(n *mesh.Net) *mesh.Limits { return &n.Limits }),
	settings(Key{
		Name: "evidence", DefaultNote: "the values below hold",
		Help: "How reports are taken as evidence.",
	}, evidenceTable, func(n *mesh.Net) *mesh.Evidence { return &n.Evidence }),
	settings(Key{
		Name: "model", DefaultNote: "the built-in ones",
		Help: "Settings of the link estimate that differ from the built-in ones. Leave it empty unless a fit of your own log gave you better ones.",
	}, modelTable, func(n *mesh.Net) *mesh.Net { return n }),
}}

var slotsTable = table[mesh.Slots]{fields: []field[mesh.Slots]{
	duration(Key{
		Name: "length", Required: true, Sample: "40s",
		Help: "Length of a slot: one transmission starts at each slot boundary, counted from 00:00 UTC. It must divide 24 hours.",
	}, time.Second, time.Hour, time.Second, func(s *mesh.Slots) *time.Duration { return &s.Length }),
	duration(Key{
		Name: "keyed", DefaultNote: "the slot length", Sample: "34s",
		Help: "How long the transmitter is on within a slot. Airtime and battery drain count this, not the slot.",
	}, 100*time.Millisecond, time.Hour, time.Millisecond, func(s *mesh.Slots) *time.Duration { return &s.Keyed }),
	whole(Key{
		Name: "characters", Required: true, Sample: "18",
		Help: "How many characters of text one frame (one transmission in one slot) carries.",
	}, 1, 10_000, func(s *mesh.Slots) *int { return &s.Characters }),
	whole(Key{
		Name: "header_frames", Default: "1",
		Help: "Frames sent before the text of each message on each hop: addresses, number, length.",
	}, 0, 100, func(s *mesh.Slots) *int { return &s.Header }),
	whole(Key{
		Name: "acknowledgment_frames", Default: "1",
		Help: "Frames an acknowledgment takes. It names the frames that have to be sent again.",
	}, 0, 100, func(s *mesh.Slots) *int { return &s.Ack }),
	whole(Key{
		Name: "turnaround_slots", Default: "1",
		Help: "Slots that pass when a station changes from sending to listening, and back.",
	}, 0, 100, func(s *mesh.Slots) *int { return &s.Turnaround }),
	whole(Key{
		Name: "rounds", Default: "6",
		Help: "How many times a sender tries (frames, then waiting for the acknowledgment) before it gives up.",
	}, 1, 1000, func(s *mesh.Slots) *int { return &s.Rounds }),
	whole(Key{
		Name: "block_frames", Default: "0",
		Help: "Long messages are sent in blocks of so many frames, each acknowledged before the next begins. 0 sends the whole message as one block.",
	}, 0, 10_000, func(s *mesh.Slots) *int { return &s.Block }),
	settings(Key{
		Name: "identify", DefaultNote: "no identification frames are counted",
		Help: "Station identification sent as frames of its own, where your licence asks for it.",
	}, identifyTable, func(s *mesh.Slots) *mesh.Slots { return s }),
	number(Key{
		Name: "half_decode_snr_db", Unit: "dB", Required: true, Sample: "-16",
		Help: "The signal-to-noise ratio, in 2500 Hz, at which half of the frames decode.",
	}, -60, 60, func(s *mesh.Slots) *float64 { return &s.HalfDecodeDB }),
	number(Key{
		Name: "decode_spread_db", Unit: "dB", Default: "1.5",
		Help: "How gently decoding sets in around that point: about 84 in 100 frames decode this much above it, 16 in 100 this much below.",
	}, 0.01, 30, func(s *mesh.Slots) *float64 { return &s.SpreadDB }),
	number(Key{
		Name: "busy", Default: "0",
		Help: "The share of slots in which the channel is taken by others and you have to wait: 0.1 is one in ten.",
	}, 0, 0.99, func(s *mesh.Slots) *float64 { return &s.Busy }),
}, check: checkSlots}

var identifyTable = table[mesh.Slots]{fields: []field[mesh.Slots]{
	duration(Key{
		Name: "every", Required: true, Sample: "10m",
		Help: "One identification frame for every so much time of sending.",
	}, time.Second, 24*time.Hour, time.Second, func(s *mesh.Slots) *time.Duration { return &s.Identify }),
}}

// checkSlots fills in what depends on the slot length.
func checkSlots(_ *decoder, g given, _ string, s *mesh.Slots) bool {
	if !g.has("keyed") {
		s.Keyed = s.Length
	}
	return true
}

var channelTable = table[mesh.Channel]{fields: []field[mesh.Channel]{
	text(Key{
		Name: "name", Type: "name", Required: true, Allowed: nameAllowed, Sample: "day",
		Help: "A short name for the channel, used everywhere else.",
	}, nameForm, nil, func(c *mesh.Channel) *string { return &c.Name }),
	frequency(Key{
		Name: "frequency_hz", Unit: "Hz", Required: true, Sample: "7131000",
		Help: "The dial frequency in hertz.",
	}, func(c *mesh.Channel) *uint32 { return &c.Frequency }),
	windows(Key{
		Name: "windows", DefaultNote: `["00:00-24:00"], always`, Sample: `["17:00-07:00"]`,
		Help: "The UTC hours in which the net uses the channel; a window may run across midnight.",
	}, func(c *mesh.Channel) *mesh.Windows { return &c.Windows }),
	list(Key{
		Name: "offsets_hz", Type: "list of whole numbers", Unit: "Hz", Allowed: "each 1 to 20000", Sample: "[800, 1200, 1600]",
		Help: "Audio offsets on which transmissions can go on side by side.",
	}, offset, func(c *mesh.Channel) *[]int { return &c.OffsetsHz }),
	list(Key{
		Name: "noisy_hz", Type: "list of whole numbers", Unit: "Hz", Allowed: "each 1 to 20000", Sample: "[2000]",
		Help: "Audio offsets at which everybody hears a steady noise on the channel; transmissions keep clear of them.",
	}, offset, func(c *mesh.Channel) *[]int { return &c.NoisyHz }),
}, check: checkChannel}

const nameAllowed = "up to 24 letters, digits and - _ . / without spaces"

// nameForm says what is wrong with the name of a station, a channel or a role.
func nameForm(s string) string {
	if s == "" {
		return "is empty"
	}
	if len([]rune(s)) > 24 {
		return "is too long"
	}
	for _, r := range s {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("-_./", r) {
			return "holds " + quoted(string(r))
		}
	}
	if strings.EqualFold(s, everyMember) {
		return "stands for all stations and can't be a name"
	}
	return ""
}

// lineForm returns a check for one line of printable text.
func lineForm(most int) func(string) string {
	return func(s string) string {
		switch {
		case strings.TrimSpace(s) == "":
			return "is empty"
		case len([]rune(s)) > most:
			return "is too long"
		case strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }):
			return "is not one line of text"
		}
		return ""
	}
}

var limitsTable = table[mesh.Limits]{fields: []field[mesh.Limits]{
	number(Key{
		Name: "duty_limit", Default: "1",
		Help: "The share of the slots of a clock hour in which a station may transmit, where the station states none: 0.25 is a quarter. 1 is no limit.",
	}, 0.001, 1, func(l *mesh.Limits) *float64 { return &l.DutyLimit }),
	windows(Key{
		Name: "quiet", DefaultNote: "none", Sample: `["12:00-12:06"]`,
		Help: "UTC hours in which nobody transmits; all listen.",
	}, func(l *mesh.Limits) *mesh.Windows { return &l.Quiet }),
	number(Key{
		Name: "side_by_side_db", Unit: "dB", Default: "30",
		Help: "Signals on different offsets of a channel are received together up to this difference of level; a stronger one covers the weaker. A choice: receivers differ.",
	}, 0, 200, func(l *mesh.Limits) *float64 { return &l.SideBySideDB }),
	whole(Key{
		Name: "clear_hz", Unit: "Hz", Default: "100",
		Help: "How far offsets that are in use at a time keep from each other, and from noise. A choice: take at least the width of the signal.",
	}, 0, 20_000, func(l *mesh.Limits) *int { return &l.ClearHz }),
}}

var evidenceTable = table[mesh.Evidence]{fields: []field[mesh.Evidence]{
	duration(Key{
		Name: "listening_window", Default: "10m",
		Help: "A station that reported anybody on a band is taken to have listened there for this long afterwards; whoever sent meanwhile and was not reported counts as missed.",
	}, 0, 24*time.Hour, time.Second, func(e *mesh.Evidence) *time.Duration { return &e.ListeningWindow }),
	duration(Key{
		Name: "silent_after", Default: "8h",
		Help: "A station that nobody heard for this long is taken to be off the air; its soundings then no longer count as missed.",
	}, time.Second, 365*24*time.Hour, time.Second, func(e *mesh.Evidence) *time.Duration { return &e.SilentAfter }),
	number(Key{
		Name: "moved_km", Unit: "km", Default: "300",
		Help: "When a station moves this far or farther, nothing learnt of its links holds any longer; for a shorter move a part of it still does.",
	}, 1, 20_000, func(e *mesh.Evidence) *float64 { return &e.MovedKM }),
}}
