package fit

import (
	"context"
	"math"
	"slices"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// Common is the net-wide deviation as a log shows it.
type Common struct {
	DB        float64 // the deviation in dB, held near mesh.DefaultCommonDB as far as the log is silent
	Seen      float64 // what the log alone says of the square, in dB²; may be negative
	SeenError float64 // its standard error, by whole UTC days; +Inf without evidence
	Slots     int     // slots with evidence of more than one link
}

// commonPrior is how far, in dB², the square of the deviation is expected to be off
// the customary one without evidence. A choice.
const commonPrior = 9.0

// CommonAhead is how far ahead forecasts are made to estimate the net-wide
// deviation. One step ahead would show too little of it: a lasting disturbance is
// learnt from the first reports, but a message planned before them meets it. A
// choice: messages take hours.
const CommonAhead = 3 * time.Hour

// EstimateCommon estimates how much of what the forecasts so far ahead (0 = one step) get
// wrong is the same for all links of the net at a time.
//
// The slope s of an entry's log-likelihood by a shift of its link's x has the mean 0
// and a variance I by the model, whatever was decoded. If all links of a slot are
// shifted by one deviation of variance c², the mean of the product of two slopes is c²·I·I'
// to first order, so c² is estimated by the sum of the products of all pairs of
// entries in a slot, divided by the sum of the products of their I.
func EstimateCommon(ctx context.Context, n *mesh.Net, h *mesh.History, s link.Settings, ahead time.Duration) (Common, error) {
	m, err := link.NewModel(s)
	if err != nil {
		return Common{}, err
	}
	slots := make(map[int64]*moments)
	length := n.Slots.Seconds()
	for i, entries := range h.Links {
		if i&63 == 0 && ctx.Err() != nil {
			return Common{}, ctx.Err()
		}
		state, next := m.NewState(), 0
		for k := range entries {
			e := &entries[k]
			if !e.Opportunity() {
				continue
			}
			for ; next < k && entries[next].Told <= e.Unix-int64(ahead/time.Second); next++ {
				entries[next].Update(m, state)
			}
			slope, info := slopeOf(m, state, e)
			at := floorDiv(e.Unix, length)
			if slots[at] == nil {
				slots[at] = &moments{}
			}
			slots[at].take(slope, info)
		}
	}
	return fromSlots(slots, 86400/length), nil
}

// moments sums the slopes of a slot and what the model expects of them.
type moments struct {
	n                                    int
	slope, slopeSquare, info, infoSquare float64
}

func (s *moments) take(slope, info float64) {
	s.n++
	s.slope += slope
	s.slopeSquare += slope * slope
	s.info += info
	s.infoSquare += info * info
}

// products are the sums over all ordered pairs of entries.
func (s *moments) products() (slopes, infos float64) {
	return s.slope*s.slope - s.slopeSquare, s.info*s.info - s.infoSquare
}

func fromSlots(slots map[int64]*moments, perDay int64) Common {
	keys := make([]int64, 0, len(slots))
	for k, s := range slots {
		if s.n > 1 {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	c := Common{DB: mesh.DefaultCommonDB, SeenError: math.Inf(1), Slots: len(keys)}
	var days [][2]float64
	last := int64(math.MinInt64)
	above, below := 0.0, 0.0
	for _, k := range keys {
		if day := floorDiv(k, perDay); day != last {
			days, last = append(days, [2]float64{}), day
		}
		slopes, infos := slots[k].products()
		above, below = above+slopes, below+infos
		d := &days[len(days)-1]
		d[0], d[1] = d[0]+slopes, d[1]+infos
	}
	if !(below > 0) || len(days) < 2 {
		return c
	}
	c.Seen = above / below
	square := 0.0
	for _, d := range days {
		r := d[0] - c.Seen*d[1]
		square += r * r
	}
	c.SeenError = math.Sqrt(square) / below
	// The two are joined by their precisions.
	own, prior := 1/math.Max(c.SeenError*c.SeenError, 1e-6), 1/(commonPrior*commonPrior)
	joined := (own*c.Seen + prior*mesh.DefaultCommonDB*mesh.DefaultCommonDB) / (own + prior)
	c.DB = math.Sqrt(math.Max(joined, 0))
	return c
}

// slopeOf is the slope of an entry's log-likelihood by a shift of x, and the variance that
// the model expects of it.
func slopeOf(m *link.Model, state *link.State, e *mesh.Entry) (slope, info float64) {
	f := m.Forecast(state, e.Unix)
	set := m.Settings()
	v := f.SD*f.SD + set.SlotSD*set.SlotSD // of a report
	s := v + set.SpreadDB*set.SpreadDB
	z := (f.SNR - set.HalfDecodeDB - float64(e.Raise)) / math.Sqrt(s)
	density := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	decode, miss := link.Phi(z), link.Phi(-z)
	hazard := z // of a miss, far above
	if z < 30 {
		hazard = density / miss
	}
	if e.Kind == mesh.EventMiss {
		slope = -hazard / math.Sqrt(s)
	} else {
		slope = (float64(e.Value) - f.SNR) / v
	}
	// Reports: E[(y − x)²; decoded]/v², misses: hazard²·P(miss)/s.
	info = (decode-v/s*z*density)/v + hazard*density/s
	return slope, math.Max(info, 0)
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
