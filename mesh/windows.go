package mesh

import (
	"fmt"
	"slices"
	"strings"
)

// DaySeconds is the length of a UTC day. Leap seconds don't exist in Unix time.
const DaySeconds = 86400

// Windows is a set of times of day in UTC, such as 17:00-07:00. The zero value
// holds no time at all; where a plan states none, Prepare puts Always.
// Windows are values: no method changes one.
type Windows struct {
	spans []Span // disjoint, not touching, by Start; a whole day is one span
}

// Span is a stretch of the day: Seconds long, 1…86400, from Start, 0…86399, in
// seconds after 00:00 UTC. It may run on past midnight.
type Span struct{ Start, Seconds int }

// Always is the whole day.
func Always() Windows { return Windows{[]Span{{0, DaySeconds}}} }

// ParseError is a window that can't be read.
type ParseError struct {
	Index   int    // in the list given
	Value   string // the offending text
	Message string // what is wrong and what is allowed
}

func (e *ParseError) Error() string { return fmt.Sprintf("window %q: %s", e.Value, e.Message) }

// ParseWindows reads windows written as 17:00-07:00 and joins them. A time is
// HH:MM or HH:MM:SS, 24:00 only as an end; an end before its start means the next
// day; 00:00-24:00 is the whole day. Blanks around the parts don't matter. An
// empty list gives the zero value. The error is a *ParseError for the first
// window that can't be read.
func ParseWindows(list []string) (Windows, error) {
	var spans []Span
	for i, text := range list {
		s, problem := parseSpan(text)
		if problem != "" {
			return Windows{}, &ParseError{Index: i, Value: text, Message: problem}
		}
		spans = append(spans, s)
	}
	return merge(spans), nil
}

// parseSpan reads one window; a problem is "" or what is wrong.
func parseSpan(text string) (s Span, problem string) {
	from, to, found := strings.Cut(text, "-")
	if !found {
		return s, "a start and an end with '-' between are needed, such as 17:00-07:00"
	}
	start, ok1 := parseTime(from)
	end, ok2 := parseTime(to)
	switch {
	case !ok1 || !ok2:
		return s, "times are HH:MM from 00:00 to 24:00, such as 17:00-07:00"
	case start == DaySeconds:
		return s, "a window can't start at 24:00; write 00:00"
	case start == end:
		return s, "start and end are the same; write 00:00-24:00 for the whole day"
	case end < start:
		end += DaySeconds
	}
	return Span{start, end - start}, ""
}

// parseTime reads HH:MM or HH:MM:SS into seconds after midnight, 24:00 included.
func parseTime(text string) (second int, ok bool) {
	text = strings.TrimSpace(text)
	if len(text) != 5 && len(text) != 8 {
		return 0, false
	}
	limits := [3]int{24, 59, 59}
	for i := 0; i < len(text); i += 3 {
		a, b := text[i]-'0', text[i+1]-'0'
		if a > 9 || b > 9 || (i > 0 && text[i-1] != ':') {
			return 0, false
		}
		part := int(a)*10 + int(b)
		if part > limits[i/3] {
			return 0, false
		}
		second = second*60 + part
	}
	if len(text) == 5 {
		second *= 60
	}
	return second, second <= DaySeconds
}

// merge joins spans that overlap or touch, across midnight too.
func merge(spans []Span) Windows {
	if len(spans) == 0 {
		return Windows{}
	}
	spans = slices.Clone(spans)
	slices.SortFunc(spans, func(a, b Span) int { return a.Start - b.Start })
	out := spans[:1]
	for _, s := range spans[1:] {
		last := &out[len(out)-1]
		if s.Start <= last.Start+last.Seconds {
			last.Seconds = max(last.Seconds, s.Start+s.Seconds-last.Start)
			continue
		}
		out = append(out, s)
	}
	// What runs past midnight may reach the first spans of the day.
	for len(out) > 1 {
		last := &out[len(out)-1]
		over := last.Start + last.Seconds - DaySeconds
		if over < out[0].Start {
			break
		}
		last.Seconds = max(last.Seconds, DaySeconds-last.Start+out[0].Start+out[0].Seconds)
		out = out[1:]
	}
	if out[0].Seconds >= DaySeconds {
		return Always()
	}
	return Windows{slices.Clone(out)}
}

// Holds reports whether all of a stretch lies in the windows: length seconds,
// at least 1, from secondOfDay, 0…86399.
func (w Windows) Holds(secondOfDay, length int) bool {
	for _, s := range w.spans {
		if s.Seconds == DaySeconds {
			return true
		}
		offset := secondOfDay - s.Start
		if offset < 0 {
			offset += DaySeconds
		}
		if offset+length <= s.Seconds {
			return true
		}
	}
	return false
}

// Empty reports whether the windows hold no time at all.
func (w Windows) Empty() bool { return len(w.spans) == 0 }

// Spans returns the windows by their start, neither overlapping nor touching.
func (w Windows) Spans() []Span { return slices.Clone(w.spans) }

// Seconds is how much of the day the windows hold, 0…86400.
func (w Windows) Seconds() int {
	sum := 0
	for _, s := range w.spans {
		sum += s.Seconds
	}
	return sum
}

// Union returns the times that either holds.
func (w Windows) Union(other Windows) Windows {
	return merge(append(slices.Clone(w.spans), other.spans...))
}

// Equal reports whether both hold the same times.
func (w Windows) Equal(other Windows) bool { return slices.Equal(w.spans, other.spans) }

// String writes the windows as a plan does, joined by commas; "never" when empty.
func (w Windows) String() string {
	if w.Empty() {
		return "never"
	}
	return strings.Join(w.Strings(), ", ")
}

// Strings writes each window as ParseWindows reads it.
func (w Windows) Strings() []string {
	list := make([]string, len(w.spans))
	for i, s := range w.spans {
		end := s.Start + s.Seconds
		if end > DaySeconds {
			end -= DaySeconds
		}
		list[i] = clock(s.Start) + "-" + clock(end)
	}
	return list
}

// clock writes a second of the day as HH:MM, with seconds where there are any.
func clock(second int) string {
	if second%60 == 0 {
		return fmt.Sprintf("%02d:%02d", second/3600, second/60%60)
	}
	return fmt.Sprintf("%02d:%02d:%02d", second/3600, second/60%60, second%60)
}

// secondOfDay is the second after 00:00 UTC of a Unix time, before 1970 too.
func secondOfDay(unix int64) int {
	s := unix % DaySeconds
	if s < 0 {
		s += DaySeconds
	}
	return int(s)
}
