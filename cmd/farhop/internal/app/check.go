package app

import (
	"farhop/cmd/farhop/internal/config"
	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/observations"
)

// readProblem words a problem of the observations.
func readProblem(p *observations.Problem) view.Problem {
	severity := view.SeverityError
	if p.Warning {
		severity = view.SeverityWarning
	}
	return view.Problem{
		Severity: severity, Source: p.Source, Line: p.Line, Column: p.Column, Field: p.Field,
		Value: p.Value, Message: p.Message, Mend: p.Mend,
	}
}

// planProblem words a problem of the plan.
func planProblem(p *config.Problem) view.Problem {
	severity := view.SeverityError
	if p.Warning {
		severity = view.SeverityWarning
	}
	return view.Problem{
		Severity: severity, Source: p.Source, Line: p.Line, Column: p.Column, Field: p.Path,
		Value: p.Value, Message: p.Message, Mend: p.Mend,
	}
}

// finding words what an inspection found.
func finding(f *mesh.Finding) view.Problem {
	return view.Problem{Severity: f.Severity.String(), Stations: f.Stations, Message: f.Message, Mend: f.Mend}
}

// CheckPlan lists the problems of a plan that can't be used.
func CheckPlan(e *PlanError) *view.Check {
	v := &view.Check{Plan: e.Plan}
	for i := range e.Problems {
		v.Problems = append(v.Problems, planProblem(&e.Problems[i]))
	}
	return v
}

// Check lists what is wrong or doubtful in plan and observations.
func (s *Session) Check() *view.Check {
	v := &view.Check{
		Head: s.head(), Plan: s.req.Plan, Stations: len(s.net.Stations), Channels: len(s.net.Channels),
		Problems: []view.Problem{},
	}
	for i := range s.planWarnings {
		v.Problems = append(v.Problems, planProblem(&s.planWarnings[i]))
	}
	if s.log != nil {
		problems, count := s.problems()
		for i := range problems {
			v.Problems = append(v.Problems, readProblem(&problems[i]))
		}
		v.Unlisted = count - len(problems)
	}
	for _, f := range mesh.Inspect(s.net, s.log, s.links, s.now.Unix()) {
		v.Problems = append(v.Problems, finding(&f))
	}
	v.Next = []string{s.try("links"), s.try("table")}
	return v
}
