package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
	"farhop/cmd/farhop/internal/view"
)

func (c *command) newDraw() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "draw",
		Short: "The net as a picture: map, diagram or matrix; its day, or that of a chain",
		Long: `The net at the moment as a picture. No other program is needed.

  map      where the stations stand: links as great circles, distances and
           bearings true from the centre, coast lines
  diagram  who is joined with whom, groups framed
  matrix   who hears whom, a cell for each direction
  strip    how each hop of the best chain between --from and --to, and the direct
           link, decode by the hour: now and the 23 hours that follow
  day      how the whole net holds together at each of these hours: groups, who
           is in none, whose loss would cut others off, the worst reach

Links are wider and darker the better they decode and dashed when stale; single
points of failure have a shape of their own; --from and --to put the best chain
on top. The legend says the moment, the threshold and what was left out.

--format svg and png are pictures; text tells the same in words; geojson is for
mapping programs, dot for Graphviz (always the diagram). Unless --view says
otherwise the picture is a map when half of the stations have a locator.`,
		Example: `  farhop draw --plan plan.yaml --observations logs/ --at newest --output net.svg
  farhop draw --view map --from HARBOR --to OUTPOST --centre HARBOR --format png --output map.png
  farhop draw --view matrix --threshold 0.8 --output matrix.svg
  farhop draw --view strip --from HARBOR --to MILL --format png --output day.png
  farhop draw --view day --output today.svg
  farhop draw --view diagram --format dot --output net.dot`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := c.drawable(); err != nil {
				return err
			}
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				if c.options.View == view.StripView {
					v, err := s.Strip(cmd.Context())
					return v, "", err
				}
				if c.options.View == view.DayView {
					v, err := s.NetDay(cmd.Context())
					return v, "", err
				}
				v, err := s.Draw(cmd.Context())
				return v, "", err
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	f.StringVar(&o.View, "view", "", "map, diagram, matrix, strip or day (default the map or diagram that suits the plan)")
	f.StringVar(&o.Centre, "centre", "", "the station `CALL` in the centre of the map (default the middle of the net)")
	f.StringVar(&o.From, "from", "", "put the best chain from the station `CALL` on top")
	f.StringVar(&o.To, "to", "", "the station `CALL` to which the chain leads")
	f.IntVar(&o.Characters, "characters", o.Characters, "length in characters of the message the chain is for")
	f.StringVar(&o.Deadline, "deadline", o.Deadline, "its deadline: a time span such as 4h, or a `TIME`")
	c.whatIfFlags(cmd)
	c.thresholdFlags(cmd)
	c.outputFlags(cmd, "svg", "png", "geojson", "dot", "text")
	_ = cmd.RegisterFlagCompletionFunc("view", words(view.MapView, view.DiagramView, view.MatrixView, view.StripView, view.DayView))
	for _, flag := range []string{"centre", "from", "to"} {
		_ = cmd.RegisterFlagCompletionFunc(flag, c.stations(100))
	}
	return cmd
}

// drawable refuses a format that can't hold the view, and takes the view that a
// format always has.
func (c *command) drawable() error {
	o := &c.options
	only := map[string]string{"dot": view.DiagramView, "geojson": view.MapView}[o.format]
	if only == "" {
		return nil
	}
	if o.View != "" && o.View != only {
		return &app.UsageError{Message: fmt.Sprintf("--format %s holds a %s, not a %s: leave --view out, or use svg or png", o.format, only, o.View)}
	}
	o.View = only
	return nil
}
