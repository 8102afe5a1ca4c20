package config

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// broken are plans with exactly the problems they must give. A plan that begins
// with + follows the sound head, whose five lines end in a station's entry.
var broken = []struct {
	name, plan string
	want       []string
}{
	{"unknown key under a station", "+    powr_w: 5\n", []string{
		`p:6:5: stations[0].powr_w: unknown key "powr_w"; did you mean power_w? known here are call, licensed_call, also, locator, power_w, max_power_w, channels, on_air, watch, roles, soundings, supply, duty_limit, quiet or noisy`,
	}},
	{"key without its unit", "+    power: 5\n", []string{
		`p:6:5: stations[0].power: unknown key "power"; did you mean power_w? known here are call, licensed_call, also, locator, power_w, max_power_w, channels, on_air, watch, roles, soundings, supply, duty_limit, quiet or noisy`,
	}},
	{"key in the wrong place", "+busy: 0.1\n", []string{
		`p:6:1: busy: unknown key "busy"; it belongs under slots; known here are net, slots, channels, stations, links, traffic, limits, evidence or model`,
	}},
	{"key nobody knows", "+zzzzzz: 0.1\n", []string{
		`p:6:1: zzzzzz: unknown key "zzzzzz"; known here are net, slots, channels, stations, links, traffic, limits, evidence or model`,
	}},
	{"repeated key", "+    power_w: 5\n    power_w: 6\n", []string{
		`p:7:5: stations[0].power_w: is given a second time, first on line 6; keep one of them`,
	}},
	{"key that is a list", "+? [a]\n: 1\n", []string{
		`p:6:3: a key must be a word, has a list; its keys are net, slots, channels, stations, links, traffic, limits, evidence or model`,
	}},
	{"limits", "+    duty_limit: 20\n    quiet: []\n    noisy: [{channel: nigth, offset_hz: 800}, {channel: day}]\nlimits: {duty_limit: 0, clear_hz: 0.5, side_by_side_db: -1}\n", []string{
		`p:6:17: stations[0].duty_limit: 20 is out of range; allowed is a number, 0.001 to 1`,
		`p:7:12: stations[0].quiet: is empty; list at least one, or leave the key out for none but the net's`,
		`p:8:23: stations[0].noisy[0].channel: the plan has no channel "nigth"; did you mean night?`,
		`p:8:47: stations[0].noisy[1].offset_hz: is missing; add offset_hz: with a whole number in Hz, 1 to 20000`,
		`p:9:22: limits.duty_limit: 0 is out of range; allowed is a number, 0.001 to 1`,
		`p:9:35: limits.clear_hz: "0.5" is not a whole number; write a whole number in Hz, 0 to 20000`,
		`p:9:57: limits.side_by_side_db: -1 is out of range; allowed is a number in dB, 0 to 200`,
	}},
	{"decimal comma", "+    power_w: 2,5\n", []string{
		`p:6:14: stations[0].power_w: "2,5" is not a number; write the fraction with a point: 2.5; write a number in W, 0.001 to 10000`,
	}},
	{"no number", "+    power_w: .nan\n    max_power_w: 1e999\n", []string{
		`p:6:14: stations[0].power_w: ".nan" is not a number; write a number in W, 0.001 to 10000`,
		`p:7:18: stations[0].max_power_w: 1e999 is out of range; allowed is a number in W, 0.001 to 10000`,
	}},
	{"hexadecimal", "+    power_w: 0x10\n", []string{
		`p:6:14: stations[0].power_w: "0x10" is not a number; write a number in W, 0.001 to 10000`,
	}},
	{"nothing where a number belongs", "+    power_w:\n", []string{
		`p:6:13: stations[0].power_w: wants a number in W, 0.001 to 10000, has nothing`,
	}},
	{"list where a number belongs", "+    power_w: [5]\n", []string{
		`p:6:14: stations[0].power_w: wants a number in W, 0.001 to 10000, has a list`,
	}},
	{"text where settings belong", "+    supply: big\n", []string{
		`p:6:13: stations[0].supply: wants settings (key: value), has "big"; its keys are battery_wh, reserve, receive_w, transmit_w or charge_wh_per_day`,
	}},
	{"settings without their required keys", "+    supply: {reserve: 2}\n", []string{
		`p:6:13: stations[0].supply.battery_wh: is missing; add battery_wh: with a number in Wh, 0.1 to 1000000`,
		`p:6:13: stations[0].supply.receive_w: is missing; add receive_w: with a number in W, 0 to 100000`,
		`p:6:13: stations[0].supply.transmit_w: is missing; add transmit_w: with a number in W, 0 to 100000`,
		`p:6:23: stations[0].supply.reserve: 2 is out of range; allowed is a number, 0 to 0.99`,
	}},
	{"word where a list belongs", "+    roles: gateway\n", []string{
		`p:6:12: stations[0].roles: wants a list of words, has "gateway"; write [gateway]`,
	}},
	{"empty lists", "+    channels: []\n    on_air: []\n    also: []\n", []string{
		`p:6:15: stations[0].channels: is empty; list at least one, or leave the key out for all, in the plan's order`,
		`p:7:13: stations[0].on_air: is empty; list at least one, or leave the key out for ["00:00-24:00"], always`,
	}},
	{"windows", `+    on_air: ["25:00-07:00", "07:00", "07:00-07:00", [], "22:00-06:00"]` + "\n", []string{
		`p:6:14: stations[0].on_air[0]: "25:00-07:00" is no window: times are HH:MM from 00:00 to 24:00, such as 17:00-07:00; write "17:00-07:00" for five in the afternoon to seven in the morning, UTC`,
		`p:6:29: stations[0].on_air[1]: "07:00" is no window: a start and an end with '-' between are needed, such as 17:00-07:00; write "17:00-07:00" for five in the afternoon to seven in the morning, UTC`,
		`p:6:38: stations[0].on_air[2]: "07:00-07:00" is no window: start and end are the same; write 00:00-24:00 for the whole day; write "17:00-07:00" for five in the afternoon to seven in the morning, UTC`,
		`p:6:53: stations[0].on_air[3]: wants a window "HH:MM-HH:MM", has a list`,
	}},
	{"names", "+    also: [\"A B\", every-member, \"\"]\n  - call: \"\"\n  - call: " + strings.Repeat("A", 25) + "\n", []string{
		`p:6:12: stations[0].also[0]: "A B" holds " "; write a name, up to 24 letters, digits and - _ . / without spaces`,
		`p:6:19: stations[0].also[1]: "every-member" stands for all stations and can't be a name; write a name, up to 24 letters, digits and - _ . / without spaces`,
		`p:6:33: stations[0].also[2]: "" is empty; write a name, up to 24 letters, digits and - _ . / without spaces`,
		`p:7:11: stations[1].call: "" is empty; write a name, up to 24 letters, digits and - _ . / without spaces`,
		`p:8:11: stations[2].call: "AAAAAAAAAAAAAAAAAAAAAAAAA" is too long; write a name, up to 24 letters, digits and - _ . / without spaces`,
	}},
	{"locator", "+    locator: RE4\n", []string{
		`p:6:14: stations[0].locator: "RE4" is no locator: a locator has 4 to 16 characters; write a locator, 4 to 16 characters, an even number`,
	}},
	{"role misspelt", "+    roles: [gatway]\n", []string{
		`p:6:13: warning: stations[0].roles[0]: "gatway" is a role of its own; did you mean gateway?`,
	}},
	{"draws less than it sends", "+    power_w: 20\n    supply: {battery_wh: 10, receive_w: 1, transmit_w: 2}\n", []string{
		`p:7:56: warning: stations[0].supply.transmit_w: 2 W drawn is less than the 20 W sent (power_w); give what the battery supplies while the transmitter is on`,
	}},
	{"power above the most", "+    power_w: 20\n    max_power_w: 10\n", []string{
		`p:7:18: stations[0].max_power_w: 10 is not allowed; it must be at least power_w, 20, and at most 1e+06`,
	}},
	{"what follows from a reported problem", "+    power_w: no\n    max_power_w: 5\n", []string{
		`p:6:14: stations[0].power_w: "no" is not a number; write a number in W, 0.001 to 10000`,
	}},
	{"sounding on a channel not used", "+    channels: [night]\n    soundings: [{channel: nope, every: 1h}, {channel: day, every: 1h}]\n", []string{
		`p:7:27: stations[0].soundings[0].channel: the plan has no channel "nope"; known are day or night`,
		`p:7:55: stations[0].soundings[1].channel: HARBOR does not use day; its channels must list it`,
	}},
	{"duration forms", "+evidence: {listening_window: 10, silent_after: 8 h, moved_km: 0}\nmodel: {fast_time: -1h, slow_time: 1e3s, level_time: 99999d}\n", []string{
		`p:6:30: evidence.listening_window: "10" is not a duration; write it like 40s, 10m, 8h or 1h30m; allowed is a duration, 0s to 24h in steps of 1s`,
		`p:6:48: evidence.silent_after: "8 h" is not a duration; write it like 40s, 10m, 8h or 1h30m; allowed is a duration, 1s to 365d in steps of 1s`,
		`p:6:63: evidence.moved_km: 0 is out of range; allowed is a number in km, 1 to 20000`,
		`p:7:20: model.fast_time: "-1h" is not a duration; write it like 40s, 10m, 8h or 1h30m; allowed is a duration, 1s to 36500d in steps of 1s`,
		`p:7:36: model.slow_time: "1e3s" is not a duration; write it like 40s, 10m, 8h or 1h30m; allowed is a duration, 1s to 36500d in steps of 1s`,
		`p:7:54: model.level_time: 99999d is not possible here; allowed is a duration, 1s to 36500d in steps of 1s`,
	}},
	{"links", "+  - call: MILL\nlinks:\n  - {from: HARBOR, to: MILL, channel: day}\n  - {from: HARBOR, to: MILL, channel: day, decode: 1, snr_db: 2}\n" +
		"  - {from: HARBOR, to: MILL, channel: day, decode: 1, snr_sd_db: 2}\n  - {from: HARBOR, to: NOBODY, channel: day, decode: 1}\n" +
		"  - {from: MILL, to: HARBOR, channel: day, decode: 1}\n  - {from: MILL, to: HARBOR, channel: day, decode: 1}\n", []string{
		`p:8:5: links[0]: says nothing about the link; add decode: 0 to 1, or snr_db: a number in dB`,
		`p:9:63: links[1].snr_db: stands beside decode; give one of decode and snr_db`,
		`p:10:66: links[2].snr_sd_db: stands beside decode; snr_sd_db goes with snr_db only`,
		`p:11:24: links[3].to: the plan has no station "NOBODY"; known are HARBOR or MILL`,
		`p:13:5: links[5]: this direction has already been stated on this channel, in links[0]`,
	}},
	{"traffic", "+  - call: MILL\ntraffic:\n  - {from: HARBOR, to: MILL}\n  - {from: HARBOR, to: MILL, text: A, characters: 1}\n  - {from: HARBOR, to: HARBOR, text: \"\"}\n" +
		"  - {from: HARBOR, to: every-membr, text: A}\n  - {from: HARBOR, to: MILL, text: A, ready: \"2026-03-02T20:00:00Z\", deadline: \"2026-03-02T18:00:00Z\"}\n", []string{
		`p:8:5: traffic[0]: has no length; add characters: a number, or text: the text itself`,
		`p:9:51: traffic[1].characters: stands beside text; give one of text and characters`,
		`p:10:38: traffic[2].text: "" is empty; write a text, up to 100000 characters`,
		`p:11:24: traffic[3].to: the plan has no station "every-membr"; did you mean every-member?`,
		`p:12:80: traffic[4].deadline: the deadline must be after ready, 2026-03-02T20:00:00Z`,
	}},
	{"what is required", "net: N\n", []string{
		`p:1:1: channels: is missing; add channels: with a list of settings`,
		`p:1:1: slots: is missing; add slots: with settings`,
		`p:1:1: stations: is missing; add stations: with a list of settings`,
	}},
	{"nothing in the lists", "slots: {length: 40s}\nchannels: []\nstations:\nlinks: [{from: A, to: B, channel: c, decode: 1}]\n", []string{
		`p:1:8: slots.characters: is missing; add characters: with a whole number, 1 to 10000`,
		`p:1:8: slots.half_decode_snr_db: is missing; add half_decode_snr_db: with a number in dB, -60 to 60`,
		`p:2:11: channels: is empty; list at least one`,
		`p:3:10: stations: is empty; list at least one`,
	}},
	{"slots", "slots:\n  length: 40s\n  keyed: 50s\n  characters: 1.5\n  half_decode_snr_db: -70\n  busy: 1\n  identify: {every: 20s}\nchannels: [{name: a, frequency_hz: 7000000}]\nstations: [{call: A}]\n", []string{
		`p:3:10: slots.keyed: 50s is not allowed; it must be more than 0 and at most the slot length, 40s`,
		`p:4:15: slots.characters: "1.5" is not a whole number; write a whole number, 1 to 10000`,
		`p:5:23: slots.half_decode_snr_db: -70 is out of range; allowed is a number in dB, -60 to 60`,
		`p:6:9: slots.busy: 1 is out of range; allowed is a number, 0 to 0.99`,
		`p:7:21: slots.identify.every: 20s is not allowed; it must be at least the slot length, 40s`,
	}},
	{"channels", "slots: {length: 40s, characters: 18, half_decode_snr_db: -16}\nstations: [{call: A, channels: [a, a]}]\nchannels:\n  - {name: a, frequency_hz: 7.131}\n" +
		"  - {name: b, frequency_hz: 7131 kHz}\n  - {name: c, frequency_hz: 71310000, offsets_hz: [0, 800, 800]}\n  - {frequency_hz: 5000000000}\n", []string{
		`p:2:36: stations[0].channels[1]: "a" is listed twice`,
		`p:4:29: channels[0].frequency_hz: "7.131" is no frequency in hertz; did you mean 7131000? allowed is a whole number in Hz, 30000 to 3000000000`,
		`p:5:29: channels[1].frequency_hz: "7131 kHz" is no frequency in hertz; did you mean 7131000? allowed is a whole number in Hz, 30000 to 3000000000`,
		`p:6:29: warning: channels[2].frequency_hz: 71310000 Hz lies outside 1.6 to 30 MHz; the estimates are made for HF; check the number of digits`,
		`p:6:52: channels[2].offsets_hz[0]: 0 is out of range; allowed is a whole number in Hz, 1 to 20000`,
		`p:6:60: channels[2].offsets_hz[2]: 800 is listed twice`,
		`p:7:5: channels[3].name: is missing; add name: with a name, up to 24 letters, digits and - _ . / without spaces`,
		`p:7:20: channels[3].frequency_hz: 5000000000 is out of range; allowed is a whole number in Hz, 30000 to 3000000000`,
	}},
	{"not a plan", "hello", []string{
		`p:1:1: wants settings (key: value), has "hello"; its keys are net, slots, channels, stations, links, traffic, limits, evidence or model`,
	}},
	{"a list", "- a\n- b\n", []string{
		`p:1:1: wants settings (key: value), has a list; its keys are net, slots, channels, stations, links, traffic, limits, evidence or model`,
	}},
	{"merging a word", "+    <<: word\n", []string{
		`p:6:9: stations[0].<<: wants an alias of settings, has "word"; write <<: *name`,
	}},
}

func TestBroken(t *testing.T) {
	for _, c := range broken {
		t.Run(c.name, func(t *testing.T) {
			plan := c.plan
			if rest, ok := strings.CutPrefix(plan, "+"); ok {
				plan = head + rest
			}
			net, ps := Load("p", []byte(plan))
			if diff := cmp.Diff(c.want, lines(ps)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if (net == nil) != Failed(ps) {
				t.Errorf("net %v, failed %v", net != nil, Failed(ps))
			}
			for _, p := range ps {
				if p.Source != "p" || p.Line < 1 || p.Column < 1 || p.Message == "" {
					t.Errorf("not located: %+v", p)
				}
			}
		})
	}
}
