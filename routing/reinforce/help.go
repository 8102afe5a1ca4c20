package reinforce

import (
	"math"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/observations/locator"
	"farhop/routing/cut"
)

// Reason is why a station is most likely cut off.
type Reason uint8

const (
	OffAir     Reason = iota // by the plan it listens to nothing at the moment
	OtherWatch               // nobody else listens to the channel it is on
	NoEvidence               // no report and no miss at all on the channel it is on
	NoisySite                // it is heard, but its own receiver lacks many dB
	OtherHour                // the link opens at another hour
	TooLittle                // there is evidence, but not for this hour
	LowPower                 // more power than it has now would do
	PoorSite                 // its paths are weaker than distance explains
	TooFar                   // at that distance an ordinary station would not do better
	WeakPaths                // none of these: the paths are simply too weak
)

// String is a short name, stable for scripts.
func (r Reason) String() string {
	return [...]string{
		"off-air", "channel", "no-evidence", "noisy-site", "hour", "unknown-hour", "power", "site", "distance", "weak-paths",
	}[min(int(r), 9)]
}

// Help is what is likely wrong with a station that is cut off.
type Help struct {
	Station int
	Reason  Reason
	// Partner is the member that it has the best prospects with, −1 for none, on
	// Channel; KM is how far away that one is, NaN where places are not known.
	Partner, Channel int
	KM               float64
	// At is when a link opens or the station is back, 0 where that is not known
	// within a day; Decode is the chance of a frame then.
	At      int64
	Decode  float64
	ShortDB float64 // what the best known link lacks now to decode half the frames, of the direction that is missing; NaN when none is known
	Watts   float64 // power that would do, 0 where that isn't the reason
	SiteDB  float64 // by how much its paths are stronger than distance explains
	NoiseDB float64 // by how much it hears worse than others
	// What there is on the channels it shares now, in the directions that it lacks.
	Known           int    // known links
	Reports, Misses int    // of all links
	Guess           *Guess // the likeliest of the links too little is known of, nil without one
}

// Guess is a link of which too little is known to call it open or closed.
type Guess struct {
	From, To, Channel int
	Decode            float64 // chance that a frame decodes now, as far as can be told
}

// What counts as odd, in dB. Choices, no source.
const (
	noisyDB    = 9.0
	poorSiteDB = 8.0
	mostLiftDB = 10.0 // more is no matter of power any more
)

// Diagnosis asks why stations are cut off.
type Diagnosis struct {
	Links     *mesh.Links
	Law       *Law // may be nil
	Unix      int64
	Threshold float64
	TwoWay    bool // a link is open only if its answer has cut.AckThreshold
}

// Of judges one station. hears and heard say which directions it lacks. Time is
// linear in stations × channels × 24.
func (d *Diagnosis) Of(station int, lacksHearing, lacksBeingHeard bool) Help {
	net := d.Links.Net()
	h := Help{Station: station, Partner: -1, Channel: -1, KM: math.NaN(), ShortDB: math.NaN()}
	if d.Law != nil {
		h.SiteDB, h.NoiseDB = d.Law.Site(station)
	}
	if !d.listens(station, d.Unix) {
		h.Reason = OffAir
		for t := net.Slots.Start(d.Unix); t < d.Unix+mesh.DaySeconds && h.At == 0; t += net.Slots.Seconds() {
			if d.listens(station, t) {
				h.At = t
			}
		}
		return h
	}
	now := d.look(station, d.Unix, lacksHearing, lacksBeingHeard)
	d.later(&h, lacksHearing, lacksBeingHeard)
	h.Known, h.Reports, h.Misses, h.Guess = now.known, now.reports, now.misses, now.guess
	if best := now.best; best.partner >= 0 && !math.IsInf(best.margin, 0) {
		if best.known {
			h.ShortDB = -best.margin
		}
		if h.At == 0 {
			h.Partner, h.Channel = best.partner, best.channel
		}
	}
	h.KM = d.distance(station, h.Partner)
	h.Reason = d.reason(&h, &now, lacksHearing, lacksBeingHeard)
	return h
}

func (d *Diagnosis) reason(h *Help, now *outlook, lacksHearing, lacksBeingHeard bool) Reason {
	net := d.Links.Net()
	s := &net.Stations[h.Station]
	switch {
	case !now.shared:
		return OtherWatch
	case now.stated+now.reports+now.misses == 0:
		return NoEvidence
	case lacksHearing && !lacksBeingHeard && h.NoiseDB > noisyDB:
		return NoisySite
	case h.At != 0:
		return OtherHour
	case now.known == 0:
		return TooLittle
	}
	if lift := -now.out.margin; now.out.known && lift > 0 && lift <= mostLiftDB {
		watts := s.PowerW * math.Pow(10, lift/10)
		if watts <= s.MaxPowerW || s.MaxPowerW == 0 && link.PowerDB(d.median(), s.PowerW) >= lift/2 {
			h.Watts, h.Partner, h.Channel, h.ShortDB = watts, now.out.partner, now.out.channel, lift
			h.KM = d.distance(h.Station, h.Partner)
			return LowPower
		}
	}
	if d.Law == nil {
		return WeakPaths
	}
	if h.SiteDB < -poorSiteDB {
		return PoorSite
	}
	if h.Partner >= 0 && !math.IsNaN(h.KM) {
		if snr, _ := d.Law.Typical(h.Channel, h.KM, s.PowerW); snr < net.Slots.HalfDecodeDB {
			return TooFar
		}
	}
	return WeakPaths
}

func (d *Diagnosis) median() float64 {
	var all []float64
	for i := range d.Links.Net().Stations {
		all = append(all, d.Links.Net().Stations[i].PowerW)
	}
	return median(all)
}

func (d *Diagnosis) listens(station int, unix int64) bool {
	net := d.Links.Net()
	for ch := range net.Channels {
		if net.Listens(station, ch, net.Slots.Start(unix)) {
			return true
		}
	}
	return false
}

// outlook is what a station's links are like at a moment.
type outlook struct {
	shared  bool // somebody else listens to a channel it is on
	stated  int  // links that the plan states
	reports int
	misses  int
	known   int
	guess   *Guess
	best    prospect // in a direction that is lacking
	out     prospect // of being heard, where that is lacking
}

// prospect is the best link in some direction: an open one before a known one before
// others, then the strongest.
type prospect struct {
	partner int // −1 none
	channel int
	margin  float64 // its mean SNR less the half-decode SNR
	decode  float64
	known   bool
	open    bool // known and open
}

func (p *prospect) better(than *prospect) bool {
	switch {
	case p.open != than.open:
		return p.open
	case p.known != than.known:
		return p.known
	}
	return p.margin > than.margin
}

func (d *Diagnosis) look(station int, unix int64, lacksHearing, lacksBeingHeard bool) outlook {
	net := d.Links.Net()
	slot := net.Slots.Start(unix)
	none := prospect{partner: -1, channel: -1, margin: math.Inf(-1)}
	o := outlook{best: none, out: none}
	for other := range net.Stations {
		for ch := range net.Channels {
			if other == station || !net.OpenSlot(station, other, ch, slot) {
				continue
			}
			o.shared = true
			if lacksBeingHeard {
				o.take(d, station, other, ch, other, unix)
			}
			if lacksHearing {
				o.take(d, other, station, ch, other, unix)
			}
		}
	}
	return o
}

func (o *outlook) take(d *Diagnosis, from, to, ch, other int, unix int64) {
	e, ok := d.Links.Edge(from, to, ch, unix)
	if !ok {
		return
	}
	if e.Fixed {
		o.stated++
	}
	o.reports, o.misses = o.reports+e.Reports, o.misses+e.Misses
	p := prospect{partner: other, channel: ch, margin: math.Inf(-1), decode: e.Decode, known: e.Known && !e.Inferred}
	switch {
	case p.known:
		o.known++
	case e.Reports+e.Misses > 0 && (o.guess == nil || e.Decode > o.guess.Decode):
		o.guess = &Guess{From: from, To: to, Channel: ch, Decode: e.Decode}
	}
	switch {
	case e.HasSNR:
		p.margin = e.SNR - d.Links.Net().Slots.HalfDecodeDB
	case e.Decode > 0:
		p.margin = 0
	}
	p.open = p.known && e.Decode >= d.Threshold && (!d.TwoWay || d.answered(from, to, ch, unix))
	if p.better(&o.best) {
		o.best = p
	}
	if to == other && p.better(&o.out) {
		o.out = p
	}
}

// answered reports whether the opposite of a link is good enough for acknowledgments.
func (d *Diagnosis) answered(from, to, ch int, unix int64) bool {
	e, ok := d.Links.Edge(to, from, ch, unix)
	return ok && e.Known && !e.Inferred && e.Decode >= cut.AckThreshold
}

// later finds the first hour of the day to come at which a link opens in a
// direction that is lacking.
func (d *Diagnosis) later(h *Help, lacksHearing, lacksBeingHeard bool) {
	for hour := int64(1); hour < 24; hour++ {
		t := d.Unix + hour*3600
		if o := d.look(h.Station, t, lacksHearing, lacksBeingHeard).best; o.open {
			h.At, h.Partner, h.Channel, h.Decode = t, o.partner, o.channel, o.decode
			return
		}
	}
}

// distance is how far two stations are apart in km, NaN where that is not known.
func (d *Diagnosis) distance(a, b int) float64 {
	if b < 0 {
		return math.NaN()
	}
	x, errX := locator.Parse(d.Links.Place(a))
	y, errY := locator.Parse(d.Links.Place(b))
	if errX != nil || errY != nil {
		return math.NaN()
	}
	return locator.Distance(x, y)
}

// Site is what the law thinks of a member's site: by how many dB its paths are
// stronger than distance and ground explain, and by how many it hears worse than
// the same paths say; 0 for a station without a place.
func (law *Law) Site(station int) (site, noise float64) {
	s := law.site[station]
	if s < 0 {
		return 0, 0
	}
	rough, loud := law.sites.rough[s], law.sites.loud[s]
	for i, p := range law.paths {
		w := law.weight.AtVec(i)
		if p.from == s || p.to == s {
			site += w * siteDB * siteDB * rough * rough
		}
		if p.to == s {
			noise -= w * noiseDB * noiseDB * loud * loud
		}
	}
	return site, noise
}

// InTrouble lists the stations of a report that are cut off, in order, and which
// directions each lacks.
func InTrouble(r *cut.Report) (stations []int, lacksHearing, lacksBeingHeard []bool) {
	state := make([][2]bool, r.Stations)
	for _, list := range [][]int{r.Isolated, r.Unknown} {
		for _, s := range list {
			state[s] = [2]bool{true, true}
		}
	}
	for _, s := range r.Deaf {
		state[s][0] = true
	}
	for _, s := range r.Unheard {
		state[s][1] = true
	}
	for s, lacks := range state {
		if lacks[0] || lacks[1] {
			stations = append(stations, s)
			lacksHearing, lacksBeingHeard = append(lacksHearing, lacks[0]), append(lacksBeingHeard, lacks[1])
		}
	}
	return stations, lacksHearing, lacksBeingHeard
}
