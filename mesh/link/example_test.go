package link_test

import (
	"fmt"

	"farhop/mesh/link"
)

// MILL hears HARBOR twice in the forenoon and misses it once.
func ExampleModel() {
	set := link.Defaults()
	set.HalfDecodeDB, set.SpreadDB = -21, 1.5 // of the group's own mode
	m, err := link.NewModel(set)
	if err != nil {
		fmt.Println(err)
		return
	}
	const ten = 1_772_445_600 // 2026-03-02 10:00 UTC
	s := m.NewState()
	m.Report(s, ten, -14, true)
	m.Miss(s, ten+1200, 0)
	m.Report(s, ten+2400, -17, true)

	for _, hours := range []int64{1, 14} {
		f := m.Forecast(s, ten+hours*3600)
		fmt.Printf("after %d h: SNR %.0f ± %.0f dB, a frame decodes with %.0f %%, known: %v\n",
			hours, f.SNR, f.SD, 100*f.Decode, f.Known)
	}
	// Output:
	// after 1 h: SNR -19 ± 7 dB, a frame decodes with 61 %, known: false
	// after 14 h: SNR -21 ± 22 dB, a frame decodes with 51 %, known: false
}
