package backtest

import "math"

const (
	chanceClip  = 0.001 // of every chance that is scored
	oddsClip    = 0.01  // of chances inside log-odds
	recentHours = 1.0   // memory of Recent
	hourHours   = 3.0   // over which HourAndRecent lets go of Recent
	hourPseudo  = 2.0   // opportunities at the base rate that HourOfDay starts from
)

// tally is what the simple rules know of a link: how many opportunities there
// were and how many decoded, in all, in each UTC hour and lately.
type tally struct {
	decoded, all         float64
	hourDecoded, hourAll [24]float64
	lateDecoded, lateAll float64 // weighted by e^(−age/1 h) at the moment unix
	unix                 int64
}

// take counts an opportunity.
func (t *tally) take(unix int64, decoded bool) {
	left := t.left(unix)
	hit := 0.0
	if decoded {
		hit = 1
	}
	hour := hourOf(unix)
	t.decoded, t.all = t.decoded+hit, t.all+1
	t.hourDecoded[hour], t.hourAll[hour] = t.hourDecoded[hour]+hit, t.hourAll[hour]+1
	if unix >= t.unix {
		t.lateDecoded, t.lateAll = t.lateDecoded*left+hit, t.lateAll*left+1
		t.unix = unix
		return
	}
	late := math.Exp(float64(unix-t.unix) / (3600 * recentHours)) // told late
	t.lateDecoded, t.lateAll = t.lateDecoded+hit*late, t.lateAll+late
}

// left is what is left at a moment of the weights.
func (t *tally) left(unix int64) float64 {
	if t.all == 0 || unix <= t.unix {
		return 1
	}
	return math.Exp(float64(t.unix-unix) / (3600 * recentHours))
}

// forecast fills in the chances of the simple rules for a moment, so many
// seconds after the newest evidence they may know.
func (t *tally) forecast(chances *[ModelCount]float64, unix, ahead int64) {
	base := (t.decoded + 0.5) / (t.all + 1)
	left, hour := t.left(unix), hourOf(unix)
	recent := (t.lateDecoded*left + base) / (t.lateAll*left + 1)
	byHour := (t.hourDecoded[hour] + hourPseudo*base) / (t.hourAll[hour] + hourPseudo)
	hold := math.Exp(-float64(ahead) / (3600 * hourHours))
	chances[BaseRate], chances[Recent], chances[HourOfDay] = base, recent, byHour
	chances[HourAndRecent] = chanceOf(oddsOf(byHour) + hold*(oddsOf(recent)-oddsOf(base)))
}

// oddsOf is a chance's log-odds, clipped.
func oddsOf(p float64) float64 {
	p = clip(p, oddsClip)
	return math.Log(p / (1 - p))
}

// chanceOf is the chance of log-odds.
func chanceOf(odds float64) float64 { return 1 / (1 + math.Exp(-odds)) }

// hourOf is the UTC hour of a moment.
func hourOf(unix int64) int {
	second := unix % 86400
	if second < 0 {
		second += 86400
	}
	return int(second / 3600)
}
