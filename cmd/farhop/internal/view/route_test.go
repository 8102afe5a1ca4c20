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

// A second chain that hardly delivers by itself is told as such; a sound one isn't.
func TestPoorBackup(t *testing.T) {
	for _, tc := range []struct {
		second float64
		want   string
	}{{0.004, "Chain 2 is hardly a backup: by itself <1 %."}, {0.19, "by itself 19 %."}, {0.2, ""}, {0.95, ""}} {
		v := &Route{
			Backup: &Backup{Chains: [2]int{0, 1}, DeliveredByDeadline: 0.96},
			Chains: []Chain{{DeliveredByDeadline: 0.95}, {DeliveredByDeadline: tc.second}},
		}
		got := v.backup()
		if told := strings.Contains(got, "hardly a backup"); told != (tc.want != "") || !strings.HasSuffix(got, tc.want) {
			t.Errorf("second with %v: %q", tc.second, got)
		}
	}
}

// A share that isn't reached by the deadline has no time.
func TestAnyRelayTimes(t *testing.T) {
	half := 12.0
	v := &Route{}
	m := &AnyPlan{Exact: true, DeliveredByDeadline: 0.6, P50Minutes: &half}
	got := m.told(v, &Chain{DeliveredByDeadline: 0.1})
	if !strings.Contains(got, "8 in 10 not by then") || !strings.Contains(got, "half not by then") || strings.Contains(got, "by -") {
		t.Error(got)
	}
}
