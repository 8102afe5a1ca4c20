package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
	"farhop/cmd/farhop/internal/config"
)

func (c *command) newPlanKeys() *cobra.Command {
	return &cobra.Command{
		Use:   "plan-keys [KEY]",
		Short: "Explain the keys of a plan file",
		Long:  "Explains every key a plan file may have, or one of them: its unit, what is allowed and its default.",
		Example: `  farhop plan-keys
  farhop plan-keys stations.supply`,
		Args: usage(cobra.MaximumNArgs(1)),
		RunE: func(_ *cobra.Command, args []string) error {
			path := ""
			if len(args) == 1 {
				path = args[0]
			}
			text, err := config.Explain(path)
			if err != nil {
				return &app.UsageError{Message: err.Error()}
			}
			_, err = fmt.Fprint(c.streams.Out, text)
			return err
		},
	}
}
