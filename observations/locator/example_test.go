package locator_test

import (
	"fmt"

	"farhop/observations/locator"
)

func Example() {
	harbor, err := locator.Parse("RE44ab")
	if err != nil {
		fmt.Println(err)
		return
	}
	summit, err := locator.Parse("RE56")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f km at %.0f°\n", locator.Distance(harbor, summit), locator.Bearing(harbor, summit))
	fmt.Println(locator.Format(summit, 6))
	// Output:
	// 358 km at 42°
	// RE56mm <nil>
}
