package config

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// draftWriter writes the text of a draft and keeps its notes.
type draftWriter struct {
	text  strings.Builder
	notes []Note
}

// guess marks a guess in lines of its own and keeps it.
func (w *draftWriter) guess(indent, path, guess, check string) {
	hang(&w.text, "guess: "+guess, indent+"# ", indent+"#   ")
	if check != "" {
		hang(&w.text, "check: "+check, indent+"# ", indent+"#   ")
	}
	w.notes = append(w.notes, Note{Path: path, Guess: guess, Check: check})
}

// line writes a key with a guess behind it and keeps that.
func (w *draftWriter) line(lead, path, key, value, guess, check string) {
	fmt.Fprintf(&w.text, "%s%s: %s", lead, key, value)
	if guess != "" {
		w.text.WriteString("  # guess: " + guess)
		w.notes = append(w.notes, Note{Path: join(path, key), Guess: guess, Check: check})
	}
	w.text.WriteString("\n")
}

func (w *draftWriter) printf(format string, args ...any) { fmt.Fprintf(&w.text, format, args...) }

func (w *draftWriter) plan(h *heardNet, opt DraftOptions) {
	wrap(&w.text, fmt.Sprintf("A draft from %s of %s between %s and %s. Lines marked 'guess' need a look: "+
		"put right what is wrong, then take the mark away. Times are UTC.",
		count(h.reports, "report"), count(len(h.stations), "station"), clockTime(h.first), clockTime(h.last)), "# ")
	for _, n := range h.leftOut {
		w.printf("#\n")
		w.guess("", n.Path, n.Guess, n.Check)
	}
	name := opt.Net
	if lineForm(100)(name) != "" {
		name = "Draft of a net"
	}
	w.printf("\nnet: %s\n\n", scalar(name))
	w.slots(h)
	w.channels(h)
	w.stations(h)
}

func (w *draftWriter) slots(h *heardNet) {
	w.printf("slots:\n")
	if !h.slot.given {
		w.guess("  ", "slots.length", h.slot.why, "a shorter slot that divides this one would look the same; take it from the mode you use")
	}
	w.printf("  length: %s\n", span(time.Duration(h.slot.seconds)*time.Second))
	w.guess("  ", "slots.characters", "a log does not tell", "take it from the mode you use")
	w.printf("  characters: 18\n")
	if h.snrCount >= 200 {
		w.guess("  ", "slots.half_decode_snr_db", fmt.Sprintf("5 in 100 of the %d reports are weaker", h.snrCount),
			"the mode you use says at what signal-to-noise ratio half of its frames decode")
	} else {
		h.halfDecodeDB = -16
		w.guess("  ", "slots.half_decode_snr_db", "too few reports to tell",
			"the mode you use says at what signal-to-noise ratio half of its frames decode")
	}
	w.printf("  half_decode_snr_db: %s\n\n", figure(h.halfDecodeDB))
}

// placeholders stand in for the frequencies of channels that a log only names.
var placeholders = []uint32{7_100_000, 3_600_000, 10_120_000, 14_100_000}

func (w *draftWriter) channels(h *heardNet) {
	w.printf("channels:\n")
	if len(h.channels) > 1 {
		w.guess("  ", "channels", "one a band, those with the shortest hours first, since a station with one receiver "+
			"listens to the first of its channels that is in its window",
			"the windows and the order are those the net means to keep")
	}
	for i, c := range h.channels {
		path := index("channels", i)
		w.printf("  - name: %s\n", scalar(c.name))
		if c.band == 0 {
			w.line("    ", path, "frequency_hz", strconv.Itoa(int(placeholders[i%len(placeholders)])),
				"not in the log; put yours here", "the frequency")
		} else {
			low, high := c.frequencies[0], c.frequencies[len(c.frequencies)-1]
			why := fmt.Sprintf("median of %s from %d to %d", count(c.reports, "report"), low, high)
			w.line("    ", path, "frequency_hz", strconv.Itoa(int(c.frequency())), why,
				"reports hold the audio offset too; put the dial frequency here")
		}
		if list := dayWindows(marked(c.hours, 200), 2); list != nil {
			w.line("    ", path, "windows", windowList(list), "the hours of its "+count(c.reports, "report")+" and one more on each side",
				"the hours the net uses it")
		} else {
			w.line("    ", path, "windows", windowList([]string{"00:00-24:00"}), "the hours of its "+count(c.reports, "report")+" are all over the day",
				"the hours the net uses it")
		}
	}
	w.printf("\n")
}

func (w *draftWriter) stations(h *heardNet) {
	w.printf("# Of each station check that the log's name is its planning name (write its\n" +
		"# licensed call under licensed_call), that it has not moved, its power, and its\n" +
		"# hours: a quiet band looks like an absent operator.\n")
	w.printf("stations:\n")
	for i, s := range h.stations {
		w.station(h, s, index("stations", i))
	}
}

func (w *draftWriter) station(h *heardNet, s *heardStation, path string) {
	w.printf("  - call: %s  # %s\n", scalar(s.call), s.counts())
	w.names(h, s, path)
	if len(s.locators) > 0 {
		place, why := s.place()
		w.line("    ", path, "locator", scalar(place), why, "where it is now")
	}
	w.power(h, s, path)
	if list := s.usable(h); list != nil {
		w.line("    ", path, "channels", "["+strings.Join(list, ", ")+"]", "the bands it was heard or reported on", "which channels it can use")
	}
	w.hours(s, path)
	w.soundings(h, s, path)
}

func (w *draftWriter) names(h *heardNet, s *heardStation, path string) {
	if len(s.suffixed) > 0 {
		w.guess("    ", path+".call", "also seen as "+strings.Join(s.suffixed, ", "), "that this is one station")
	}
	if other := h.twin(s); other != "" {
		w.guess("    ", path+".call", "in the same place as "+other, "if both are one station, keep one entry and list the other name there under also")
	}
	if len(s.also) > 0 {
		var list []string
		for _, slip := range s.also {
			list = append(list, scalar(slip.call))
		}
		w.line("    ", path, "also", "["+strings.Join(list, ", ")+"]", "slips of its name, rarely heard and from the same place", "that these are no stations of their own")
	}
}

// hours writes when a station was active, where 20 reports on 3 days say it, and
// whether it has several receivers.
func (w *draftWriter) hours(s *heardStation, path string) {
	if list := dayWindows(marked(s.hours, 100), 4); list != nil && s.heard+s.heardBy >= 20 && s.days >= 3 {
		w.line("    ", path, "on_air", windowList(list),
			fmt.Sprintf("active in these hours on %d days, one more on each side", s.days), "when it is on the air")
	}
	why := ""
	switch {
	case s.together >= 3 && 50*s.together >= s.slots:
		why = fmt.Sprintf("reported on two bands at once in %d slots", s.together)
	case s.changes >= 20 && 5*s.changes >= s.slots:
		why = fmt.Sprintf("changed band within two slots %d times", s.changes)
	default:
		return
	}
	w.line("    ", path, "watch", "all", why, "that it has several receivers")
}

// counts says how often a station was heard.
func (s *heardStation) counts() string {
	switch {
	case s.heard == 0:
		return "heard " + times(s.heardBy) + ", reported nobody"
	case s.heardBy == 0:
		return "reported others " + times(s.heard) + ", never heard itself"
	}
	return "heard " + times(s.heardBy) + ", reported others " + times(s.heard)
}

// count writes a number of things.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// place is the locator seen last, or the most precise one that agrees with it.
func (s *heardStation) place() (locator, why string) {
	last := s.locators[len(s.locators)-1]
	best := last
	for _, l := range s.locators {
		if len(l) > len(best) && strings.HasPrefix(l, last) {
			best = l
		}
	}
	why = "last seen " + clockTime(s.locatorAt)
	var others []string
	for _, l := range s.locators {
		if l[:4] != best[:4] && !slices.Contains(others, l[:4]) {
			others = append(others, l[:4])
		}
	}
	if len(others) > 0 {
		why += ", earlier in " + strings.Join(others[max(0, len(others)-3):], ", ")
	}
	return best, why
}

func (w *draftWriter) power(h *heardNet, s *heardStation, path string) {
	if len(s.powers) == 0 {
		p := h.medianPower
		why := "no power reported; the median of the others"
		if p == 0 {
			p, why = 10, "no power reported"
		}
		w.line("    ", path, "power_w", watts(p), why, "its power")
		return
	}
	n := 0
	for _, k := range s.powers {
		n += k
	}
	why := "median of " + count(n, "report")
	if len(s.powers) > 1 {
		why += fmt.Sprintf(", %d different powers", len(s.powers))
	}
	w.line("    ", path, "power_w", watts(median(s.powers)), why, "its power")
}

// watts writes a power with four digits.
func watts(p float64) string {
	v, err := strconv.ParseFloat(strconv.FormatFloat(p, 'g', 4, 64), 64)
	if err != nil {
		v = p
	}
	return figure(min(max(v, 0.001), 10_000))
}

// usable lists the channels a station was active on, nil when it is all of them
// or none.
func (s *heardStation) usable(h *heardNet) []string {
	var out []string
	for i, n := range s.channels {
		if n > 0 {
			out = append(out, scalar(h.channels[i].name))
		}
	}
	if len(out) == len(h.channels) {
		return nil
	}
	return out
}

func (w *draftWriter) soundings(h *heardNet, s *heardStation, path string) {
	var list []string
	slots := 0
	for _, c := range h.channels {
		if c.band == 0 {
			continue
		}
		for _, f := range guessSoundings(s.sent[c.band], h.slot.seconds) {
			every, after := time.Duration(f.every)*time.Second, time.Duration(f.after)*time.Second
			list = append(list, fmt.Sprintf("{channel: %s, every: %s, after: %s}", scalar(c.name), span(every), span(after)))
			slots += f.hits
		}
	}
	if list != nil {
		w.line("    ", path, "soundings", "["+strings.Join(list, ", ")+"]",
			fmt.Sprintf("%d of the slots it was heard in fit", slots), "that it sends by this schedule")
	}
}

func windowList(list []string) string { return `["` + strings.Join(list, `", "`) + `"]` }

func clockTime(unix int64) string { return time.Unix(unix, 0).UTC().Format("2006-01-02 15:04Z") }

// scalar writes a text as YAML, in quotes unless it can only be read as this
// text.
func scalar(s string) string {
	safe := s != "" && strings.Trim(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_") == "" && !strings.ContainsAny(s[:1], "0123456789_")
	switch strings.ToLower(s) {
	case "null", "true", "false", "yes", "no", "on", "off", "y", "n", "inf", "nan":
		safe = false
	}
	if safe {
		return s
	}
	return strconv.Quote(s)
}
