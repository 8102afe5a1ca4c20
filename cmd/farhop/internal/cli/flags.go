package cli

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"farhop/cmd/farhop/internal/app"
)

// flagError turns a complaint about a flag into a usage error that says what the flag
// takes, not how reading it failed.
func flagError(_ *cobra.Command, err error) error {
	var invalid *pflag.InvalidValueError
	if !errors.As(err, &invalid) {
		return &app.UsageError{Message: err.Error()}
	}
	takes, f := "", invalid.GetFlag()
	switch f.Value.Type() {
	case "uint64":
		takes = "a whole number from 0 up"
	case "int":
		takes = "a whole number"
	case "float64":
		takes = "a number"
	case "duration":
		takes = "a time span such as 90m or 12h"
	case "durationSlice":
		takes = "time spans such as 1h,3h"
	case "bool":
		takes = "true or false, or nothing"
	default:
		return &app.UsageError{Message: err.Error()}
	}
	return &app.UsageError{Message: fmt.Sprintf("--%s %q: it is %s", f.Name, invalid.GetValue(), takes)}
}
