package cli

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
	"farhop/cmd/farhop/internal/view"
)

func (c *command) newCheck() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Is the input sound? Every problem with its place, and how to mend it",
		Long: `Reads the plan and the observations and lists what is wrong or doubtful: lines
that can't be used, stations never heard, stations heard but not in the plan,
locators that jump, clocks that look off, reports outside every channel, pairs
without a return direction.`,
		Example: `  farhop check --plan plan.yaml
  farhop check --plan plan.yaml --observations logs/ --rejects rejected.csv`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error { return c.check(cmd) },
	}
	c.planFlags(cmd)
	c.outputFlags(cmd, "text", "json", "csv")
	return cmd
}

func (c *command) check(cmd *cobra.Command) error {
	env := c.environment()
	s, err := app.Load(cmd.Context(), c.options.Request, env)
	if env.Progress != nil {
		env.Progress(-1)
	}
	var broken *app.PlanError
	if errors.As(err, &broken) && c.options.format != "text" {
		if err := c.write(app.CheckPlan(broken)); err != nil {
			return err
		}
		return errors.New("the plan can't be used")
	}
	if err != nil {
		return err
	}
	v := s.Check()
	if err := c.write(v); err != nil {
		return err
	}
	if err := s.Done(""); err != nil {
		return err
	}
	if n := v.Count(view.SeverityError); n > 0 && v.Evidence == nil {
		return fmt.Errorf("%s found", view.Count(n, "error", "errors"))
	}
	return nil
}
