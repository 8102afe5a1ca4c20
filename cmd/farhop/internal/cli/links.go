package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newLinks() *cobra.Command {
	sites, o := false, &c.options
	cmd := &cobra.Command{
		Use:   "links",
		Short: "Every link: SNR now, how sure, how old, and whether frames decode",
		Long: `Every direction of every link with evidence: the SNR expected at the moment and
its uncertainty, the age of the newest report or miss, the chance that a frame
decodes, and whether enough is known to call it open or closed at this hour.

With --sites, in place of the links, how well each station hears beside the
others: its receiving offset on each band with the standard error, as the links
known in both directions show it.`,
		Example: `  farhop links --plan plan.yaml --observations logs/ --at newest
  farhop links --heard "1420Z MILL copies HARBOR -9, SUMMIT -14 on day"
  farhop links --channel night --known --format csv
  farhop links --sites --channel day`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if sites && o.KnownOnly {
				return &app.UsageError{Message: "--sites shows no links: leave --known out"}
			}
			if sites {
				return c.answer(cmd.Context(), askSites)
			}
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
	f := cmd.Flags()
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	f.StringVar(&o.Channel, "channel", "", "only links on this channel")
	f.BoolVar(&o.KnownOnly, "known", false, "only links known at this hour")
	f.BoolVar(&sites, "sites", false, "how well each station hears, with standard errors, in place of the links")
	c.outputFlags(cmd, "text", "json", "csv")
	return cmd
}

func askSites(s *app.Session) (any, string, error) {
	v, err := s.Sites()
	if err != nil {
		return nil, "", err
	}
	empty := ""
	if len(v.Sites) == 0 {
		empty = "no pair of stations is known in both directions, so their sites can't be compared; more reports both ways would mend that"
	}
	return v, empty, nil
}
