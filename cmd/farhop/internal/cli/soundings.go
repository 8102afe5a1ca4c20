package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newSoundings() *cobra.Command {
	ask := app.DefaultSoundingRequest()
	cmd := &cobra.Command{
		Use:   "soundings",
		Short: "Which stations should sound, on which channel and when, so that what matters stays known",
		Long: `Reports age, and what is known of a link fades. This plans short transmissions
that keep every link that matters known to within a limit, with little airtime:
those on the best or backup chain between any two stations, and those at a station
whose loss cuts the net. Passing what was heard on to the coordinator counts too.
It fits windows and watches, and no two stations share a slot and an offset. It says
what that costs, what half of it would lose, and which links can't be kept and why.

--format yaml writes them as the plan states soundings, to be put into the stations
of the plan file. A plan repeats them every day, so for that the horizon is a day
at most.`,
		Example: `  farhop soundings --plan plan.yaml --observations logs/ --at newest --horizon 3h
  farhop soundings --within-db 9 --coordinator HARBOR
  farhop soundings --horizon 24h --lists-every 6h --format csv --output soundings.csv
  farhop soundings --horizon 24h --format yaml`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Soundings(cmd.Context(), ask)
				if err != nil {
					return nil, "", err
				}
				if c.options.format == "yaml" && !v.FitsPlan() {
					return nil, "", &app.UsageError{Message: "--format yaml: a plan repeats its soundings every day, so ask for a --horizon of up to 24h"}
				}
				empty := ""
				if len(v.Links) == 0 {
					empty = "no estimated link matters: no chain is known that rests on observations; " +
						"'farhop links' shows what the evidence says, --unknown counts links too little is known of"
				}
				return v, empty, nil
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.messageFlags(cmd)
	f.Float64Var(&ask.WithinDB, "within-db", ask.WithinDB, "keep the standard deviation of a link's SNR within so many dB")
	f.DurationVar(&ask.Horizon, "horizon", ask.Horizon, "plan for so long")
	f.StringVar(&ask.Coordinator, "coordinator", "", "the station `CALL` that gathers what was heard (default the first with that role)")
	f.DurationVar(&ask.ListsEvery, "lists-every", ask.ListsEvery, "how often what was heard is passed on")
	f.DurationVar(&ask.Gap, "gap", ask.Gap, "the least time between two soundings of one station")
	f.Float64Var(&o.Threshold, "threshold", o.Threshold, "decode chance from which a link counts as open")
	_ = cmd.RegisterFlagCompletionFunc("coordinator", c.stations(100))
	c.outputFlags(cmd, "text", "json", "csv", "yaml")
	return cmd
}
