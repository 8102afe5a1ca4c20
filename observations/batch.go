package observations

// batch is what was found in a block. Site and channel numbers are the
// parser's and the batch's own.
type batch struct {
	reports  []Report
	claims   []Claim
	channels []string // Report.Channel − 1 points here
	sites    []Site   // those the parser numbered since its last batch
	problems []note
	general  bool // a general problem is among them
	seen     int  // problems but the general one
	unkept   int  // of those, how many are left out
	rejects  []reject
	undated  []reject
	counts   Counts
	end      *layout // how the next block has to be read
}

// note is a problem; a general one is told once a source.
type note struct {
	Problem
	general bool
}

// reject is a stretch of the block and where it comes from.
type reject struct {
	from, to int
	line     int
	layout   *layout
}

func (b *batch) reset() {
	b.reports, b.claims, b.channels = b.reports[:0], b.claims[:0], b.channels[:0]
	b.problems, b.rejects, b.undated = b.problems[:0], b.rejects[:0], b.undated[:0]
	b.sites, b.seen, b.unkept, b.general, b.counts, b.end = nil, 0, 0, false, Counts{}, nil
}

func (p *parser) problem(at int, name string, value []byte, f fault) {
	p.note(at, name, value, f, false, false)
}

func (p *parser) warning(at int, name string, value []byte, f fault) {
	p.note(at, name, value, f, true, false)
}

// note reports what is wrong at byte at of the current record.
func (p *parser) note(at int, name string, value []byte, f fault, warning, general bool) {
	if general {
		p.out.general = true
	} else if p.out.seen++; p.out.seen > p.maxProblems {
		p.out.unkept++
		return
	}
	n := note{general: general, Problem: Problem{
		Line: p.line, Field: name, Value: visible(value), Message: f.message, Mend: f.mend, Warning: warning,
	}}
	if at != wholeLine {
		before := p.data[p.record : p.record+at]
		n.Line += countLines(before)
		n.Column = len(before) - lastLineEnd(before, len(before)+1) + 1
	}
	p.out.problems = append(p.out.problems, n)
}
