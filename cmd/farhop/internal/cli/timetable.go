package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newTimetable() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "timetable",
		Short: "The traffic list as slots: who sends what to whom, when, for the net and for each station",
		Long: `Puts the messages of the plan, or of --traffic FILE, onto the channels: by
precedence, then deadline, each over the surest chain that arrives in time (or a
less sure one that is through much earlier), with as many slots for each hop as
make the whole chain as sure as --margin asks. No two hops clash, windows are
kept, and hops go side by side on different offsets. A message of lower
precedence never delays one of higher precedence. What doesn't fit is listed with
the reason and a change that would make it fit.

A traffic list is CSV with the columns id, from, to, characters or text,
precedence, ready and deadline, or YAML as under traffic in the plan. To plan anew
on the way, --done FILE says what has become of messages: delivered and given-up
ones are left out, held ones go on from the station that holds them, lost ones
start again. For a message to every member, name under station those that have it:
only the rest is planned.

The plan's limits are kept: quiet hours, the share of an hour a station may transmit
(duty_limit), noisy offsets and the distance between offsets in use ('farhop
plan-keys limits'). Stations whose batteries would reach their reserve are named;
--spare-batteries keeps them from relaying where another way is left.`,
		Example: `  farhop timetable --plan plan.yaml --observations logs/ --at newest
  farhop timetable --observations logs/ --at newest --station HARBOR --exercise
  farhop timetable --observations logs/ --at newest --format ics --output net.ics`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Timetable(cmd.Context())
				if err != nil {
					return nil, "", err
				}
				empty := ""
				switch {
				case len(v.Messages) == 0:
					empty = "there are no messages to plan; list them in the plan under traffic, or give --traffic FILE"
				case len(v.Transmissions) == 0:
					empty = fmt.Sprintf("none of %d messages fits", len(v.Messages))
				}
				return v, empty, nil
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.trafficFlags(cmd)
	f.StringVar(&o.Station, "station", "", "text and calendar for the station `CALL` only")
	f.BoolVar(&o.Exercise, "exercise", false, "a drill: print EXERCISE on everything")
	c.batteryFlags(cmd)
	_ = cmd.RegisterFlagCompletionFunc("station", c.stations(100))
	c.outputFlags(cmd, "text", "json", "csv", "ics")
	return cmd
}

// batteryFlags say how batteries are followed.
func (c *command) batteryFlags(cmd *cobra.Command) {
	f, o := cmd.Flags(), &c.options
	f.Float64Var(&o.Charge, "charge", o.Charge, "how full the batteries are at the start, as a share")
	f.Float64Var(&o.Usable, "usable", o.Usable, "share of their capacity that cold and age leave")
}

// spareFlag spares batteries.
func (c *command) spareFlag(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&c.options.SpareBatteries, "spare-batteries", false, "relay through stations that would reach their reserve only where nothing else leads there")
}

// trafficFlags say what is to be sent and how it is planned.
func (c *command) trafficFlags(cmd *cobra.Command) {
	f, o := cmd.Flags(), &c.options
	f.StringVar(&o.Traffic, "traffic", "", "the messages: a CSV or YAML `FILE` in place of the plan's")
	f.StringVar(&o.DoneList, "done", "", "what has become of messages: a CSV `FILE` with id, state (delivered, given-up, held, lost), station(s)")
	f.Float64Var(&o.Margin, "margin", o.Margin, "how sure a message must be through by its planned arrival")
	f.DurationVar(&o.CatchUp, "catch-up", o.CatchUp, "kept free at the end of every hour for overruns; 0s = none")
	f.DurationVar(&o.Horizon, "horizon", o.Horizon, "how far ahead to plan")
	f.IntVar(&o.Relays, "relays", o.Relays, "the most relays a chain may have")
	f.BoolVar(&o.Late, "late", false, "reserve slots for messages that miss their deadline too")
	f.BoolVar(&o.Inferred, "inferred", false, "use links inferred from the opposite direction")
	f.BoolVar(&o.Unknown, "unknown", false, "use links of which too little is known")
	c.spareFlag(cmd)
	_ = cmd.RegisterFlagCompletionFunc("traffic", files("csv", "yaml", "yml"))
}
