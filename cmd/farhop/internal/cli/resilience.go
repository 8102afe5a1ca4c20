package cli

import (
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newResilience() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "resilience",
		Short: "What would break the net: isolated stations, groups, single points of failure",
		Long: `Who is isolated, deaf or unheard; which stations reach each other both ways;
whose loss would cut others off, and whom; which pairs of stations are least
firmly joined. For those cut off: what is known of them, why it likely is, and
what to try. Only links known at this hour count.

With --hours, the same through the next 24 hours. With --reinforce, the change
that helps most (more power, a longer window, another channel, a new relay), or
with --reinforce=N the best N in a row; with both, what helps most over the day.`,
		Example: `  farhop resilience --plan plan.yaml --observations logs/ --at newest
  farhop resilience --threshold 0.8 --two-way
  farhop resilience --pair HARBOR,MILL --format json
  farhop resilience --hours
  farhop resilience --reinforce=3`,
		Args: c.reinforceArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Resilience(cmd.Context())
				if err != nil {
					return nil, "", err
				}
				empty := ""
				if v.OpenLinks == 0 {
					empty = "no link is known to be open at this moment; 'farhop links' shows what the evidence says"
					if v.UnknownLinks > 0 && !v.UnknownUsed {
						empty += ", --unknown counts links too little is known of"
					}
				}
				return v, empty, nil
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.thresholdFlags(cmd)
	f.BoolVar(&o.TwoWay, "two-way", false, "count a link only where its answer decodes with 20 % or more")
	f.Var((*texts)(&o.Pairs), "pair", "look at the ordered pair `A,B` (default all pairs of up to 30 stations); repeatable")
	f.BoolVar(&o.Hours, "hours", false, "how all this changes through the next 24 hours")
	f.IntVar(&o.Reinforce, "reinforce", 0, "the change that helps most, or the best `N` in a row")
	f.Lookup("reinforce").NoOptDefVal = "1"
	c.outputFlags(cmd, "text", "json", "csv")
	return cmd
}

// reinforceArgs lets the number of changes stand apart, as in --reinforce 3.
func (c *command) reinforceArgs(cmd *cobra.Command, args []string) error {
	if len(args) == 1 && cmd.Flags().Changed("reinforce") {
		if n, err := strconv.Atoi(args[0]); err == nil {
			c.options.Reinforce = n
			args = nil
		}
	}
	if cmd.Flags().Changed("reinforce") && c.options.Reinforce < 1 {
		return &app.UsageError{Message: fmt.Sprintf("--reinforce %d: how many changes in a row, 1 or more", c.options.Reinforce)}
	}
	return usage(cobra.NoArgs)(cmd, args)
}

// thresholdFlags say when a link counts as open.
func (c *command) thresholdFlags(cmd *cobra.Command) {
	f, o := cmd.Flags(), &c.options
	f.Float64Var(&o.Threshold, "threshold", o.Threshold, "decode chance from which a link counts as open")
	f.BoolVar(&o.Inferred, "inferred", false, "count links inferred from the opposite direction")
	f.BoolVar(&o.Unknown, "unknown", false, "count links of which too little is known")
}
