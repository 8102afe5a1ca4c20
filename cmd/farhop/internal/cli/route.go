package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
	"farhop/cmd/farhop/internal/view"
)

func (c *command) newRoute() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "route FROM [TO[,TO…]]",
		Short: "The best chains for a message: by when, how surely, and what to do when it goes silent",
		Long: `The best chains of relays for a message from FROM to TO: the chance that it is
there by the deadline, when half, 8 or 9 of 10 tries are through, airtime and
energy, the backup that shares no relay, the weakest hop, and for each hop when
to give up and what to do then.`,
		Example: `  farhop route HARBOR MILL --plan plan.yaml --observations logs/ --at newest
  farhop route HARBOR MILL,SUMMIT --characters 130 --deadline 2h --order soonest
  farhop route MILL --to-role gateway --depart best
  farhop route HARBOR MILL --explain
  farhop route HARBOR DEPOT --any-relay
  farhop route HARBOR MILL --text "SEND WATER X TWO TRUCKS" --confirm --format json
  farhop route HARBOR MILL --form radiogram --text "Send water. Two trucks." --precedence welfare --address "CLINIC MILL"`,
		Args:              usage(cobra.RangeArgs(1, 2)),
		ValidArgsFunction: c.stations(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			if (len(args) == 2) == (c.options.ToRole != "") {
				return &app.UsageError{Message: "name the station to reach, or a role with --to-role: one of them; usage: " + cmd.UseLine()}
			}
			c.options.From = args[0]
			if len(args) == 2 {
				c.options.To = args[1]
			}
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Route(cmd.Context())
				if err != nil {
					return nil, "", err
				}
				if len(v) == 1 {
					return v[0], noChain(v), nil
				}
				return v, noChain(v), nil
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.messageFlags(cmd)
	f.StringVar(&o.ToRole, "to-role", "", "in place of TO: the best station with this `ROLE`, such as gateway")
	f.StringVar(&o.Order, "order", o.Order, "what is best: surest, soonest or lightest on airtime")
	f.IntVar(&o.Chains, "chains", o.Chains, "how many chains to show")
	f.StringVar(&o.Depart, "depart", o.Depart, "send now, or hold until the best time")
	f.BoolVar(&o.Confirm, "confirm", false, "plan a short reply back to FROM as well")
	f.BoolVar(&o.Both, "both", false, "send over both chains of the backup pair at once")
	f.BoolVar(&o.Explain, "explain", false, "tell the first chain slot by slot, what each relay is worth, what one more report would settle")
	f.BoolVar(&o.AnyRelay, "any-relay", false, "plan the whole message over whoever hears it as well: who waits how long, and what to expect")
	c.radiogramFlags(cmd)
	c.batteryFlags(cmd)
	c.spareFlag(cmd)
	f.IntVar(&o.Blind, "blind", 0, "send so many times without acknowledgment on a last hop that can't answer")
	_ = cmd.RegisterFlagCompletionFunc("order", words("surest", "soonest", "lightest"))
	_ = cmd.RegisterFlagCompletionFunc("depart", words("now", "best"))
	c.outputFlags(cmd, "text", "json", "csv", "svg", "png")
	return cmd
}

// radiogramFlags give the message the form of a radiogram.
func (c *command) radiogramFlags(cmd *cobra.Command) {
	f, o := cmd.Flags(), &c.options
	r := &o.Radiogram
	f.StringVar(&o.Form, "form", "", "form of the --text: plain, or radiogram with preamble, check, address and signature")
	f.IntVar(&r.Number, "number", r.Number, "number of the radiogram at its station of origin")
	f.StringVar(&r.Precedence, "precedence", r.Precedence, "of the radiogram: emergency, priority, welfare or routine")
	f.StringVar(&r.Handling, "handling", "", "handling instruction of the radiogram, such as HXC (default none)")
	f.StringVar(&r.Place, "place", "", "place of origin of the radiogram (default FROM's locator)")
	f.StringVar(&r.Address, "address", "", "address of the radiogram (default the call of TO)")
	f.StringVar(&r.Signature, "signature", "", "signature of the radiogram (default the call of FROM)")
	_ = cmd.RegisterFlagCompletionFunc("form", words("plain", "radiogram"))
	_ = cmd.RegisterFlagCompletionFunc("precedence", words("emergency", "priority", "welfare", "routine"))
}

// noChain says for which destinations there is no chain, "" when all have one.
func noChain(v view.Routes) string {
	var without []string
	for _, r := range v {
		if len(r.Chains) == 0 {
			without = append(without, r.To)
		}
	}
	if without == nil {
		return ""
	}
	return "no chain to " + view.Names(without)
}
