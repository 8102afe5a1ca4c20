package cli

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
	"farhop/cmd/farhop/internal/render"
	"farhop/cmd/farhop/internal/view"
)

func (c *command) newBrief() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "brief",
		Short: "The plan on paper: a page for the net and a sheet for each operator",
		Long: `The plan for when no computer is at hand: the net on its own pages, and a sheet
for each station with its watch, whom it hears and who hears it, the next hop and
the backup to every other member, its slots in the timetable, when to give up and
what then, what its battery allows, a table to choose by hand, and lines to write
down what is heard.

Every page says what moment it is for, how new the evidence is, and when it is
stale: from then on half of the latest next hops on it share no channel any more,
are no longer known for that hour, or decode half as often as when they begin.

The default is one HTML file for any browser, which prints on A4 and Letter as the
pages it shows and needs no network. --format text is pages of at most 60 lines of 80 columns, with form feeds between;
--station gives one sheet. --format short is for sending: the next hop and the backup
to the destinations that matter most in at most 3 frames, a line a station; what that
costs and what was left out is told beside it.`,
		Example: `  farhop brief --plan plan.yaml --observations logs/ --at newest --output net.html
  farhop brief --observations logs/ --at newest --station HARBOR --format text --zone -03:00 --output harbor.txt
  farhop brief --observations logs/ --at newest --station HARBOR --format short`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if p := c.paper; p != "" && p != "A4" && p != "letter" {
				return &app.UsageError{Message: fmt.Sprintf("--paper %q: it is A4 or letter", p)}
			}
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Brief(cmd.Context())
				return v, "", err
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.trafficFlags(cmd)
	f.StringVar(&o.Station, "station", "", "the sheet of the station `CALL` only")
	f.IntVar(&o.Characters, "characters", o.Characters, "length in characters of the message the next hops are for")
	f.StringVar(&o.Deadline, "deadline", o.Deadline, "its deadline: a time span such as 4h")
	f.BoolVar(&o.Exercise, "exercise", false, "a drill: print EXERCISE on every page")
	f.StringVar(&o.Printed, "printed", "", "when it is printed: now, or a `TIME` (default now with --at now, else left to be filled in)")
	f.Float64Var(&o.Charge, "charge", o.Charge, "charge of every battery at the start, as a share")
	f.Float64Var(&o.Usable, "usable", o.Usable, "share of the batteries' capacity left by cold and age")
	f.StringVar(&c.paper, "paper", "", "print on A4 or letter only (default on whichever the printer has)")
	_ = cmd.RegisterFlagCompletionFunc("station", c.stations(100))
	_ = cmd.RegisterFlagCompletionFunc("paper", words("A4", "letter"))
	c.outputFlags(cmd, "html", "text", "short", "json")
	return cmd
}

// paged reports whether a brief is to be written in a form of its own: only text for a
// screen reader or of another width runs on without pages.
func (o *options) paged() bool {
	return o.format == "html" || o.format == "short" || o.format == "text" && !o.plain && o.width == 0
}

func (c *command) writeBrief(w io.Writer, v *view.Brief) error {
	switch c.options.format {
	case "html":
		return render.BriefHTML(w, v, render.HTMLOptions{Paper: c.paper})
	case "short":
		return render.BriefShort(w, c.streams.Err, v)
	}
	return render.BriefText(w, v)
}
