package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newSimulate() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "simulate FROM TO",
		Short: "Play the plan many times, independently of the exact computation, and compare",
		Long: `Plays the best chains from FROM to TO many times, frame by frame, with dice that
know nothing of the exact computation but the rules of the exchange, and sets what
was counted beside what was computed, with the difference in standard errors.`,
		Example: `  farhop simulate HARBOR MILL --plan plan.yaml --observations logs/ --at newest --runs 20000
  farhop simulate HARBOR OUTPOST --at newest --observations logs/ --chains 1 --seed 7 --runs 20000`,
		Args:              usage(cobra.ExactArgs(2)),
		ValidArgsFunction: c.stations(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			c.options.From, c.options.To = args[0], args[1]
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Simulate(cmd.Context(), c.runsTold())
				if err != nil {
					return nil, "", err
				}
				empty := ""
				if len(v.Chains) == 0 {
					empty = "no chain to " + v.To + ", so nothing was played; 'farhop route' says what is missing"
				}
				return v, empty, nil
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.messageFlags(cmd)
	c.radiogramFlags(cmd)
	o.Chains = 1
	f.IntVar(&o.Chains, "chains", o.Chains, "how many of the best chains to play")
	f.StringVar(&o.Order, "order", o.Order, "what is best: surest, soonest or lightest on airtime")
	f.BoolVar(&o.Confirm, "confirm", false, "play a short reply back to FROM as well")
	f.IntVar(&o.Runs, "runs", o.Runs, "how often to play each chain")
	_ = cmd.RegisterFlagCompletionFunc("order", words("surest", "soonest", "lightest"))
	c.outputFlags(cmd, "text", "json", "csv")
	return cmd
}

// runsTold tells on a terminal how many runs are done; nil where there is none.
func (c *command) runsTold() func(done int) {
	if !c.streams.Terminal {
		return nil
	}
	return func(done int) {
		fmt.Fprintf(c.streams.Err, "\rplayed %d of %d\x1b[K", done, c.options.Runs)
		if done >= c.options.Runs {
			fmt.Fprint(c.streams.Err, "\r\x1b[K")
		}
	}
}
