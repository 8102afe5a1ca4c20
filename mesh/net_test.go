package mesh

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/mesh/link"
)

// smallNet is a plan in order, in the order given by a coordinator.
func smallNet() *Net {
	return &Net{
		Name:  "drill",
		Slots: DefaultSlots(),
		Channels: []Channel{
			{Name: "day", Frequency: 7131000, Windows: Windows{[]Span{{6 * 3600, 12 * 3600}}}},
			{Name: "night", Frequency: 3651000, Windows: Windows{[]Span{{17 * 3600, 14 * 3600}}}},
		},
		Stations: []Station{
			{Call: "summit", PowerW: 5, Locator: "RE46", Channels: []int{0}},
			{Call: " Harbor ", Licensed: "x1abc", Also: []string{"HBR"}, PowerW: 20, Locator: "RE44", Watch: WatchDeclared},
			{
				Call: "MILL", Licensed: "X2DEF/P", PowerW: 10, Channels: []int{1, 0}, Watch: WatchAll,
				Soundings: []Sounding{{Channel: 0, Every: 45 * time.Minute, After: 7 * time.Minute}},
			},
		},
		Fixed: []FixedLink{
			{From: 0, To: 1, Channel: 0, Decode: 0.5, HasDecode: true},
			{From: 2, To: 0, Channel: 0, SNRDB: -12, SNRSDDB: 4},
		},
		Traffic: []Message{
			{ID: "M1", From: 1, To: 0, Characters: 140, Precedence: Welfare},
			{ID: "M2", From: 2, To: EveryMember, Text: "Grüße", Precedence: Routine},
		},
	}
}

func prepared(t testing.TB, n *Net) *Net {
	t.Helper()
	if issues := n.Prepare(); len(issues) > 0 {
		t.Fatalf("Prepare: %v", issues)
	}
	return n
}

func TestPrepareOrders(t *testing.T) {
	n := prepared(t, smallNet())
	var calls []string
	for _, s := range n.Stations {
		calls = append(calls, s.Call)
	}
	if want := []string{"HARBOR", "MILL", "SUMMIT"}; !slices.Equal(calls, want) {
		t.Fatalf("stations %v, want %v", calls, want)
	}
	wantFixed := []FixedLink{
		{From: 2, To: 0, Channel: 0, Decode: 0.5, HasDecode: true},
		{From: 1, To: 2, Channel: 0, SNRDB: -12, SNRSDDB: 4},
	}
	if !reflect.DeepEqual(n.Fixed, wantFixed) {
		t.Errorf("fixed links %+v, want %+v", n.Fixed, wantFixed)
	}
	if m := n.Traffic[0]; m.From != 0 || m.To != 2 {
		t.Errorf("M1 goes from %d to %d, want 0 to 2", m.From, m.To)
	}
	if m := n.Traffic[1]; m.From != 1 || m.To != EveryMember || m.Characters != 5 {
		t.Errorf("M2 is %+v, want from 1 to all, 5 characters", m)
	}
	if p := n.Stations[0].Position; p.Lat != -45.5 || p.Lon != 169 {
		t.Errorf("position %v, want the centre of RE44", p)
	}
	if n.Link.HalfDecodeDB != -16 || n.Link.SpreadDB != 1.5 {
		t.Errorf("link settings have θ %v, δ %v, want those of the slots", n.Link.HalfDecodeDB, n.Link.SpreadDB)
	}
	if n.Evidence != DefaultEvidence() {
		t.Errorf("evidence %+v, want the defaults", n.Evidence)
	}
	if !n.Stations[0].OnAir.Equal(Always()) || !slices.Equal(n.Stations[0].Channels, []int{0, 1}) {
		t.Errorf("defaults not filled: %+v", n.Stations[0])
	}
}

func TestPrepareTwice(t *testing.T) {
	n := prepared(t, smallNet())
	before := n.Clone()
	prepared(t, n)
	if !reflect.DeepEqual(n, before) {
		t.Errorf("second Prepare changed the net:\n%+v\n%+v", n, before)
	}
}

func TestCloneSharesNothing(t *testing.T) {
	n := smallNet()
	n.Stations[0].Supply = &Supply{BatteryWh: 100}
	n.Channels[0].NoisyHz, n.Stations[0].Noisy = []int{900}, []Noise{{Channel: 0, OffsetHz: 700}}
	c := n.Clone()
	c.Stations[0].Supply.BatteryWh = 5
	c.Stations[1].Also[0] = "OTHER"
	c.Stations[2].Channels[0] = 0
	c.Channels[0].Name = "x"
	c.Channels[0].NoisyHz[0] = 1
	c.Stations[0].Noisy[0].OffsetHz = 1
	c.Fixed[0].Decode = 0
	c.Traffic[0].ID = "x"
	want := smallNet()
	want.Stations[0].Supply = &Supply{BatteryWh: 100}
	want.Channels[0].NoisyHz, want.Stations[0].Noisy = []int{900}, []Noise{{Channel: 0, OffsetHz: 700}}
	if !reflect.DeepEqual(n, want) {
		t.Errorf("changing a clone changed the net: %+v", n)
	}
}

func TestPrepareIssues(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Net)
		path   string // of the only issue
		says   string
	}{
		{"slot length", func(n *Net) { n.Slots.Length = 41 * time.Second }, "slots.length", "divide"},
		{"slot of half seconds", func(n *Net) { n.Slots.Length, n.Slots.Keyed = 7500*time.Millisecond, time.Second }, "slots.length", "whole seconds"},
		{"no slot", func(n *Net) { n.Slots.Length = 0 }, "slots.length", ""},
		{"keyed too long", func(n *Net) { n.Slots.Keyed = 41 * time.Second }, "slots.keyed", "40s"},
		{"no characters", func(n *Net) { n.Slots.Characters = 0 }, "slots.characters", ""},
		{"negative header", func(n *Net) { n.Slots.Header = -1 }, "slots.header_frames", ""},
		{"negative ack", func(n *Net) { n.Slots.Ack = -1 }, "slots.acknowledgment_frames", ""},
		{"negative turnaround", func(n *Net) { n.Slots.Turnaround = -1 }, "slots.turnaround_slots", ""},
		{"no rounds", func(n *Net) { n.Slots.Rounds = 0 }, "slots.rounds", ""},
		{"negative block", func(n *Net) { n.Slots.Block = -1 }, "slots.block_frames", ""},
		{"identify", func(n *Net) { n.Slots.Identify = time.Second }, "slots.identify.every", ""},
		{"theta", func(n *Net) { n.Slots.HalfDecodeDB = math.NaN() }, "slots.half_decode_snr_db", "NaN"},
		{"delta", func(n *Net) { n.Slots.SpreadDB = 0 }, "slots.decode_spread_db", ""},
		{"always busy", func(n *Net) { n.Slots.Busy = 1 }, "slots.busy", "less than 1"},
		{"no channel name", func(n *Net) { n.Channels[1].Name = " " }, "channels[1].name", "needed"},
		{"same channel name", func(n *Net) { n.Channels[1].Name = "Day" }, "channels[1].name", "channels[0]"},
		{"no frequency", func(n *Net) { n.Channels[1].Frequency = 0 }, "channels[1].frequency_hz", ""},
		{"offset twice", func(n *Net) { n.Channels[0].OffsetsHz = []int{800, 800} }, "channels[0].offsets_hz[1]", "twice"},
		{"no call", func(n *Net) { n.Stations[0].Call = "" }, "stations[0].call", "needed"},
		{"two words", func(n *Net) { n.Stations[0].Call = "THE MILL" }, "stations[0].call", "one word"},
		{"reserved", func(n *Net) { n.Stations[0].Call = "every-member" }, "stations[0].call", "stands for"},
		{"same call", func(n *Net) { n.Stations[2].Call = "harbor" }, "stations[2].call", "stations[1]"},
		{"call is another's alias", func(n *Net) { n.Stations[2].Call = "hbr" }, "stations[2].call", "stations[1]"},
		{"alias is another's licensed call", func(n *Net) { n.Stations[2].Also = []string{"A", "X1ABC"} }, "stations[2].also[1]", "stations[1]"},
		{"same licensed call", func(n *Net) { n.Stations[2].Licensed = "X1ABC" }, "stations[2].licensed_call", "suffix"},
		{"locator", func(n *Net) { n.Stations[0].Locator = "ZZ99" }, "stations[0].locator", ""},
		{"no power", func(n *Net) { n.Stations[0].PowerW = 0 }, "stations[0].power_w", "more than 0"},
		{"endless power", func(n *Net) { n.Stations[0].PowerW = math.Inf(1) }, "stations[0].power_w", ""},
		{"most below planned", func(n *Net) { n.Stations[0].MaxPowerW = 1 }, "stations[0].max_power_w", "at least"},
		{"channel out of range", func(n *Net) { n.Stations[0].Channels = []int{0, 2} }, "stations[0].channels[1]", "day, night"},
		{"channel twice", func(n *Net) { n.Stations[0].Channels = []int{0, 0} }, "stations[0].channels[1]", "twice"},
		{"watch", func(n *Net) { n.Stations[0].Watch = 7 }, "stations[0].watch", "declared"},
		{"empty role", func(n *Net) { n.Stations[0].Roles = []string{""} }, "stations[0].roles[0]", ""},
		{"sounding out of range", func(n *Net) { n.Stations[2].Soundings[0].Channel = -1 }, "stations[2].soundings[0].channel", ""},
		{"sounding on a channel not used", func(n *Net) {
			n.Stations[0].Soundings = []Sounding{{Channel: 1, Every: time.Hour}}
		}, "stations[0].soundings[0].channel", "night"},
		{"sounding too often", func(n *Net) { n.Stations[2].Soundings[0].Every = time.Second }, "stations[2].soundings[0].every", "40s"},
		{"sounding after too late", func(n *Net) { n.Stations[2].Soundings[0].After = 45 * time.Minute }, "stations[2].soundings[0].after", "less than"},
		{"battery", func(n *Net) { n.Stations[0].Supply = &Supply{} }, "stations[0].supply.battery_wh", ""},
		{"reserve", func(n *Net) { n.Stations[0].Supply = &Supply{BatteryWh: 1, Reserve: 1} }, "stations[0].supply.reserve", ""},
		{"link to nowhere", func(n *Net) { n.Fixed[0].To = 3 }, "links[0].to", "no such station"},
		{"link to itself", func(n *Net) { n.Fixed[0].To = 0 }, "links[0].to", "different"},
		{"link channel", func(n *Net) { n.Fixed[0].Channel = 9 }, "links[0].channel", ""},
		{"link twice", func(n *Net) { n.Fixed[1] = n.Fixed[0] }, "links[1]", "links[0]"},
		{"link chance", func(n *Net) { n.Fixed[0].Decode = 1.5 }, "links[0].decode", ""},
		{"link SNR", func(n *Net) { n.Fixed[1].SNRDB = math.Inf(-1) }, "links[1].snr_db", ""},
		{"link SD", func(n *Net) { n.Fixed[1].SNRSDDB = -1 }, "links[1].snr_sd_db", ""},
		{"common deviation", func(n *Net) { n.CommonDB = -1 }, "model.common_db", ""},
		{"moved", func(n *Net) { n.Evidence = DefaultEvidence(); n.Evidence.MovedKM = 0 }, "evidence.moved_km", ""},
		{"duty", func(n *Net) { n.Limits = DefaultLimits(); n.Limits.DutyLimit = 1.1 }, "limits.duty_limit", "at most 1"},
		{"never a word", func(n *Net) { n.Limits = DefaultLimits(); n.Limits.Quiet = Always() }, "limits.quiet", "whole day"},
		{"side by side", func(n *Net) { n.Limits = DefaultLimits(); n.Limits.SideBySideDB = math.NaN() }, "limits.side_by_side_db", ""},
		{"clearance", func(n *Net) { n.Limits = DefaultLimits(); n.Limits.ClearHz = -1 }, "limits.clear_hz", ""},
		{"noise everywhere", func(n *Net) {
			n.Channels[0].OffsetsHz, n.Channels[0].NoisyHz = []int{800, 850}, []int{840}
		}, "channels[0].noisy_hz", "100 Hz clear"},
		{"noise without offsets", func(n *Net) { n.Channels[0].NoisyHz = []int{840} }, "channels[0].noisy_hz", "offsets_hz"},
		{"noise nowhere", func(n *Net) { n.Stations[0].Noisy = []Noise{{Channel: 4, OffsetHz: 800}} }, "stations[0].noisy[0].channel", "no such"},
		{"station's duty", func(n *Net) { n.Stations[0].DutyLimit = -1 }, "stations[0].duty_limit", "more than 0"},
		{"silent station", func(n *Net) { n.Stations[0].Quiet = Always() }, "stations[0].quiet", "whole day"},
		{"message id twice", func(n *Net) { n.Traffic[1].ID = "M1" }, "traffic[1].id", "traffic[0]"},
		{"message from nowhere", func(n *Net) { n.Traffic[0].From = -1 }, "traffic[0].from", ""},
		{"message to itself", func(n *Net) { n.Traffic[0].To = 1 }, "traffic[0].to", ""},
		{"empty message", func(n *Net) { n.Traffic[1].Text = "" }, "traffic[1].characters", ""},
		{"precedence", func(n *Net) { n.Traffic[0].Precedence = 9 }, "traffic[0].precedence", "EMERGENCY"},
		{"deadline before ready", func(n *Net) {
			n.Traffic[0].Ready, n.Traffic[0].Deadline = time.Unix(100, 0), time.Unix(50, 0)
		}, "traffic[0].deadline", "1970-01-01T00:01:40Z"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n := smallNet()
			tt.change(n)
			issues := n.Prepare()
			if len(issues) != 1 || issues[0].Path != tt.path || !strings.Contains(issues[0].Message, tt.says) {
				t.Errorf("issues %q, want one at %s that says %q", issues, tt.path, tt.says)
			}
		})
	}
}

func TestPrepareSaysAllAtOnce(t *testing.T) {
	n := smallNet()
	n.Slots.Rounds, n.Channels[0].Frequency, n.Stations[1].PowerW, n.Traffic[0].ID = 0, 0, -3, ""
	var paths []string
	for _, issue := range n.Prepare() {
		paths = append(paths, issue.Path)
	}
	want := []string{"slots.rounds", "channels[0].frequency_hz", "stations[1].power_w", "traffic[0].id"}
	if !slices.Equal(paths, want) {
		t.Errorf("issues at %v, want %v", paths, want)
	}
	if n.Stations[0].Call != "SUMMIT" {
		t.Errorf("a plan with issues was reordered")
	}
	if issues := (&Net{}).Prepare(); len(issues) < 4 {
		t.Errorf("the empty net has only %v", issues)
	}
}

func TestModelIssuesUsePlanNames(t *testing.T) {
	n := smallNet()
	prepared(t, n)
	n.Link.LevelSD, n.Link.FastTau = -1, 0
	var paths []string
	for _, issue := range n.Prepare() {
		paths = append(paths, issue.Path)
	}
	if want := []string{"model.level_sd_db", "model.fast_time"}; !slices.Equal(paths, want) {
		t.Errorf("issues at %v, want %v", paths, want)
	}
}

// TestEverySettingHasAKey: a setting that is added needs a name in the plan.
func TestEverySettingHasAKey(t *testing.T) {
	settings := reflect.TypeFor[link.Settings]()
	for i := range settings.NumField() {
		name := settings.Field(i).Name
		if name != "HalfDecodeDB" && name != "SpreadDB" && settingKeys[name] == "" {
			t.Errorf("%s has no key", name)
		}
	}
}

// TestPrepareNeverPanics hands Prepare whatever numbers fit the types.
func TestPrepareNeverPanics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		small, any := rapid.IntRange(-2, 4), rapid.Int()
		n := smallNet()
		n.Slots.Length = time.Duration(rapid.Int64().Draw(t, "length"))
		n.Slots.Identify = time.Duration(rapid.Int64().Draw(t, "identify"))
		n.Slots.Characters = any.Draw(t, "characters")
		n.Stations[0].Channels = rapid.SliceOfN(small, 0, 4).Draw(t, "channels")
		n.Stations[1].PowerW = rapid.Float64().Draw(t, "power")
		n.Stations[1].Call = rapid.String().Draw(t, "call")
		n.Stations[2].Locator = rapid.String().Draw(t, "locator")
		n.Stations[2].Soundings[0] = Sounding{small.Draw(t, "c"), time.Duration(rapid.Int64().Draw(t, "e")), time.Duration(rapid.Int64().Draw(t, "a"))}
		n.Fixed[0] = FixedLink{From: small.Draw(t, "f"), To: any.Draw(t, "t"), Channel: small.Draw(t, "c")}
		n.Traffic[0].To = small.Draw(t, "to")
		if len(n.Prepare()) == 0 {
			for i := range n.Stations {
				n.WatchOf(i, rapid.Int64().Draw(t, "at"))
			}
			n.Slots.Frames(any.Draw(t, "length"))
		}
	})
}

func TestFind(t *testing.T) {
	n := smallNet()
	n.Stations = append(n.Stations,
		Station{Call: "RIDGE", Licensed: "X9CLUB/1", PowerW: 5},
		Station{Call: "FORD", Licensed: "X9CLUB/2", PowerW: 5})
	prepared(t, n)
	tests := []struct{ name, want string }{
		{"HARBOR", "HARBOR"},
		{"harbor", "HARBOR"},
		{" Hbr ", "HARBOR"},
		{"X1ABC", "HARBOR"},
		{"x1abc/p", "HARBOR"},
		{"X1ABC/P/A", "HARBOR"},
		{"HARBOR/P", ""}, // it has a licensed call, and this isn't it
		{"HBR/P", ""},
		{"X2DEF/P", "MILL"},
		{"X2DEF", "MILL"},
		{"X2DEF/M", "MILL"},
		{"SUMMIT/P", "SUMMIT"}, // no licensed call: the planning name stands for it
		{"X9CLUB/1", "RIDGE"},
		{"X9CLUB/2", "FORD"},
		{"X9CLUB/3", ""}, // could be either
		{"X9CLUB", ""},
		{"", ""},
		{"/P", ""},
		{"X1AB", ""},
	}
	for _, tt := range tests {
		i, ok := n.Find(tt.name)
		got := ""
		if ok {
			got = n.Stations[i].Call
		}
		if got != tt.want {
			t.Errorf("Find(%q) = %q, want %q", tt.name, got, tt.want)
		}
	}
	if c, ok := n.FindChannel(" NIGHT"); !ok || c != 1 {
		t.Errorf("FindChannel = %d, %v", c, ok)
	}
	if _, ok := n.FindChannel("dawn"); ok {
		t.Error("found a channel that isn't there")
	}
}
