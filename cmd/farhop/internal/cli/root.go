package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"farhop/cmd/farhop/internal/app"
	"farhop/cmd/farhop/internal/render"
	"farhop/cmd/farhop/internal/view"
)

// options are the flags of one command line: the request and how to write the
// answer.
type options struct {
	app.Request
	format string
	output string
	width  int
	plain  bool
}

// command is what every command of the tree is built with.
type command struct {
	streams Streams
	options options
	paper   string // of a brief
}

// commands are the commands in the order of the help.
var commands = []struct {
	name  string
	build func(*command) *cobra.Command
}{
	{"table", (*command).newTable},
	{"route", (*command).newRoute},
	{"resilience", (*command).newResilience},
	{"links", (*command).newLinks},
	{"soundings", (*command).newSoundings},
	{"timetable", (*command).newTimetable},
	{"endurance", (*command).newEndurance},
	{"brief", (*command).newBrief},
	{"draw", (*command).newDraw},
	{"simulate", (*command).newSimulate},
	{"backtest", (*command).newBacktest},
	{"fit", (*command).newFit},
	{"check", (*command).newCheck},
	{"init", (*command).newInit},
	{"plan-keys", (*command).newPlanKeys},
}

// newRoot builds the tree of commands. If a line begins with the name of one, no other
// is needed and built: that of all takes as long as a small answer.
func newRoot(s Streams, args ...string) *cobra.Command {
	root := &cobra.Command{
		Use:   "farhop",
		Short: "Plan short text messages over HF stations that hear only some of one another",
		Long: `farhop plans short text messages over a scattered net of HF stations, offline.

It takes reports of who heard whom, with SNR and age, and answers: who can reach
whom now and tonight, through which relays, on which channel, by when and how
surely; and which station's loss would cut the net.

Start with 'farhop init DIR', which writes a commented plan and a worked example.

` + view.Caution,
		Example: `  farhop init mynet
  farhop table HARBOR --plan plan.yaml --observations logs/ --at newest
  farhop route HARBOR MILL --plan plan.yaml --observations logs/ --characters 130`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          knownCommand,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetFlagErrorFunc(flagError)
	root.Version = version(debug.ReadBuildInfo())
	root.SetVersionTemplate("{{.Version}}\n")
	root.Flags().Bool("version", false, "tell which build this is")
	root.SuggestionsMinimumDistance = 2
	only := ""
	for _, c := range commands {
		if len(args) > 0 && args[0] == c.name {
			only = c.name
		}
	}
	root.CompletionOptions.DisableDefaultCmd = only != ""
	for _, c := range commands {
		if only == "" || c.name == only {
			// Each has options of its own, so that none changes another's defaults.
			root.AddCommand(c.build(&command{streams: s, options: options{Request: app.DefaultRequest()}}))
		}
	}
	return root
}

// knownCommand refuses a word that is no command, naming those close to it.
func knownCommand(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	message := fmt.Sprintf("there is no command %q", args[0])
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		message += "; did you mean " + strings.Join(near, " or ") + "?"
	}
	return &app.UsageError{Message: message}
}

// usage turns cobra's complaints about arguments into usage errors.
func usage(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if err := check(cmd, args); err != nil {
			return &app.UsageError{Message: err.Error() + "; usage: " + cmd.UseLine()}
		}
		return nil
	}
}

// planFlags are the flags of every command that reads plan and observations.
func (c *command) planFlags(cmd *cobra.Command) {
	f, o := cmd.Flags(), &c.options
	f.StringVar(&o.Plan, "plan", o.Plan, "the plan `FILE`: stations, channels, slots")
	c.evidenceFlags(cmd)
	f.StringVar(&o.Zone, "zone", "", "tell local time beside UTC, as `±HH:MM`")
	f.Float64Var(&o.MaxRejected, "max-rejected", o.MaxRejected, "share of unusable reports above which the exit status is 3")
	f.Uint64Var(&o.Seed, "seed", 0, "seed of whatever is sampled")
	_ = cmd.RegisterFlagCompletionFunc("plan", files("yaml", "yml"))
}

// evidenceFlags name the observations and the moment.
func (c *command) evidenceFlags(cmd *cobra.Command) {
	f, o := cmd.Flags(), &c.options
	f.Var((*texts)(&o.Observations), "observations", "reports of who heard whom: a file, a folder or -; repeatable `PATH`")
	f.Var((*texts)(&o.Heard), "heard", "a typed list, as `TEXT` '1420Z MILL copies HARBOR -9, SUMMIT -14 on day'; repeatable")
	f.StringVar(&o.At, "at", o.At, "the moment to plan for: a `TIME` such as 2026-03-02T18:00:00Z, now or newest")
	f.DurationVar(&o.Window, "window", 0, "use only reports at most so long before the moment (default all)")
	f.StringVar(&o.Rejects, "rejects", "", "keep the rejected lines, as they were, in this `FILE`")
	_ = cmd.RegisterFlagCompletionFunc("at", words("now", "newest"))
}

// messageFlags describe the message to plan for.
func (c *command) messageFlags(cmd *cobra.Command) {
	f, o := cmd.Flags(), &c.options
	f.IntVar(&o.Characters, "characters", o.Characters, "length of the message in characters")
	f.StringVar(&o.Text, "text", "", "the message itself, to count its characters")
	f.StringVar(&o.Deadline, "deadline", o.Deadline, "by when: a time span such as 4h, or a `TIME`")
	f.IntVar(&o.Relays, "relays", o.Relays, "the most relays a chain may have")
	f.BoolVar(&o.Inferred, "inferred", false, "use links inferred from the opposite direction")
	f.BoolVar(&o.Unknown, "unknown", false, "use links of which too little is known")
}

// whatIfFlags change the plan for one answer.
func (c *command) whatIfFlags(cmd *cobra.Command) {
	f, w := cmd.Flags(), &c.options.WhatIf
	f.Var((*texts)(&w.Without), "without", "what if the station `CALL` were gone; repeatable")
	f.Var((*texts)(&w.Power), "power", "what if it had other power, as `CALL=WATTS`; repeatable")
	f.Var((*texts)(&w.OnAir), "on-air", "what if it were on the air at other times, as `CALL=WINDOWS`, 10:00-14:00,20:00-02:00; repeatable")
	f.Var((*texts)(&w.Move), "move", "what if it stood elsewhere, as `CALL=LOCATOR`; repeatable")
	_ = cmd.RegisterFlagCompletionFunc("without", c.stations(100))
}

// outputFlags say how the answer is written.
func (c *command) outputFlags(cmd *cobra.Command, formats ...string) {
	f, o := cmd.Flags(), &c.options
	f.StringVar(&o.format, "format", formats[0], "how to write it: "+strings.Join(formats, ", ")+"; with --output the ending of the file says it too")
	f.StringVar(&o.output, "output", "", "write the answer to this `FILE`")
	if slices.Contains(formats, "text") {
		f.IntVar(&o.width, "width", 0, "columns of text, also for a pipe or file (default those of the terminal; in a pipe or file tables have tabs between columns)")
		f.BoolVar(&o.plain, "plain", false, "text for a screen reader: no columns, arrows or rules")
	}
	_ = cmd.RegisterFlagCompletionFunc("format", words(formats...))
	cmd.PreRunE = func(*cobra.Command, []string) error {
		if ending := strings.TrimPrefix(filepath.Ext(o.output), "."); !f.Changed("format") && slices.Contains(formats, ending) {
			o.format = ending
		}
		if !slices.Contains(formats, o.format) {
			return &app.UsageError{Message: fmt.Sprintf("--format %q: it is %s", o.format, strings.Join(formats, " or "))}
		}
		if f.Changed("characters") && f.Changed("text") {
			return &app.UsageError{Message: "--characters and --text: give the length or the text, not both"}
		}
		if f.Changed("text") && o.Text == "" {
			return &app.UsageError{Message: "--text is empty: give the message, or its length with --characters"}
		}
		if o.width < 0 || o.width > 0 && o.width < 24 {
			return &app.UsageError{Message: fmt.Sprintf("--width %d: at least 24 columns are needed", o.width)}
		}
		return nil
	}
}

// environment is what the request may not choose.
func (c *command) environment() app.Environment {
	e := app.Environment{Now: c.streams.Now(), Stdin: c.streams.In}
	if c.streams.Terminal {
		e.Progress = newProgress(c.streams.Err, c.streams.Now)
	}
	return e
}

// answer loads the session, has it answered and writes the answer. ask returns
// the view and, when the answer is empty, what to say about it.
func (c *command) answer(ctx context.Context, ask func(*app.Session) (v any, empty string, err error)) error {
	env := c.environment()
	s, err := app.Load(ctx, c.options.Request, env)
	if env.Progress != nil {
		env.Progress(-1)
	}
	if err != nil {
		return err
	}
	v, empty, err := ask(s)
	if err != nil {
		return err
	}
	if err := c.compare(s, v, ask); err != nil {
		return err
	}
	s.WriteProblems(c.streams.Err, 5)
	if err := c.write(v); err != nil {
		return err
	}
	return s.Done(empty)
}

// compare sets an answer beside the same without what was assumed, where the format
// has room for it.
func (c *command) compare(s *app.Session, v any, ask func(*app.Session) (v any, empty string, err error)) error {
	after, ok := v.(view.Comparing)
	if !ok || s.Plain() == nil || !slices.Contains([]string{"text", "json", "svg", "png"}, c.options.format) {
		return nil
	}
	plain, _, err := ask(s.Plain())
	if before, ok := plain.(view.Comparing); ok && err == nil {
		after.Compare(before.InShort(), after.InShort())
	}
	return err
}

// write writes an answer in the format asked for.
func (c *command) write(v any) (err error) {
	w := io.Writer(c.streams.Out)
	if c.options.output != "" {
		file, err := os.Create(c.options.output)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, file.Close()) }()
		w = file
	}
	switch c.options.format {
	case "json":
		return render.JSON(w, v)
	case "csv":
		return render.CSV(w, v.(view.Tabular))
	case "ics":
		return render.Calendar(w, v.(view.Scheduled))
	case "yaml":
		return render.YAML(w, v.(view.Fragment))
	case "dot", "svg", "png", "geojson":
		return render.Picture(w, v, c.options.format)
	}
	if b, ok := v.(*view.Brief); ok && c.options.paged() {
		return c.writeBrief(w, b)
	}
	return render.Text(w, v.(view.Documented), c.textOptions())
}

// textOptions lay text out for where it goes: aligned for a terminal or a width
// asked for, as rows with tabs for a pipe or a file.
func (c *command) textOptions() render.TextOptions {
	o := render.TextOptions{Plain: c.options.plain, Width: c.options.width}
	onTerminal := c.options.output == ""
	if o.Width == 0 && onTerminal {
		o.Width = c.streams.Width
	}
	o.Tabs = o.Width == 0 && !o.Plain
	o.Colour = c.streams.Colour && onTerminal && !o.Plain
	return o
}

// words completes from fixed words.
func words(w ...string) func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return w, cobra.ShellCompDirectiveNoFileComp
	}
}

// files completes files with the given endings.
func files(endings ...string) func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return endings, cobra.ShellCompDirectiveFilterFileExt
	}
}

// stations completes up to most station names from the plan.
func (c *command) stations(most int) func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return func(_ *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if len(args) >= most {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		calls, err := app.Stations(c.options.Plan)
		if err != nil {
			return nil, cobra.ShellCompDirectiveError
		}
		var match []string
		for _, call := range calls {
			if strings.HasPrefix(call, strings.ToUpper(typed)) && !slices.Contains(args, call) {
				match = append(match, call)
			}
		}
		return match, cobra.ShellCompDirectiveNoFileComp
	}
}
