package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"farhop/cmd/farhop/internal/config"
	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/observations"
)

// maxProblems is how many problems of the observations are kept to be shown.
const maxProblems = 200

// Session is a plan with its evidence, ready to answer at one moment.
type Session struct {
	req          Request
	net          *mesh.Net
	log          *observations.Log // nil when no observations were given
	links        *mesh.Links
	at           time.Time
	now          time.Time
	clock        view.Clock
	planWarnings []config.Problem
	assumed      []string // what-if: what differs from the plan, in words
	plain        *Session // the same without what was assumed; nil when nothing was
}

// PlanError is a plan that can't be used, with every problem found in it.
type PlanError struct {
	Plan     string
	Problems []config.Problem
}

func (e *PlanError) Error() string {
	var b strings.Builder
	n := 0
	for _, p := range e.Problems {
		if !p.Warning {
			n++
		}
	}
	fmt.Fprintf(&b, "%s in the plan %s:", view.Count(n, "error", "errors"), e.Plan)
	for _, p := range e.Problems {
		b.WriteString("\n  " + p.String())
	}
	return b.String()
}

// loadNet reads the plan alone.
func loadNet(path string) (*mesh.Net, []config.Problem, error) {
	net, problems, err := config.LoadFile(path)
	if err != nil {
		if os.IsNotExist(err) {
			return nil, nil, usagef("no plan at %s: name it with --plan FILE, or write a new one with 'farhop init DIR'", path)
		}
		return nil, nil, err
	}
	if net == nil {
		return nil, problems, &PlanError{Plan: path, Problems: problems}
	}
	return net, problems, nil
}

// Load reads the plan and the observations and learns the links.
func Load(ctx context.Context, r Request, env Environment) (*Session, error) {
	net, warnings, err := loadNet(r.Plan)
	if err != nil {
		return nil, err
	}
	s := &Session{req: r, net: net, now: env.Now.UTC().Truncate(time.Second), planWarnings: warnings}
	at, newest, err := r.moment(env.Now)
	if err != nil {
		return nil, err
	}
	if newest && len(r.Observations)+len(r.Heard) == 0 {
		return nil, usagef("--at newest needs --observations: there is no newest report without any")
	}
	if r.Window < 0 {
		return nil, usagef("--window %s: write a time span over 0, or leave it out for all reports", r.Window)
	}
	s.at = at
	if len(r.Observations)+len(r.Heard) > 0 {
		if s.log, err = readLog(ctx, r, env, at, newest); err != nil {
			return nil, r.absent(err)
		}
		s.at = time.Unix(s.log.Moment, 0).UTC()
	}
	if s.clock, err = r.clock(s.at); err != nil {
		return nil, err
	}
	if s.links, err = mesh.Learn(ctx, net, s.log, s.at.Unix()); err != nil {
		return nil, err
	}
	return s, s.assume(r.WhatIf)
}

// absent words the error of observations that aren't there as that of a plan.
func (r *Request) absent(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) && errors.Is(err, fs.ErrNotExist) && slices.Contains(r.Observations, path.Path) {
		return fmt.Errorf("no observations at %s: name files or folders of reports with --observations", path.Path)
	}
	return err
}

// readLog reads every observation the request names.
func readLog(ctx context.Context, r Request, env Environment, at time.Time, newest bool) (*observations.Log, error) {
	var inputs []observations.Input
	for _, path := range r.Observations {
		inputs = append(inputs, observations.Input{Path: path})
	}
	for i, text := range r.Heard {
		inputs = append(inputs, observations.Input{Name: fmt.Sprintf("--heard %d", i+1), Text: text})
	}
	opt := observations.Options{
		Moment: at, Newest: newest, Window: r.Window, Stdin: env.Stdin,
		MaxProblems: maxProblems, Progress: env.Progress,
	}
	if r.Rejects == "" {
		return observations.Read(ctx, inputs, opt)
	}
	file, err := os.Create(r.Rejects)
	if err != nil {
		return nil, err
	}
	opt.Rejects = file
	log, err := observations.Read(ctx, inputs, opt)
	if cerr := file.Close(); err == nil {
		err = cerr
	}
	return log, err
}

// Stations lists the calls of a plan, for completion.
func Stations(plan string) ([]string, error) {
	net, _, err := loadNet(plan)
	if err != nil {
		return nil, err
	}
	calls := make([]string, len(net.Stations))
	for i := range net.Stations {
		calls[i] = net.Stations[i].Call
	}
	return calls, nil
}

// Plain is the session without what was assumed, nil when nothing was.
func (s *Session) Plain() *Session { return s.plain }

// station finds a member by any of its names.
func (s *Session) station(name string) (int, error) {
	if i, ok := s.net.Find(name); ok {
		return i, nil
	}
	if s.plain != nil {
		if i, ok := s.plain.net.Find(name); ok {
			return 0, usagef("%s is taken out by --without", s.plain.net.Stations[i].Call)
		}
	}
	if near, ok := observations.Nearest(strings.ToUpper(name), s.calls()); ok {
		return 0, usagef("no station %q in the plan; did you mean %s?", name, near)
	}
	return 0, usagef("no station %q in the plan; the members are %s", name, view.Names(s.calls()))
}

func (s *Session) calls() []string {
	calls := make([]string, len(s.net.Stations))
	for i := range s.net.Stations {
		calls[i] = s.net.Stations[i].Call
	}
	return calls
}

// names turns station indexes into calls.
func (s *Session) names(indexes []int) []string {
	out := make([]string, len(indexes))
	for i, k := range indexes {
		out[i] = s.net.Stations[k].Call
	}
	return out
}

// head starts every view.
func (s *Session) head() view.Head {
	h := view.Head{Net: s.net.Name, At: s.at, Clock: s.clock, Caution: view.Caution, Warnings: []view.Warning{}}
	if h.Net == "" {
		h.Net = "the net"
	}
	h.Assumed = s.assumed
	if s.log == nil {
		return h
	}
	c := s.links.Counts
	e := &view.Evidence{
		Read: c.Read, Used: c.Used, Duplicate: c.Duplicate, OutsideWindow: c.Earlier + c.Later,
		AfterMoment: c.Later, OutsideNet: c.Outside, Rejected: c.Rejected,
	}
	if newest := s.links.Newest(); newest != 0 {
		t := time.Unix(newest, 0).UTC()
		age := s.at.Sub(t).Minutes()
		e.Newest, e.NewestMinutes = &t, &age
	}
	h.Evidence = e
	if e.Read > 0 && e.Used == 0 {
		h.Warnings = append(h.Warnings, view.Warning{Code: "no-evidence-used", Message: unused(e)})
	}
	return h
}

// unused says why none of the reports counts.
func unused(e *view.Evidence) string {
	if e.AfterMoment == e.Read {
		return "All reports are later than the moment asked for, so none counts: ask with --at newest or a later time, or mend the clock of the log."
	}
	return "None of the reports could be used: look at 'farhop check' for names, channels and times that don't fit the plan."
}

// Done decides the exit status of an answer that was written: an error when it
// is empty or when too much of the input was unusable.
func (s *Session) Done(empty string) error {
	var why []string
	if empty != "" {
		why = append(why, empty)
	}
	if c := s.links.Counts; float64(c.Rejected) > s.req.MaxRejected*float64(c.Read) {
		why = append(why, fmt.Sprintf(
			"%s of %s rejected, more than --max-rejected %g allows; 'farhop check' lists them, --rejects FILE keeps them",
			view.Grouped(c.Rejected), view.Count(c.Read, "report", "reports"), s.req.MaxRejected))
	}
	if why == nil {
		return nil
	}
	return &EmptyError{Message: strings.Join(why, "; ")}
}

// WriteProblems tells the first problems of the observations, a line each.
func (s *Session) WriteProblems(w io.Writer, most int) {
	if s.log == nil {
		return
	}
	problems, count := s.problems()
	for i := range problems {
		if i == most {
			fmt.Fprintf(w, "and %s more; see 'farhop check'\n", view.Grouped(count-most))
			return
		}
		p := readProblem(&problems[i])
		fmt.Fprintln(w, p.String())
	}
}

// problems are the first problems of the observations, found in reading them or
// in placing them in the net, and how many there are in all.
func (s *Session) problems() (first []observations.Problem, count int) {
	placed, n := s.links.Problems()
	return append(slices.Clone(s.log.Problems), placed...), s.log.ProblemCount + n
}
