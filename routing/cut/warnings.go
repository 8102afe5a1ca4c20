package cut

import "fmt"

// WarningKind says what a warning is about.
type WarningKind uint8

// Kinds of warnings.
const (
	UnknownLeftOut  WarningKind = iota // ordered pairs whose links are unknown and were not used
	UncertainUsed                      // ordered pairs that count although no link of theirs is known
	NothingOpen                        // there are stations, but not one open link
	ReachSampled                       // ordered pairs whose reach was sampled, not worked out
	PairsNotChecked                    // pairs of stations were not looked at
)

// Warning is a reservation about a report.
type Warning struct {
	Kind  WarningKind
	Count int // of what the kind counts, 0 when it counts nothing
}

// String returns the warning in plain words.
func (w Warning) String() string {
	switch w.Kind {
	case UnknownLeftOut:
		return w.count("unknown link was", "unknown links were") + " left out: too little has been heard to say whether they work"
	case UncertainUsed:
		return w.count("link was", "links were") + " counted although only inferred or unknown"
	case NothingOpen:
		return "no link is open at this moment"
	case ReachSampled:
		return "the reach of " + w.count("pair", "pairs") + " is an estimate from samples, with the 95 % interval where that is wider than the figure"
	case PairsNotChecked:
		return "whether two stations fail together was not looked at"
	}
	return fmt.Sprintf("warning %d (%d)", w.Kind, w.Count)
}

func (w Warning) count(one, many string) string {
	if w.Count == 1 {
		return "1 " + one
	}
	return fmt.Sprint(w.Count, " ", many)
}

// warn fills r.Warnings.
func (r *Report) warn(c census, opt Options) {
	add := func(kind WarningKind, count int) {
		r.Warnings = append(r.Warnings, Warning{Kind: kind, Count: count})
	}
	if leftOut := c.unknown - c.used; leftOut > 0 {
		add(UnknownLeftOut, leftOut)
	}
	if c.used > 0 {
		add(UncertainUsed, c.used)
	}
	if r.Stations > 0 && r.OpenLinks == 0 {
		add(NothingOpen, 0)
	}
	sampled := 0
	for _, p := range r.Pairs {
		if opt.Reach && !p.Exact {
			sampled++
		}
	}
	if sampled > 0 {
		add(ReachSampled, sampled)
	}
	if !opt.StationPairs {
		add(PairsNotChecked, 0)
	}
}
