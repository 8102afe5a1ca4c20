package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newLinks() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "links",
		Short: "Every link: SNR now, how sure, how old, and whether frames decode",
		Long: `Every direction of every link with evidence: the SNR expected at the moment and
its uncertainty, the age of the newest report or miss, the chance that a frame
decodes, and whether enough is known to call it open or closed at this hour.`,
		Example: `  farhop links --plan plan.yaml --observations logs/ --at newest
  farhop links --heard "1420Z MILL copies HARBOR -9, SUMMIT -14 on day"
  farhop links --channel night --known --format csv`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Links()
				if err != nil {
					return nil, "", err
				}
				empty := ""
				if len(v.Links) == 0 {
					empty = "there is no link to show: no report or miss fits the plan's stations and channels; try 'farhop check'"
				}
				return v, empty, nil
			})
		},
	}
	f, o := cmd.Flags(), &c.options
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	f.StringVar(&o.Channel, "channel", "", "only links on this channel")
	f.BoolVar(&o.KnownOnly, "known", false, "only links known at this hour")
	c.outputFlags(cmd, "text", "json", "csv")
	return cmd
}
