package aysen

import (
	"time"

	"farhop/mesh"
)

// New returns the scenario. Stations are sorted by call, so that an index into
// Stations is also the station's index in the prepared mesh.Net.
func New() *Scenario {
	return &Scenario{
		Name:  "Aysén relief net (invented)",
		Seed:  7,
		Start: at("2026-03-02T00:00"),
		End:   at("2026-03-16T02:30"),
		Channels: []Channel{
			{
				Name: "day", FrequencyHz: 7131000, Windows: []string{"10:30-00:30"},
				OffsetsHz: []int{800, 1200, 1600}, GainDB: 2, ScreenDBPerKM: 0.035,
			},
			{
				Name: "night", FrequencyHz: 3651000, Windows: []string{"22:30-12:00"},
				OffsetsHz: []int{800, 1200, 1600}, GainDB: -2, ScreenDBPerKM: 0.095,
			},
		},
		Stations: stations(),
		Guests: []Station{{
			Call: "TRAWLER", Locator: "FE23jt", PowerW: 10, Channels: []int{Day, Night},
			OnAir: []string{"00:00-24:00"}, Soundings: sounds(60, 28, 56), SiteDB: 2,
			Absent: []Spell{spell("2026-03-01T00:00", "2026-03-07T12:00"), spell("2026-03-08T20:00", "2026-03-20T00:00")},
		}},
		Aliases: []Alias{
			{Call: "JETTY", As: "PIER", Spell: spell("2026-03-02T00:00", "2026-03-06T12:00")},
			{Call: "GLACIER", As: "GLACER", By: "MILL", Spell: spell("2026-03-04T09:00", "2026-03-04T21:00")},
		},
		Bulletin: []Bulletin{
			{Call: "HARBOR", Channel: Day, At: 13*time.Hour + 26*time.Minute, Frames: 6},
			{Call: "HARBOR", Channel: Night, At: time.Hour + 40*time.Minute, Frames: 6},
		},
		Traffic: traffic(),
		Ridge: Ridge{
			South: []string{"JETTY", "LANDING", "OUTPOST"}, Pass: "RANCH",
			LossDB: []float64{Day: 5, Night: 24},
		},
		Wander: Wander{
			FastDB: 6, Fast: time.Hour, SlowDB: 5, Slow: 20 * time.Hour,
			NetDB: 3, Net: 20 * time.Hour, SlotDB: 3.5,
		},
		Evening: Disturbance{
			Spell: spell("2026-03-11T21:00", "2026-03-12T08:00"), Ramp: time.Hour, DepthDB: 12,
		},
		Slots: mesh.Slots{
			Length: 40 * time.Second, Keyed: 34 * time.Second, Characters: 18, Header: 1, Ack: 1, Turnaround: 1,
			Rounds: 6, Block: 10, Identify: 10 * time.Minute, HalfDecodeDB: -16, SpreadDB: 1.5, Busy: 0.1,
		},
	}
}

// Plant names what is hidden in the scenario.
func (s *Scenario) Plant() Planted {
	return Planted{
		Weak: s.Ridge.Pass, CutOff: s.Ridge.South, Deaf: "SCHOOL", Isolated: "ICEFIELD",
		DayOnly:   []string{"CANNERY", "MEADOW", "ORCHARD"},
		LowSupply: []string{"GLACIER", "OUTPOST"},
		Gateways:  []string{"DEPOT", "HARBOR"},
	}
}

func stations() []Station {
	both, always := []int{Day, Night}, []string{"00:00-24:00"}
	list := []Station{
		{
			Call: "BRIDGE", Site: "road camp at a washed-out bridge", Locator: "FE36ta", PowerW: 10, Watch: mesh.WatchDeclared,
			Supply:    supply(128, 4, 35, 160),
			Soundings: sounds(60, 42, 12),
		},
		{
			Call: "CANNERY", Site: "fish cannery, staffed by day", Locator: "FE34fu", PowerW: 10, OnAir: []string{"10:30-23:30"},
			Supply: supply(256, 5, 40, 240), SiteDB: -2,
			Soundings: sounds(60, 44, 14),
		},
		{
			Call: "DEPOT", Site: "store in the north, two receivers, telephone line: second gateway", Locator: "FE46bt", PowerW: 20, MaxPowerW: 50,
			Watch: mesh.WatchAll, Roles: []string{"gateway"}, Supply: supply(512, 10, 65, 600), NoiseDB: 2,
			Soundings: sounds(30, 10, 8),
		},
		{
			Call: "FERRY", Site: "ferry ramp", Locator: "FE35pg", PowerW: 10, MaxPowerW: 20, Supply: supply(128, 4, 35, 160), SiteDB: -3,
			Soundings: sounds(60, 46, 16),
		},
		{
			Call: "GLACIER", Site: "hut below the ice, small solar panel", Locator: "FE33pj", PowerW: 5,
			Supply: supply(64, 2.2, 16, 44), SiteDB: -1,
			Soundings: sounds(60, 48, 18),
		},
		{
			Call: "HARBOR", Site: "harbour office: coordinator, gateway", Locator: "FE34om", PowerW: 20, Watch: mesh.WatchDeclared,
			Roles: []string{"coordinator", "gateway"}, Supply: supply(256, 6, 65, 360), SiteDB: -2, NoiseDB: 2,
			Soundings: sounds(30, 2, 0),
		},
		{
			Call: "ICEFIELD", Site: "boat in a deep fjord under the ice field", Locator: "FE33bh", PowerW: 4, Watch: mesh.WatchDeclared,
			Supply: supply(128, 3, 14, 60), SiteDB: -26, NoiseDB: 6,
			Soundings: sounds(60, 50, 20),
		},
		{
			Call: "ISLAND", Site: "fishing village on the outer islands", Locator: "FE36dc", PowerW: 10, Supply: supply(128, 4, 35, 140),
			SiteDB: 3, Absent: []Spell{spell("2026-03-03T04:00", "2026-03-03T13:00")},
			Soundings: sounds(60, 52, 22),
		},
		{
			Call: "JETTY", Site: "village on stilts, no road", Also: []string{"PIER"}, Locator: "FE32fe", PowerW: 10,
			Supply: supply(100, 3.5, 32, 120), SiteDB: -2, Absent: []Spell{spell("2026-03-10T12:00", "2026-03-11T10:00")},
			Soundings: sounds(60, 54, 24),
		},
		{
			Call: "LANDING", Site: "barge landing", Locator: "FE32ib", PowerW: 10, Watch: mesh.WatchDeclared, Supply: supply(128, 4, 35, 150),
			Soundings: sounds(60, 56, 26),
		},
		{
			Call: "MEADOW", Site: "grass airstrip, staffed by day, day aerial only", Locator: "FE44dc", PowerW: 10,
			Channels: []int{Day}, OnAir: []string{"11:00-23:00"}, Supply: supply(128, 5, 40, 120),
			Soundings: sounds(60, 58, 28)[:1],
		},
		{
			Call: "MILL", Site: "sawmill town", Locator: "FE34xk", PowerW: 20, Watch: mesh.WatchDeclared,
			Supply: supply(256, 6, 65, 320), SiteDB: -2, NoiseDB: 4,
			Soundings: sounds(60, 14, 44),
		},
		{
			Call: "ORCHARD", Site: "fruit farm by the lake, staffed by day", Locator: "FE43dl", PowerW: 10, OnAir: []string{"11:00-00:30"},
			Supply:    supply(128, 4, 35, 120),
			Soundings: sounds(60, 16, 46),
		},
		{
			Call: "OUTPOST", Site: "border post in the far south, small solar panel", Locator: "FE31rm", PowerW: 5,
			Channels: []int{Night, Day}, OnAir: []string{"11:00-15:00", "22:00-06:00"}, Supply: supply(40, 2.2, 16, 22),
			SiteDB: -1, Reduced: []Spell{spell("2026-03-02T00:00", "2026-03-08T15:00")},
			Soundings: sounds(60, 18, 48),
		},
		{
			Call: "QUARRY", Site: "marble quarry", Locator: "FE43ar", PowerW: 10, Supply: supply(128, 4, 35, 150), NoiseDB: 1,
			Absent: []Spell{
				spell("2026-03-09T06:00", "2026-03-09T18:00"), spell("2026-03-13T02:00", "2026-03-13T09:00"),
			},
			Soundings: sounds(60, 20, 50),
		},
		{
			Call: "RANCH", Site: "sheep ranch in the pass", Locator: "FE32rs", PowerW: 15, MaxPowerW: 40, Watch: mesh.WatchDeclared,
			Supply: supply(128, 4, 50, 130), SiteDB: 3,
			Soundings: sounds(30, 6, 4),
		},
		{
			Call: "SCHOOL", Site: "school beside the emergency generator: hears only its noise", Locator: "FE34po", PowerW: 10,
			Watch: mesh.WatchDeclared, Supply: supply(128, 5, 40, 200), SiteDB: 2, NoiseDB: 34,
			Soundings: sounds(60, 22, 52),
		},
		{
			Call: "SUMMIT", Site: "mountain hut with a view to the north", Locator: "FE35vg", PowerW: 10, Supply: supply(200, 4, 35, 110),
			SiteDB: 3, Absent: []Spell{spell("2026-03-05T14:00", "2026-03-06T20:00")},
			Soundings: sounds(60, 24, 54),
		},
	}
	for i := range list {
		if list[i].Channels == nil {
			list[i].Channels = both
		}
		if list[i].OnAir == nil {
			list[i].OnAir = always
		}
	}
	return list
}

// sounds is a schedule on both channels: every so many minutes, at these
// minutes. Every second minute belongs to at most one station a channel.
func sounds(every, day, night int) []mesh.Sounding {
	return []mesh.Sounding{
		{Channel: Day, Every: time.Duration(every) * time.Minute, After: time.Duration(day) * time.Minute},
		{Channel: Night, Every: time.Duration(every) * time.Minute, After: time.Duration(night) * time.Minute},
	}
}

// supply is a battery in Wh (a fifth of it kept in reserve), the draw in W when
// receiving and when keyed, and what charges it in Wh a day.
func supply(batteryWh, receiveW, transmitW, chargeWhPerDay float64) mesh.Supply {
	return mesh.Supply{
		BatteryWh: batteryWh, Reserve: 0.2, ReceiveW: receiveW, TransmitW: transmitW, ChargeWhPerDay: chargeWhPerDay,
	}
}

// index finds a call in a list, −1 when it is not there.
func index(list []Station, call string) int {
	for i := range list {
		if list[i].Call == call {
			return i
		}
	}
	return -1
}

// at reads a moment of the table, in UTC. The table is part of the program: a
// moment that can't be read is a programming error, caught by the tests.
func at(text string) time.Time {
	t, err := time.Parse("2006-01-02T15:04", text)
	if err != nil {
		panic(err)
	}
	return t
}

func spell(from, to string) Spell { return Spell{at(from), at(to)} }

// Holds reports whether the spell holds t.
func (s Spell) Holds(t time.Time) bool { return !t.Before(s.From) && t.Before(s.To) }
