package mesh

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"farhop/mesh/link"
)

// Issue is something in a plan that can't be used.
type Issue struct {
	Path    string // where in the plan, such as stations[2].power_w; indexes as given
	Message string // what is wrong and what is allowed
}

// Prepare checks the net and brings it into order: names into upper case and
// without blanks around them, stations sorted by call with every index that
// points at one moved along, Position filled, and what the plan leaves out
// replaced by its default (windows by Always, a station's channels by all, a
// message's length by its text's, Link, Evidence and Limits as a whole where they
// are zero). Every issue is returned at once, in plan order; with
// any, the net must not be used, and the order of the stations is as given. It
// never panics. A second call finds nothing and changes nothing.
func (n *Net) Prepare() []Issue {
	c := &checker{n: n}
	if n.Link == (link.Settings{}) {
		n.Link = link.Defaults()
	}
	if n.Evidence == (Evidence{}) {
		n.Evidence = DefaultEvidence()
	}
	if n.Limits.isZero() {
		n.Limits = DefaultLimits()
	}
	n.Link.HalfDecodeDB, n.Link.SpreadDB = n.Slots.HalfDecodeDB, n.Slots.SpreadDB
	c.slots()
	c.channels()
	c.stations()
	c.fixed()
	c.model()
	c.evidence()
	c.limits()
	c.traffic()
	if len(c.issues) > 0 {
		return c.issues
	}
	n.sort()
	n.names = makeNames(n.Stations)
	return nil
}

// sort brings the stations into the order of their calls.
func (n *Net) sort() {
	order := make([]int, len(n.Stations)) // new index → old
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(n.Stations[a].Call, n.Stations[b].Call) })
	sorted := make([]Station, len(order))
	moved := make([]int, len(order)) // old index → new
	for to, from := range order {
		sorted[to], moved[from] = n.Stations[from], to
	}
	n.Stations = sorted
	for i := range n.Fixed {
		n.Fixed[i].From, n.Fixed[i].To = moved[n.Fixed[i].From], moved[n.Fixed[i].To]
	}
	for i := range n.Traffic {
		m := &n.Traffic[i]
		m.From = moved[m.From]
		if m.To != EveryMember {
			m.To = moved[m.To]
		}
	}
}

// checker gathers issues. Its methods check and normalise one part of the plan
// each, and may rely on nothing that another part states.
type checker struct {
	n      *Net
	issues []Issue
}

func (c *checker) add(path, format string, args ...any) {
	c.issues = append(c.issues, Issue{path, fmt.Sprintf(format, args...)})
}

// within checks a number against bounds that are both allowed.
func (c *checker) within(path string, v, low, high float64) {
	if !(v >= low && v <= high) { // NaN too
		c.add(path, "%v is not allowed; it must be from %v to %v", v, low, high)
	}
}

// above checks a number against a lower bound that is not allowed itself.
func (c *checker) above(path string, v, low, high float64) {
	if !(v > low && v <= high) {
		c.add(path, "%v is not allowed; it must be more than %v and at most %v", v, low, high)
	}
}

func (c *checker) count(path string, v, low, high int) {
	if v < low || v > high {
		c.add(path, "%d is not allowed; it must be from %d to %d", v, low, high)
	}
}

// Bounds of counts: generous, but small enough that nothing overflows.
const (
	maxFrameCharacters   = 100_000
	maxMessageCharacters = 1_000_000
	maxFrames            = 1000
	maxWatts             = 1e6
)

func (c *checker) slots() {
	s := &c.n.Slots
	switch {
	case s.Length <= 0 || s.Length%time.Second != 0 || (24*time.Hour)%s.Length != 0:
		c.add("slots.length", "%v does not fit; it must be whole seconds and divide 24 h, such as 15s, 40s, 2m", s.Length)
	case s.Keyed <= 0 || s.Keyed > s.Length:
		c.add("slots.keyed", "%v is not allowed; it must be more than 0 and at most the slot length, %v", s.Keyed, s.Length)
	}
	c.count("slots.characters", s.Characters, 1, maxFrameCharacters)
	c.count("slots.header_frames", s.Header, 0, maxFrames)
	c.count("slots.acknowledgment_frames", s.Ack, 0, maxFrames)
	c.count("slots.turnaround_slots", s.Turnaround, 0, maxFrames)
	c.count("slots.rounds", s.Rounds, 1, maxFrames)
	c.count("slots.block_frames", s.Block, 0, maxMessageCharacters)
	if s.Identify != 0 && s.Identify < s.Length {
		c.add("slots.identify.every", "%v is not allowed; it must be at least the slot length, %v", s.Identify, s.Length)
	}
	c.within("slots.half_decode_snr_db", s.HalfDecodeDB, -100, 100)
	c.within("slots.decode_spread_db", s.SpreadDB, 0.01, 30)
	if !(s.Busy >= 0 && s.Busy < 1) {
		c.add("slots.busy", "%v is not allowed; it must be from 0 to less than 1", s.Busy)
	}
}

func (c *checker) channels() {
	if len(c.n.Channels) == 0 {
		c.add("channels", "the net has no channel; at least one is needed")
	}
	seen := make(map[string]int)
	for i := range c.n.Channels {
		ch, path := &c.n.Channels[i], fmt.Sprintf("channels[%d]", i)
		ch.Name = strings.TrimSpace(ch.Name)
		if problem := badName(ch.Name); problem != "" {
			c.add(path+".name", "%s", problem)
		} else if first, taken := seen[fold(ch.Name)]; taken {
			c.add(path+".name", "%q is already the name of channels[%d]", ch.Name, first)
		} else {
			seen[fold(ch.Name)] = i
		}
		if ch.Frequency == 0 {
			c.add(path+".frequency_hz", "a frequency in Hz is needed, such as 7131000")
		}
		if ch.Windows.Empty() {
			ch.Windows = Always()
		}
		offsets := make(map[int]bool)
		for j, hz := range ch.OffsetsHz {
			at := fmt.Sprintf("%s.offsets_hz[%d]", path, j)
			c.count(at, hz, 1, 100_000)
			if offsets[hz] {
				c.add(at, "%d is listed twice", hz)
			}
			offsets[hz] = true
		}
		c.noisyChannel(ch, path)
	}
}

// badName says what is wrong with a name, "" if nothing is.
func badName(name string) string {
	switch {
	case name == "":
		return "a name is needed"
	case !utf8.ValidString(name):
		return fmt.Sprintf("%q is not valid text", name)
	case strings.ContainsAny(name, " \t\r\n,;:>\"→"):
		return fmt.Sprintf("%q must be one word without , ; : > or quotes", name)
	case len(name) > 40:
		return fmt.Sprintf("%q is longer than 40 letters", name)
	}
	return ""
}
