package view

import (
	"strings"
	"testing"
)

// Of many unbeaten chains the first few have rows, the backup pair always has, and
// the rest are counted.
func TestUnbeatenCapped(t *testing.T) {
	v := &Route{Best: 2, Backup: &Backup{Chains: [2]int{1, 9}}}
	for range 10 {
		v.Chains = append(v.Chains, Chain{Stations: []string{"HARBOR", "MILL"}, Hops: []Hop{{From: "HARBOR", To: "MILL"}}})
	}
	var shown []string
	for _, row := range v.chainTable().Rows {
		shown = append(shown, row[0])
	}
	if got, want := strings.Join(shown, " "), "1 2 3* 4* 5* 6* 10*"; got != want {
		t.Errorf("rows %s, want %s", got, want)
	}
	if got := v.more(); !strings.HasPrefix(got, "And 3 more chains that none beats") {
		t.Errorf("told: %q", got)
	}
	if _, rows := v.Records(); len(rows) != 10 {
		t.Errorf("%d rows for scripts", len(rows))
	}
	v.Chains = v.Chains[:6]
	v.Backup = nil
	if got := v.more(); got != "" {
		t.Errorf("nothing left out, but told: %q", got)
	}
}
