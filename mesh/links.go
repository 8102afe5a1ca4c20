package mesh

import (
	"math"
	"sync"
	"time"

	"farhop/mesh/link"
	"farhop/observations"
)

// Edge is everything known about one direction of a link on one channel at one
// moment, with the evidence it rests on. Channels on the same band share their
// evidence.
type Edge struct {
	From, To, Channel int
	Fixed             bool           // stated by the plan
	Inferred          bool           // taken from the opposite direction
	Known             bool           // fixed links are always known
	Decode            float64        // chance that one frame decodes, 0…1
	HasSNR            bool           // false for fixed links with a decode figure
	SNR, SD           float64        // dB, when HasSNR
	Climate           float64        // SNR without the fluctuations of the moment in dB, estimated links
	ClimateSD         float64        // its standard deviation in dB
	Freshness         float64        // 0…1, 1 for fixed links
	Newest            int64          // Unix seconds of the newest report or miss used, 0 = none
	Reports           int            // reports used
	Unwitnessed       int            // of these, reports without a witness
	Misses            int            // misses, those in outages included, which teach nothing
	Direction         link.Direction // as delivery needs it
	Fading            link.Fading    // see link.Direction.Over
}

// Through is the direction as a hop of so many frames needs it, the edge being taken
// Slots.Midway after its start.
func (e *Edge) Through(s Slots, frames int) link.Direction {
	return e.Direction.Over(e.Fading, 2*s.Midway(frames).Seconds())
}

// Underway is an edge as a hop of so many frames meets it that starts at a moment, Unix
// seconds: that of Slots.Midway later. If it isn't known then, but is at the start, it counts
// as known. False as for Edge, which is asked once, twice for what isn't known.
func Underway(l interface {
	Edge(from, to, channel int, unix int64) (Edge, bool)
}, s Slots, frames, from, to, channel int, unix int64,
) (Edge, bool) {
	e, ok := l.Edge(from, to, channel, unix+int64(s.Midway(frames)/time.Second))
	if ok && !e.Known && !e.Fixed {
		if start, _ := l.Edge(from, to, channel, unix); start.Known && start.Inferred == e.Inferred {
			e.Known = true
		}
	}
	return e, ok
}

// Links is what the plan and the evidence say about every link of a net. It
// does not change, and any number of goroutines may use it.
type Links struct {
	Counts observations.Counts // every report of the log, accounted for

	net       *Net
	at        int64
	estimated bool
	model     *link.Model
	bands     bands
	prior     *link.State
	fixed     map[direction]int32 // into net.Fixed
	table     linkTable
	records   []record
	presence  presence
	account   *Account // nil without observations
	sitesOnce sync.Once
	sites     []siteOffsets // by band
	gain      []float64     // dB that each station sends above what its links were learnt at; nil = none does
}

// direction is a directed pair on a channel.
type direction struct{ from, to, channel int32 }

// Net is the plan that the links belong to.
func (l *Links) Net() *Net { return l.net }

// At is the moment up to which evidence was used, Unix seconds.
func (l *Links) At() int64 { return l.at }

// Estimated reports whether there were observations, so that directions without a
// fixed link are estimated rather than absent.
func (l *Links) Estimated() bool { return l.estimated }

// Newest is the time of the newest report used, Unix seconds, 0 without any.
func (l *Links) Newest() int64 {
	if l.account == nil {
		return 0
	}
	return l.account.Newest
}

// Problems lists the first reports that were well formed but that the net
// couldn't use, such as those on a channel that the plan doesn't have; count is how
// many there were of them.
func (l *Links) Problems() (first []observations.Problem, count int) {
	if l.account == nil {
		return nil, 0
	}
	return l.account.Problems, l.account.ProblemCount
}

// Place is the newest known locator of a station: that of the last report with
// one, else the plan's, "" where neither is known.
func (l *Links) Place(station int) string {
	place := l.net.Stations[station].Locator
	if l.account == nil {
		return place
	}
	return l.account.Places[station]
}

// Edge returns what is known at a moment about the direction from one station
// to another on a channel; for a moment before a link's newest evidence, what is
// known then. It is known if its climate is certain enough (link.Forecast) and, in
// that hour of the day, its sender was on the air and its receiver listened within
// the last 60 days or by a declared watch. It is false where there is no such
// direction: the stations are the same, one of them doesn't use the channel, or
// there is neither a fixed link nor an observation. A pair that never had an
// opportunity is estimated from the settings alone and unknown, or inferred from the
// opposite direction where that is known.
func (l *Links) Edge(from, to, channel int, unix int64) (Edge, bool) {
	if from == to || !l.net.uses(from, channel) || !l.net.uses(to, channel) {
		return Edge{}, false
	}
	e := Edge{From: from, To: to, Channel: channel}
	if len(l.fixed) > 0 {
		if i, ok := l.fixed[direction{int32(from), int32(to), int32(channel)}]; ok {
			l.fixedEdge(&e, &l.net.Fixed[i])
			return e, true
		}
	}
	if !l.estimated {
		return Edge{}, false
	}
	band := int32(l.bands.channel[channel])
	if i := l.table.find(int32(from), int32(to), band); i >= 0 {
		l.learnt(&e, &l.records[i], unix)
		return e, true
	}
	if i := l.table.find(int32(to), int32(from), band); i >= 0 && l.inferred(&e, &l.records[i], band, unix) {
		return e, true
	}
	l.forecast(&e, l.prior, l.gainOf(from), unix)
	return e, true
}

// fixedEdge fills in a link that the plan states.
func (l *Links) fixedEdge(e *Edge, f *FixedLink) {
	e.Fixed, e.Known, e.Freshness = true, true, 1
	if f.HasDecode {
		e.Direction = link.FixedDecode(f.Decode)
		e.Decode = e.Direction.Mean()
		return
	}
	e.HasSNR, e.SNR, e.SD = true, f.SNRDB+l.gainOf(f.From), f.SNRSDDB
	e.Direction = link.FixedSNR(e.SNR, e.SD, l.net.Slots.HalfDecodeDB, l.net.Slots.SpreadDB)
	e.Decode = e.Direction.Mean()
}

// learnt fills in a link with evidence of its own.
func (l *Links) learnt(e *Edge, r *record, unix int64) {
	l.forecast(e, r.state, l.gainOf(e.From), unix)
	e.Reports, e.Unwitnessed, e.Misses = r.reports, r.unwitnessed, r.misses
	if r.newest != math.MinInt64 {
		e.Newest = r.newest
	}
}

// forecast fills in what a state says, with gain dB more than it learnt.
func (l *Links) forecast(e *Edge, s *link.State, gain float64, unix int64) {
	f := l.model.Forecast(s, unix)
	f.Known = f.Known && l.attested(e.From, e.To, e.Channel, unix)
	l.fill(e, f, gain, 0)
}

// fill takes over a forecast, raised by gain dB and with an extra standard
// deviation.
func (l *Links) fill(e *Edge, f link.Forecast, gain, extra float64) {
	f.SNR += gain
	f.Climate += gain
	if extra > 0 {
		f.SD, f.ClimateSD = math.Hypot(f.SD, extra), math.Hypot(f.ClimateSD, extra)
	}
	e.HasSNR, e.SNR, e.SD, e.Climate, e.ClimateSD = true, f.SNR, f.SD, f.Climate, f.ClimateSD
	e.Known, e.Freshness = f.Known, f.Freshness
	e.Direction, e.Fading = l.model.Direction(f, l.net.CommonDB), f.Fading
	e.Decode = f.Decode
	if gain != 0 || extra > 0 {
		e.Decode = e.Direction.Mean()
	}
}

// gainOf is how many dB more a station sends than its links were learnt at.
func (l *Links) gainOf(station int) float64 {
	if l.gain == nil {
		return 0
	}
	return l.gain[station]
}
