package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newTable() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "table [STATION]",
		Short: "Who can reach whom: a row a member, both ways, with next hop, chance, time and backup",
		Long: `Who can reach STATION, and whom can STATION reach? A row a member: the next hop
towards it and from it, the chance of delivery by the deadline, when 8 of 10
tries are through, and the next hop of the best other way. Without STATION, the
next hop between all members.`,
		Example: `  farhop table HARBOR --plan plan.yaml --observations logs/ --at newest
  farhop table HARBOR --characters 40 --deadline 90m --zone -03:00
  farhop table --format csv --output next-hops.csv`,
		Args:              usage(cobra.MaximumNArgs(1)),
		ValidArgsFunction: c.stations(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				c.options.From = args[0]
			}
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Table(cmd.Context())
				if err != nil {
					return nil, "", err
				}
				empty := ""
				if v.Unreachable == len(v.Rows) {
					empty = "no chain is known between any of these stations; 'farhop links' shows what the evidence says"
				}
				return v, empty, nil
			})
		},
	}
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.messageFlags(cmd)
	c.radiogramFlags(cmd)
	c.outputFlags(cmd, "text", "json", "csv")
	return cmd
}
