package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newEndurance() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "endurance",
		Short: "The batteries over the horizon under the timetable's traffic, and what would run them down",
		Long: `Follows each station's battery under the traffic of 'farhop timetable': what its
receiver draws while it is on the air, the transmitter in its place while keyed, and
charging that follows the sun's height at its locator, scaled to the daily energy
the plan states. Tells the lowest charge, the hours until the reserve is reached,
by which message, and the messages that cost most.`,
		Example: `  farhop endurance --plan plan.yaml --observations logs/ --at newest
  farhop endurance --observations logs/ --at newest --charge 0.6 --usable 0.8 --horizon 48h
  farhop endurance --observations logs/ --at newest --station OUTPOST`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Endurance(cmd.Context())
				if err != nil {
					return nil, "", err
				}
				empty := ""
				if len(v.Stations) == 0 {
					empty = "no station states a battery; give them a supply in the plan ('farhop plan-keys stations.supply')"
				}
				return v, empty, nil
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.trafficFlags(cmd)
	c.batteryFlags(cmd)
	f.StringVar(&o.Station, "station", "", "text hour by hour, or the curve, for the station `CALL`")
	f.BoolVar(&o.Exercise, "exercise", false, "a drill: print EXERCISE on it")
	_ = cmd.RegisterFlagCompletionFunc("station", c.stations(100))
	c.outputFlags(cmd, "text", "json", "csv", "svg", "png")
	return cmd
}
