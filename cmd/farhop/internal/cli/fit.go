package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newFit() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "fit",
		Short: "Learn the link settings from the log, as a part of a plan",
		Long: `Looks for the link settings by which the log is most likely, one step ahead, over
all links taken together; checks them on the last part of the log, which is not
fitted; and prints them as the model part of a plan, or says that the built-in
ones are as good. Estimates the net-wide deviation too: what all links of the
net get wrong at the same time.`,
		Example: `  farhop fit --plan plan.yaml --observations logs/ --at newest
  farhop fit --observations logs/ --format yaml --output model.yaml`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				var progress func(float64)
				done := c.share("fitting", &progress)
				v, err := s.Fit(cmd.Context(), progress)
				done()
				return v, "", err
			})
		},
	}
	c.planFlags(cmd)
	c.outputFlags(cmd, "text", "json", "csv", "yaml")
	return cmd
}
