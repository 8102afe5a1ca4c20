package observations

import (
	"bytes"
	"math"
	"slices"
)

// usualProblems is how many problems are kept when Options do not say.
const usualProblems = 200

// mostForeseen is for how many reports room is made beforehand.
const mostForeseen = 1 << 24

// collector puts batches together in the order of their blocks, which makes
// the result independent of who parsed what.
type collector struct {
	opt         Options
	log         *Log
	spell       spell
	newest      bool // the moment is the newest report's time
	maxProblems int
	plainBytes  int64 // size of the sources where it is known

	sources  []*source
	sites    *directory
	channels map[string]uint16
	renumber [][]SiteID // for each parser its site numbers in ours
	own      *parser    // for blocks that were parsed with a wrong layout
	batch    batch

	source  int
	layout  *layout // how the next block of the source has to be read
	general bool    // a general problem of the source has been told
	rejects rejectWriter
	undated []postponed
}

// postponed is a typed list whose day isn't known before all is read.
type postponed struct {
	source, line int
	layout       *layout
	raw          []byte
}

func newCollector(sources []*source, opt Options, lim limits, workers int) *collector {
	c := &collector{
		opt: opt, log: &Log{}, newest: opt.Newest || opt.Moment.IsZero(),
		maxProblems: opt.MaxProblems, sources: sources,
		sites: newDirectory(), channels: map[string]uint16{},
		renumber: make([][]SiteID, workers+1), source: -1,
		rejects: newRejectWriter(opt.Rejects),
	}
	if c.maxProblems == 0 {
		c.maxProblems = usualProblems
	}
	c.spell = allTimes(postponeUndated)
	if !c.newest {
		c.spell = spellUntil(opt.Moment.Unix(), opt.Window)
	}
	for _, s := range sources {
		c.log.Sources = append(c.log.Sources, s.name)
		c.plainBytes += s.size
	}
	c.own = newParser(lim, c.spell, c.maxProblems)
	return c
}

func (c *collector) addProblem(p Problem) {
	c.log.ProblemCount++
	if len(c.log.Problems) < c.maxProblems {
		c.log.Problems = append(c.log.Problems, p)
	}
}

// collect takes a parsed block.
func (c *collector) collect(j *job) error {
	if j.source != c.source {
		c.source, c.layout, c.general = j.source, nil, false
	}
	if j.empty {
		c.addProblem(Problem{
			Source: c.sources[j.source].name, Warning: true,
			Message: "there is nothing in it", Mend: "see whether it is the right file",
		})
		return nil
	}
	c.addSites(j.parser, j.out.sites)
	if j.layout.same(c.layout) {
		return c.take(&j.block, j.source, j.parser, &j.out)
	}
	return c.parse(&j.block, j.source)
}

// parse reads a block again, or a postponed line, with the layout it wants.
func (c *collector) parse(b *block, source int) error {
	c.own.parse(b, uint16(source), c.layout, &c.batch)
	number := len(c.renumber) - 1
	c.addSites(number, c.batch.sites)
	return c.take(b, source, number, &c.batch)
}

func (c *collector) addSites(parser int, sites []Site) {
	for _, s := range sites {
		c.renumber[parser] = append(c.renumber[parser], c.sites.add(s))
	}
}

// take adds a batch to the log.
func (c *collector) take(b *block, source, parser int, out *batch) error {
	if !out.end.same(c.layout) {
		c.layout = out.end
		c.sources[source].current.Store(out.end)
	}
	c.takeProblems(source, out)
	total := &c.log.Counts
	total.Read += out.counts.Read
	total.Rejected += out.counts.Rejected
	total.Earlier += out.counts.Earlier
	total.Later += out.counts.Later
	channels := c.takeChannels(out.channels)
	c.takeReports(b, out.reports, c.renumber[parser], channels)
	for _, claim := range out.claims {
		claim.Receiver = c.renumber[parser][claim.Receiver]
		claim.Channel = channels[claim.Channel]
		c.log.Claims = append(c.log.Claims, claim)
	}
	for _, r := range out.undated {
		c.undated = append(c.undated, postponed{source, r.line, r.layout, bytes.Clone(b.data[r.from:r.to])})
	}
	return c.rejects.take(source, b, out.rejects)
}

func (c *collector) takeProblems(source int, out *batch) {
	c.log.ProblemCount += out.unkept
	for _, n := range out.problems {
		if n.general && c.general {
			continue
		}
		c.general = c.general || n.general
		n.Source = c.sources[source].name
		c.addProblem(n.Problem)
	}
}

// takeChannels returns the log's number for each of the batch's. Past the
// number a Log can tell apart, channels are left out.
func (c *collector) takeChannels(names []string) []uint16 {
	numbers := make([]uint16, len(names)+1)
	for i, name := range names {
		n, ok := c.channels[name]
		if !ok && len(c.log.Channels) < maxChannels {
			c.log.Channels = append(c.log.Channels, name)
			n = uint16(len(c.log.Channels))
			c.channels[name] = n
		}
		numbers[i+1] = n
	}
	return numbers
}

// takeReports appends reports with their numbers put right.
func (c *collector) takeReports(b *block, reports []Report, sites []SiteID, channels []uint16) {
	l := c.log
	if len(l.Reports) == 0 && len(reports) > 0 && c.plainBytes > int64(len(b.data)) {
		// Room for all of them at the rate of this block, and a little more.
		rate := float64(len(reports)) / float64(len(b.data))
		l.Reports = make([]Report, 0, int(min(1.02*rate*float64(c.plainBytes), mostForeseen))+len(reports))
	}
	start := len(l.Reports)
	l.Reports = append(l.Reports, reports...)
	added := l.Reports[start:]
	for i := range added {
		r := &added[i]
		r.Receiver, r.Sender, r.Channel = sites[r.Receiver], sites[r.Sender], channels[r.Channel]
	}
}

// finish resolves what had to wait for the end and brings the log into order.
func (c *collector) finish() (*Log, error) {
	l := c.log
	found := true
	if c.newest {
		l.Moment, found = newestTime(l.Reports)
		c.spell = spellUntil(l.Moment, c.opt.Window)
		if !found {
			c.spell = allTimes(refuseUndated)
		}
		c.own.spell = c.spell
		if err := c.readUndated(); err != nil {
			return nil, err
		}
	} else {
		l.Moment = c.opt.Moment.Unix()
	}
	if c.newest && found {
		c.applySpell()
	}
	l.Sites = c.sites.sites
	l.order()
	return l, c.rejects.flush()
}

func newestTime(reports []Report) (newest int64, found bool) {
	newest = math.MinInt64
	for i := range reports {
		newest = max(newest, reports[i].Time)
	}
	if len(reports) == 0 {
		return 0, false
	}
	return newest, true
}

// readUndated reads typed lists without a date, now that the moment is known.
func (c *collector) readUndated() error {
	for _, u := range c.undated {
		c.source, c.layout = u.source, u.layout
		data := append(make([]byte, 0, len(u.raw)+slack), u.raw...)
		if err := c.parse(&block{data: data, line: u.line}, u.source); err != nil {
			return err
		}
	}
	return nil
}

// applySpell leaves out what is earlier or later than asked for.
func (c *collector) applySpell() {
	l := c.log
	l.Reports = slices.DeleteFunc(l.Reports, func(r Report) bool {
		switch c.spell.check(r.Time, int64(r.Delay)) {
		case 1:
			l.Counts.Later++
		case -1:
			l.Counts.Earlier++
		default:
			return false
		}
		return true
	})
	l.Claims = slices.DeleteFunc(l.Claims, func(k Claim) bool { return c.spell.check(k.Time, 0) != 0 })
}
