package app

import (
	"context"
	"fmt"
	"strings"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing"
)

// missing says what would be needed where no chain was found: more time where
// that is all, else the hours or the evidence that a chain lacks.
func (s *Session) missing(ctx context.Context, p *routing.Planner, r routing.Request, to []int, v *view.Route) (string, error) {
	if v.WouldMake != nil {
		return "A chain is known; only the time is short.", nil
	}
	if r.Deadline < longestAhead {
		given, err := s.given(ctx, p, r, to)
		if given != "" || err != nil {
			return given, err
		}
	}
	why := s.off(r, to)
	return why + s.evidenceLacking(r.From, to, why != ""), nil
}

// given says what the surest chain would do with the longest deadline looked at,
// "" where there is none.
func (s *Session) given(ctx context.Context, p *routing.Planner, r routing.Request, to []int) (string, error) {
	var best *routing.Branch
	r.Order = routing.Surest
	for _, r.To = range to {
		b, err := p.Given(ctx, r, longestAhead)
		if err != nil {
			return "", err
		}
		if b != nil && (best == nil || b.Delivered > best.Delivered) {
			best = b
		}
	}
	if best == nil {
		return "", nil
	}
	return fmt.Sprintf("Given %g hours, %s would deliver with %s.", longestAhead.Hours(),
		strings.Join(s.names(best.Stations), view.Arrow), view.Percent(best.Delivered)), nil
}

// off names the ends that the plan keeps off the air from the start to the
// deadline, "" where that isn't so.
func (s *Session) off(r routing.Request, to []int) string {
	var silent []int
	if !s.listensBy(r.From, r) {
		silent = append(silent, r.From)
	}
	for _, i := range to {
		if !s.listensBy(i, r) {
			silent = append(silent, i)
		}
	}
	if silent == nil || len(silent) < len(to) && silent[0] != r.From {
		return ""
	}
	list := make([]string, len(silent))
	for k, i := range silent {
		list[k] = fmt.Sprintf("%s is off the air or off its channels until then by the plan (on the air %s).", s.net.Stations[i].Call, s.net.Stations[i].OnAir)
	}
	return strings.Join(list, " ") + " "
}

// listensBy reports whether a station listens to anything in a slot of the
// request.
func (s *Session) listensBy(station int, r routing.Request) bool {
	step := s.net.Slots.Seconds()
	end := r.Start + int64(min(r.Deadline, 24*time.Hour)/time.Second)
	for slot := s.net.Slots.Start(r.Start); slot+step <= end; slot += step {
		for c := range s.net.Channels {
			if s.net.Listens(station, c, slot) {
				return true
			}
		}
	}
	return false
}

// evidenceLacking says what is not known at either end. hours is true where the
// hours have been told of already.
func (s *Session) evidenceLacking(from int, to []int, hours bool) string {
	fromCall, toCall := s.net.Stations[from].Call, view.Names(s.names(to))
	if known, unknown := s.heardOf([]int{from}, false); known == 0 && unknown > 0 {
		return fmt.Sprintf("Too little is known of who hears %s at this hour: have it sound, and collect who heard it. --unknown plans with guesses.", fromCall)
	}
	if known, unknown := s.heardOf(to, true); known == 0 && unknown > 0 {
		return fmt.Sprintf("Too little is known of whom %s %s at this hour: collect the list of stations heard. --unknown plans with guesses.", toCall, verb(len(to), "hears", "hear"))
	}
	if hours {
		return "--on-air CALL=HOURS plans with other hours."
	}
	return fmt.Sprintf("No known link leads on from %s to %s by then: try a longer --deadline, more --relays, or --unknown to plan with guesses.", fromCall, toCall)
}

// heardOf counts the links from or, receiving, to some stations.
func (s *Session) heardOf(stations []int, receiving bool) (known, unknown int) {
	for _, i := range stations {
		for j := range s.net.Stations {
			for ch := range s.net.Channels {
				a, b := i, j
				if receiving {
					a, b = j, i
				}
				if a == b {
					continue
				}
				if e, ok := s.links.Edge(a, b, ch, s.at.Unix()); ok && e.Known {
					known++
				} else if ok {
					unknown++
				}
			}
		}
	}
	return known, unknown
}

// verb agrees with a number of subjects.
func verb(n int, one, several string) string {
	if n == 1 {
		return one
	}
	return several
}
