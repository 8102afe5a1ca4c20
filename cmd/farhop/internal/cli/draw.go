package cli

import (
	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newDraw() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "draw",
		Short: "The net as a picture: who hears whom, groups, single points of failure",
		Long: `The net at the moment as a diagram: stations boxed by group, links wider and
darker the better they decode and dashed when stale, single points of failure
marked by shape, and a legend that says the moment, the threshold and what was
left out. The dot format is read by Graphviz and many drawing programs.`,
		Example: `  farhop draw --plan plan.yaml --observations logs/ --at newest --format dot --output net.dot
  farhop draw --threshold 0.8 | dot -Tsvg -o net.svg`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				v, err := s.Draw(cmd.Context())
				return v, "", err
			})
		},
	}
	c.planFlags(cmd)
	c.whatIfFlags(cmd)
	c.thresholdFlags(cmd)
	c.outputFlags(cmd, "dot")
	return cmd
}
