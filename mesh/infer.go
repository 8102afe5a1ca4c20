package mesh

import (
	"math"
)

// InferredSDDB is the extra standard deviation of an inferred link in dB. A choice.
const InferredSDDB = 6.0

// inferred fills in a direction from the opposite one, false where that is not
// known at the moment.
func (l *Links) inferred(e *Edge, back *record, band int32, unix int64) bool {
	f := l.model.Forecast(back.state, unix)
	if !f.Known || !l.attested(e.From, e.To, e.Channel, unix) {
		return false
	}
	o := l.offsetsOf(band)
	gain := l.powerDB(int32(e.From)) - l.learntDB(int32(e.To)) + o.db[e.To] - o.db[e.From]
	l.fill(e, f, gain, InferredSDDB)
	e.Inferred = true
	if back.newest != math.MinInt64 {
		e.Newest = back.newest
	}
	return true
}

// powerDB is a station's planned power in dB over 1 W.
func (l *Links) powerDB(station int32) float64 {
	return 10 * math.Log10(l.net.Stations[station].PowerW)
}

// learntDB is the power that a station's links were learnt at.
func (l *Links) learntDB(station int32) float64 { return l.powerDB(station) - l.gainOf(int(station)) }
