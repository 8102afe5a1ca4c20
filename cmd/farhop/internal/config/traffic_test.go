package config

import (
	"reflect"
	"strings"
	"testing"

	"farhop/mesh"
)

func trafficNet(tb testing.TB) *mesh.Net {
	tb.Helper()
	net, problems := Load("plan.yaml", []byte(`net: Traffic
slots: {length: 40s, characters: 18, half_decode_snr_db: -16}
channels: [{name: day, frequency_hz: 7131000}]
stations: [{call: MILL}, {call: HARBOR, also: [PIER]}, {call: SUMMIT}]
`))
	if net == nil {
		tb.Fatal(problems)
	}
	return net
}

const trafficYAML = `traffic:
  - {id: M1, from: PIER, to: SUMMIT, characters: 140, precedence: WELFARE, ready: "2026-03-02T18:00:00Z", deadline: "2026-03-02T20:00:00Z"}
  - {from: MILL, to: every-member, text: "Boat, at noon"}
`

const trafficCSV = `id,from,to,characters,text,precedence,ready,deadline
M1,pier,summit,140,,welfare,2026-03-02T18:00:00Z,2026-03-02T20:00:00Z
,MILL,every-member,,"Boat, at noon",,,
`

// The same list means the same as CSV, as YAML and as a bare YAML list, with
// indexes into the prepared net.
func TestLoadTraffic(t *testing.T) {
	net := trafficNet(t)
	bare := strings.TrimPrefix(trafficYAML, "traffic:\n")
	var first []mesh.Message
	for _, text := range []string{trafficYAML, trafficCSV, bare, "\ufeff" + trafficCSV} {
		list, problems := LoadTraffic("t", []byte(text), net)
		if len(problems) > 0 || len(list) != 2 {
			t.Fatalf("%q: %d messages, %v", text, len(list), problems)
		}
		if first == nil {
			first = list
		}
		for i := range list {
			if !reflect.DeepEqual(list[i], first[i]) {
				t.Errorf("%q: message %d is %+v, not %+v", text, i, list[i], first[i])
			}
		}
	}
	m := first[0]
	if net.Stations[m.From].Call != "HARBOR" || net.Stations[m.To].Call != "SUMMIT" || m.Precedence != mesh.Welfare || m.Characters != 140 {
		t.Errorf("first message: %+v", m)
	}
	if m := first[1]; m.To != mesh.EveryMember || m.Characters != 13 || m.ID != "M2" || m.Precedence != mesh.Routine {
		t.Errorf("second message: %+v", m)
	}
	if len(net.Traffic) != 0 {
		t.Error("the net was changed")
	}
}

func TestLoadTrafficProblems(t *testing.T) {
	net := trafficNet(t)
	for text, want := range map[string]string{
		"from,to,characters\nMILL,HARBOUR,20\n":                       "t:2:6: traffic[0].to: the plan has no station \"HARBOUR\"; did you mean HARBOR?",
		"from,to,characters\nMILL,HARBOR,many\n":                      "t:2:13: traffic[0].characters: \"many\" is not a whole number",
		"from,to,characters\nMILL,MILL,20\n":                          "destination other than its origin",
		"from,to,characters\nMILL,HARBOR,20,9\n":                      "4 cells under 3 columns",
		"from,to,size\nMILL,HARBOR,20\n":                              "unknown key \"size\"",
		"from,to,text\nMILL,HARBOR,\"open\n":                          "is no CSV",
		"id,from,to,characters\nA,MILL,HARBOR,20\nA,MILL,HARBOR,20\n": "already the id",
		"messages: []\n": "unknown key \"messages\"",
		"traffic:\n  - {from: MILL, to: HARBOR}\n":                         "has no length",
		"- {from: MILL, to: HARBOR, characters: 3, precedence: PRIORTY}\n": "did you mean PRIORITY?",
		"": "is empty",
		"- {from: MILL, to: HARBOR, characters: 3, deadline: tomorrow}\n":                              "is not a time",
		"from,to,characters,ready,deadline\nMILL,HARBOR,3,2026-03-02T18:00:00Z,2026-03-02T17:00:00Z\n": "after ready",
	} {
		list, problems := LoadTraffic("t", []byte(text), net)
		var said []string
		for _, p := range problems {
			said = append(said, p.String())
		}
		if list != nil || !strings.Contains(strings.Join(said, "\n"), want) {
			t.Errorf("%q: %d messages, %q; want %q", text, len(list), said, want)
		}
	}
}

func FuzzLoadTraffic(f *testing.F) {
	f.Add([]byte(trafficYAML))
	f.Add([]byte(trafficCSV))
	net := trafficNet(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		list, problems := LoadTraffic("t", data, net)
		if (list == nil) != Failed(problems) {
			t.Fatalf("list nil: %v, failed: %v", list == nil, Failed(problems))
		}
		for i := range list {
			if list[i].Characters < 1 || list[i].From == list[i].To {
				t.Fatalf("%+v", list[i])
			}
		}
	})
}
