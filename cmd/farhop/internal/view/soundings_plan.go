package view

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Fragment is an answer that can be written as a part of a plan.
type Fragment interface{ YAML() string }

// oneDay is how long a plan's soundings may reach: it repeats them every day.
const oneDay = 24 * time.Hour

// FitsPlan reports whether the soundings can be put into a plan, which repeats them
// every day.
func (v *Soundings) FitsPlan() bool { return v.Until.Sub(v.At) <= oneDay }

// YAML is the soundings as the stations of a plan state them: each at its time of
// day, once a day.
func (v *Soundings) YAML() string {
	var b strings.Builder
	say := func(format string, args ...any) { b.WriteString("# " + fmt.Sprintf(format, args...) + "\n") }
	say("Soundings for %s, planned for %s to %s.", v.Net, v.Clock.Date(v.At), v.Clock.At(v.Until))
	if len(v.Assumed) > 0 {
		say("Assumed, against the plan: %s.", strings.Join(v.Assumed, "; "))
	}
	say("%s in these %s, %s on the air, within %s; passing on what was heard comes on top.",
		Count(len(v.Soundings), "sounding", "soundings"), span(v.Until.Sub(v.At).Seconds()), span(v.SoundingSeconds), decibels(v.WithinDB))
	say("Put each list into its station in place of the one it has. A plan repeats them every day")
	say("at these times; plan anew when hours, powers or the season change.")
	if left := oneDay - v.Until.Sub(v.At); left >= time.Hour {
		say("Nothing sounds in the other %s of the day: --horizon 24h plans for all of it.", span(left.Seconds()))
	}
	say("%s", Caution)
	b.WriteString("stations:\n")
	for _, call := range v.sounding() {
		b.WriteString("  - call: " + quoted(call) + "\n")
		var list []string
		for i := range v.Soundings {
			if s := &v.Soundings[i]; s.Station == call {
				line := fmt.Sprintf("      - {channel: %s, every: 24h, after: %s}", quoted(s.Channel), timeOfDay(s.Start))
				if s.OffsetHz != nil && v.shared(s) {
					line += fmt.Sprintf(" # at %d Hz: another sounds in this slot too", *s.OffsetHz)
				}
				list = append(list, line+"\n")
			}
		}
		if list == nil {
			b.WriteString("    soundings: []\n")
			continue
		}
		b.WriteString("    soundings:\n" + strings.Join(list, ""))
	}
	return b.String()
}

// sounding lists the stations that sound here or in the plan file, by call.
func (v *Soundings) sounding() []string {
	calls := slices.Clone(v.Sounded)
	for i := range v.Soundings {
		calls = append(calls, v.Soundings[i].Station)
	}
	slices.Sort(calls)
	return slices.Compact(calls)
}

// timeOfDay writes a time as a span from 00:00 UTC, as in 3h28m.
func timeOfDay(t time.Time) string {
	t = t.UTC()
	text := ""
	for _, part := range []struct {
		n    int
		unit string
	}{{t.Hour(), "h"}, {t.Minute(), "m"}, {t.Second(), "s"}} {
		if part.n > 0 {
			text += strconv.Itoa(part.n) + part.unit
		}
	}
	if text == "" {
		return "0s"
	}
	return text
}

// plainWord is what YAML reads as a text without quotes, whatever it stands in.
var plainWord = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_-]*$`) })

// quoted writes a name as YAML.
func quoted(s string) string {
	reserved := []string{"true", "false", "yes", "no", "on", "off", "null", "y", "n"}
	if plainWord().MatchString(s) && !slices.Contains(reserved, strings.ToLower(s)) {
		return s
	}
	return strconv.Quote(s)
}
