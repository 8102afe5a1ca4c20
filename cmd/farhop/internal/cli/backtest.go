package cli

import (
	"fmt"
	"io"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
)

func (c *command) newBacktest() *cobra.Command {
	q := app.BacktestRequest{MinReports: 50}
	cmd := &cobra.Command{
		Use:   "backtest",
		Short: "How well this log would have been foretold",
		Long: `Goes through the log and forecasts every slot in which a transmission was known
and listened for, from what was known some time before; then scores the
forecasts by what happened, beside four simple rules that know the same.

With --frames and --within, messages are replayed over the recorded slots: was
each through in time, and what chance did the plan give it?`,
		Example: `  farhop backtest --plan plan.yaml --observations logs/ --horizon 15m,3h --at newest
  farhop backtest --observations logs/ --frames 6 --within 2h --format json
  farhop backtest --observations logs/ --score-from 2026-03-09T00:00:00Z --min-reports 20`,
		Args: usage(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !cmd.Flags().Changed("horizon") {
				q.Horizons = nil
			}
			return c.answer(cmd.Context(), func(s *app.Session) (any, string, error) {
				done := c.share("scoring", &q.Progress)
				v, err := s.Backtest(cmd.Context(), q)
				done()
				if err != nil {
					return nil, "", err
				}
				empty := ""
				if v.Links == 0 {
					empty = fmt.Sprintf("no link has the %d reports it takes to be scored; see --min-reports, and 'farhop check'", q.MinReports)
				}
				return v, empty, nil
			})
		},
	}
	f := cmd.Flags()
	c.planFlags(cmd)
	f.DurationSliceVar(&q.Horizons, "horizon", app.DefaultHorizons, "how far ahead to forecast; several with commas or repeated")
	f.StringVar(&q.ScoreFrom, "score-from", "", "score only forecasts for times from this `TIME` on (default after the first 30 % of the span)")
	f.IntVar(&q.MinReports, "min-reports", q.MinReports, "score only links with so many reports")
	f.IntVar(&q.Frames, "frames", 0, "replay messages of so many frames")
	f.DurationVar(&q.Within, "within", 0, "by when a replayed message must be through")
	c.outputFlags(cmd, "text", "json", "csv", "svg", "png")
	return cmd
}

// share sets a function that tells the share of some work done, on a terminal
// only. What it returns wipes the line.
func (c *command) share(doing string, to *func(float64)) (done func()) {
	if !c.streams.Terminal {
		return func() {}
	}
	p := &shareProgress{w: c.streams.Err, now: c.streams.Now, doing: doing, told: c.streams.Now()}
	*to = p.tell
	return p.wipe
}

// shareProgress tells a share, at most twice a second, from any goroutine.
type shareProgress struct {
	mu    sync.Mutex
	w     io.Writer
	now   func() time.Time
	doing string
	told  time.Time
	shown bool
}

func (p *shareProgress) tell(share float64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if t := p.now(); t.Sub(p.told) >= progressEvery {
		p.told, p.shown = t, true
		fmt.Fprintf(p.w, "\r%s: %.0f %%\x1b[K", p.doing, 100*share)
	}
}

func (p *shareProgress) wipe() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
