package config

import (
	"fmt"
	"strings"
	"time"

	"farhop/mesh"
	"farhop/observations/locator"
)

var watchWords = []string{"heard", "declared", "all"}

var stationTable = table[mesh.Station]{fields: []field[mesh.Station]{
	text(Key{
		Name: "call", Type: "name", Required: true, Allowed: nameAllowed, Sample: "HARBOR",
		Help: "The planning name, used everywhere in the plan. A tactical call does not identify a station on the air.",
	}, nameForm, strings.ToUpper, func(s *mesh.Station) *string { return &s.Call }),
	text(Key{
		Name: "licensed_call", Type: "name", Allowed: nameAllowed + `, or ""`, Sample: `""`,
		Help: "The licensed call sign, printed on every sheet. Logs are matched by it too, with or without a suffix such as /P.",
	}, orEmpty(nameForm), strings.ToUpper, func(s *mesh.Station) *string { return &s.Licensed }),
	list(Key{
		Name: "also", Type: "list of names", Sample: "[]",
		Help: "Other names the station has in logs.",
	}, alias, func(s *mesh.Station) *[]string { return &s.Also }),
	text(Key{
		Name: "locator", Type: "locator", Allowed: "4 to 16 characters, an even number", Sample: "RE44",
		Help: "Where the station is, as a Maidenhead locator. Needed for distances and for drawing a map.",
	}, orEmpty(locatorForm), normalLocator, func(s *mesh.Station) *string { return &s.Locator }),
	number(Key{
		Name: "power_w", Unit: "W", Default: "10", Sample: "20",
		Help: "Transmit power in watts. Reports are scaled to it, so state what the station will use.",
	}, 0.001, 10_000, func(s *mesh.Station) *float64 { return &s.PowerW }),
	number(Key{
		Name: "max_power_w", Unit: "W", DefaultNote: "not stated", Sample: "50",
		Help: "The most it could use, for advice on what would help.",
	}, 0.001, 10_000, func(s *mesh.Station) *float64 { return &s.MaxPowerW }),
	nonEmpty(list(Key{
		Name: "channels", Type: "list of channel names", DefaultNote: "all, in the plan's order", Sample: "[day, night]",
		Help: "The channels it can use. It listens to the first of them that is in its window, so their order matters.",
	}, (*decoder).channel, func(s *mesh.Station) *[]int { return &s.Channels })),
	windows(Key{
		Name: "on_air", DefaultNote: `["00:00-24:00"], always`, Sample: `["00:00-24:00"]`,
		Help: "The UTC hours in which the station is on the air, listening or sending.",
	}, func(s *mesh.Station) *mesh.Windows { return &s.OnAir }),
	choice(Key{
		Name: "watch", Default: "heard",
		Help: "How to judge whether it listened when a report of it is missing. heard: only as its own reports prove; declared: whenever on_air and channels say so; all: it has several receivers and listens to all its channels at once.",
	}, watchWords, func(s *mesh.Station) *mesh.Watch { return &s.Watch }),
	list(Key{
		Name: "roles", Type: "list of words", Sample: "[gateway]",
		Help: "What the station is to the net. Messages can be sent to the best station with a role; gateway (a way out of the net) is the customary one.",
	}, role, func(s *mesh.Station) *[]string { return &s.Roles }),
	entries(Key{
		Name: "soundings",
		Help: "Short transmissions by schedule that let the others measure the path. They make not being heard evidence as well.",
	}, soundingTable, true, func(s *mesh.Station) *[]mesh.Sounding { return &s.Soundings }),
	settings(Key{
		Name: "supply", DefaultNote: "no battery is reckoned",
		Help: "The battery, and what drains and feeds it.",
	}, supplyTable, func(s *mesh.Station) *mesh.Supply {
		s.Supply = &mesh.Supply{}
		return s.Supply
	}),
	number(Key{
		Name: "duty_limit", DefaultNote: "that of limits", Sample: "0.5",
		Help: "The share of the slots of a clock hour in which the station may transmit: 0.25 is a quarter.",
	}, 0.001, 1, func(s *mesh.Station) *float64 { return &s.DutyLimit }),
	windows(Key{
		Name: "quiet", DefaultNote: "none but the net's", Sample: `["03:00-03:30"]`,
		Help: "UTC hours in which the station does not transmit; it listens, but can't answer.",
	}, func(s *mesh.Station) *mesh.Windows { return &s.Quiet }),
	entries(Key{
		Name: "noisy",
		Help: "Steady noises that only this station hears; what it is to receive keeps clear of them.",
	}, noiseTable, true, func(s *mesh.Station) *[]mesh.Noise { return &s.Noisy }),
}, check: checkStation}

var soundingTable = table[mesh.Sounding]{fields: []field[mesh.Sounding]{
	channelKey(Key{
		Name: "channel", Required: true, Sample: "day",
		Help: "The channel it sounds on.",
	}, func(s *mesh.Sounding) *int { return &s.Channel }),
	duration(Key{
		Name: "every", Required: true, Sample: "45m",
		Help: "Time from one sounding to the next, counted from 00:00 UTC.",
	}, time.Second, 24*time.Hour, time.Second, func(s *mesh.Sounding) *time.Duration { return &s.Every }),
	duration(Key{
		Name: "after", Default: "0s", Sample: "7m",
		Help: "When the first one of the day goes out, counted from 00:00 UTC.",
	}, 0, 24*time.Hour, time.Second, func(s *mesh.Sounding) *time.Duration { return &s.After }),
}}

var noiseTable = table[mesh.Noise]{fields: []field[mesh.Noise]{
	channelKey(Key{
		Name: "channel", Required: true, Sample: "day",
		Help: "The channel it hears the noise on.",
	}, func(n *mesh.Noise) *int { return &n.Channel }),
	whole(Key{
		Name: "offset_hz", Unit: "Hz", Required: true, Sample: "1600",
		Help: "The audio offset of the noise.",
	}, 1, 20_000, func(n *mesh.Noise) *int { return &n.OffsetHz }),
}}

var supplyTable = table[mesh.Supply]{fields: []field[mesh.Supply]{
	number(Key{
		Name: "battery_wh", Unit: "Wh", Required: true, Sample: "128",
		Help: "What the battery holds when full. A pack of 12.8 V and 10 Ah holds 128 Wh.",
	}, 0.1, 1e6, func(s *mesh.Supply) *float64 { return &s.BatteryWh }),
	number(Key{
		Name: "reserve", Default: "0.2",
		Help: "The share of the battery that must stay untouched: 0.2 is a fifth.",
	}, 0, 0.99, func(s *mesh.Supply) *float64 { return &s.Reserve }),
	number(Key{
		Name: "receive_w", Unit: "W", Required: true, Sample: "6",
		Help: "What the station draws while listening.",
	}, 0, 100_000, func(s *mesh.Supply) *float64 { return &s.ReceiveW }),
	number(Key{
		Name: "transmit_w", Unit: "W", Required: true, Sample: "65",
		Help: "What it draws in place of that while the transmitter is on. It is more than the transmit power.",
	}, 0, 100_000, func(s *mesh.Supply) *float64 { return &s.TransmitW }),
	number(Key{
		Name: "charge_wh_per_day", Unit: "Wh", Default: "0", Sample: "240",
		Help: "What charging brings in a day, by sun, mains or generator.",
	}, 0, 1e6, func(s *mesh.Supply) *float64 { return &s.ChargeWhPerDay }),
}}

// locatorForm says what is wrong with a locator.
func locatorForm(s string) string {
	if _, err := locator.Parse(s); err != nil {
		return "is no locator: " + err.Error()
	}
	return ""
}

func normalLocator(s string) string {
	if n, err := locator.Normal(s); err == nil {
		return n
	}
	return s
}

// orEmpty lets an empty text pass.
func orEmpty(form func(string) string) func(string) string {
	return func(s string) string {
		if s == "" {
			return ""
		}
		return form(s)
	}
}

// checkStation notes the names of a station for those who refer to it, and
// says where its figures look like a slip.
func checkStation(d *decoder, g given, path string, s *mesh.Station) bool {
	place := len(d.calls)
	if s.Call == "" {
		s.Call = fmt.Sprintf("UNNAMED%d", place) // stands in after a bad or missing call
	}
	d.calls = append(d.calls, s.Call)
	for _, name := range append([]string{s.Call, s.Licensed}, s.Also...) {
		key := strings.ToUpper(name)
		if _, taken := d.stations[key]; !taken && name != "" {
			d.stations[key] = place
		}
	}
	if s.Supply != nil && s.Supply.TransmitW > 0 && s.Supply.TransmitW < s.PowerW && g.has("power_w") {
		d.problem(Problem{
			Path: path + ".supply.transmit_w", Value: figure(s.Supply.TransmitW), Warning: true,
			Message: fmt.Sprintf("%s W drawn is less than the %s W sent (power_w)", figure(s.Supply.TransmitW), figure(s.PowerW)),
			Mend:    "give what the battery supplies while the transmitter is on",
		}, d.nodes[path+".supply.transmit_w"])
	}
	return true
}
