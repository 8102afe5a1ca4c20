package view

import (
	"strings"
	"testing"
)

func TestSigned(t *testing.T) {
	for db, want := range map[float64]string{2.84: "+2.8", -0.36: "-0.4", 0: "0.0", -0.04: "0.0", 0.04: "0.0", 0.05: "+0.1", -12: "-12.0"} {
		if got := signed(db); got != want {
			t.Errorf("signed(%v) = %q, want %q", db, got, want)
		}
	}
}

func TestSitesSayWhichCantBeCompared(t *testing.T) {
	v := &Sites{ExtraSDDB: 6, Sites: []Site{
		{Station: "MILL", Channels: []string{"day"}, OffsetDB: 2, OffsetSDDB: 0.5, Pairs: 3, Group: 1},
		{Station: "FORD", Channels: []string{"day"}, OffsetDB: -2, OffsetSDDB: 1.5, Pairs: 1, Group: 1},
	}}
	notes := func() string {
		var all []string
		for _, b := range v.Document().Blocks {
			all = append(all, b.Notes...)
		}
		return strings.Join(all, "\n")
	}
	if s := notes(); strings.Contains(s, "different groups") || !strings.Contains(s, "another 6 dB") {
		t.Errorf("one group: %s", s)
	}
	v.Sites[1].Group = 2
	if s := notes(); !strings.Contains(s, "different groups") {
		t.Errorf("two groups: %s", s)
	}
	if _, rows := v.Records(); len(rows) != 2 || strings.Join(rows[1], ",") != "FORD,day,-2,1.5,1,2" {
		t.Errorf("rows %v", rows)
	}
}
