package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newInit() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "init DIR",
		Short: "Write a commented starter plan and a worked example, or draft a plan from a log",
		Long: `Writes a plan whose comments explain every key, and a worked example, into an
empty folder. With --observations it drafts the plan from a log instead:
stations, locators, powers, channels and watch hours, each guess marked.`,
		Example: `  farhop init mynet
  farhop init mynet --observations heard.csv`,
		Args: usage(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			env := c.environment()
			v, err := app.Init(cmd.Context(), args[0], c.options.Request, env)
			if env.Progress != nil {
				env.Progress(-1)
			}
			if err != nil {
				return err
			}
			return c.write(v)
		},
	}
	c.evidenceFlags(cmd)
	c.outputFlags(cmd, "text", "json")
	return cmd
}
