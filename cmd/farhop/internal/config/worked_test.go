package config

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"farhop/examples/aysen"
	"farhop/mesh"
)

// The worked example's plan says the same as the scenario its log was drawn from.
func TestWorkedExampleIsItsScenario(t *testing.T) {
	got, problems, err := LoadFile("../../../../examples/aysen/plan.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Error(p)
	}
	want, err := aysen.New().Net()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got, cmpopts.IgnoreUnexported(mesh.Net{}), cmpopts.EquateEmpty()); diff != "" {
		t.Error(diff)
	}
}

// Four LiFePO₄ cells of 3.2 V in series make a pack of 12.8 V; one of 10 Ah
// holds 128 Wh (common practice, no source). The help for battery_wh says so.
func TestBatteryHelp(t *testing.T) {
	text, err := Explain("stations.supply.battery_wh")
	if err != nil {
		t.Fatal(err)
	}
	const wattHours = 4 * 3.2 * 10 // 128
	if wattHours != 128 || !strings.Contains(text, "10 Ah") || !strings.Contains(text, "128 Wh") {
		t.Errorf("battery_wh is explained as\n%s", text)
	}
}
