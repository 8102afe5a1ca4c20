package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newResilience() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "resilience",
		Short: "What would break the net: isolated stations, groups, single points of failure",
		Long: `Who is isolated, deaf or unheard; which stations reach each other both ways;
whose loss would cut others off, and whom; which pairs of stations are least
firmly joined. Only links known at this hour count.`,
		Example: `  farhop resilience --plan plan.yaml --observations logs/ --at newest
  farhop resilience --threshold 0.8 --two-way
  farhop resilience --pair HARBOR,MILL --format json`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Resilience(cmd.Context())
				if err != nil {
					return nil, "", err
				}
				empty := ""
				if v.OpenLinks == 0 {
					empty = "no link is known to be open at this moment; 'farhop links' shows what the evidence says"
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
	f.StringArrayVar(&o.Pairs, "pair", nil, "look at the ordered pair `A,B` (default all pairs of up to 30 stations); repeatable")
	c.outputFlags(cmd, "text", "json", "csv")
	return cmd
}

// thresholdFlags say when a link counts as open.
func (c *command) thresholdFlags(cmd *cobra.Command) {
	f, o := cmd.Flags(), &c.options
	f.Float64Var(&o.Threshold, "threshold", o.Threshold, "decode chance from which a link counts as open")
	f.BoolVar(&o.Inferred, "inferred", false, "count links inferred from the opposite direction")
	f.BoolVar(&o.Unknown, "unknown", false, "count links of which too little is known")
}
