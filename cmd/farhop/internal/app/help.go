package app

import (
	"fmt"
	"math"
	"slices"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing/cut"
	"farhop/routing/reinforce"
)

// mostHelped bounds for how many stations help is worked out: each takes a look
// at all its links through a day.
const mostHelped, mostHelpedLarge = 50, 12

// help says what is known of the stations that are cut off, why they likely are,
// and what to try.
func (s *Session) help(r *cut.Report) []view.Help {
	if s.req.Unknown {
		used := *r
		used.Unknown = nil // their links count
		r = &used
	}
	stations, hearing, heard := reinforce.InTrouble(r)
	most := mostHelped
	if len(s.net.Stations) > reinforce.MostStations {
		most = mostHelpedLarge
	}
	stations = stations[:min(len(stations), most)]
	contacts := reinforce.LastContacts(s.net, s.log, stations)
	d := reinforce.Diagnosis{Links: s.links, Law: s.law(stations), Unix: s.at.Unix(), Threshold: s.req.Threshold, TwoWay: s.req.TwoWay}
	out := []view.Help{}
	for k, i := range stations {
		h := d.Of(i, hearing[k], heard[k])
		v := view.Help{
			Station: s.net.Stations[i].Call, State: state(r, i, h.Reason), Reason: h.Reason.String(),
			LastHeardBy: s.contact(contacts[k].HeardBy), LastHeard: s.contact(contacts[k].Heard),
			OpensAt: moment(h.At), ShortDB: figure(h.ShortDB), Reports: h.Reports, Misses: h.Misses,
		}
		if g := h.Guess; g != nil {
			v.UnknownLink = &view.GuessLink{
				From: s.net.Stations[g.From].Call, To: s.net.Stations[g.To].Call, Channel: s.net.Channels[g.Channel].Name, Decode: g.Decode,
			}
		}
		if h.Partner >= 0 {
			v.Partner, v.Channel = s.net.Stations[h.Partner].Call, s.net.Channels[h.Channel].Name
		}
		if h.Watts > 0 {
			v.PowerW = figure(h.Watts)
		}
		v.Because, v.Try = s.because(&h, &v)+s.unknown(&h, &v), s.callNow(&h, &v)+s.advise(&h, &v)
		out = append(out, v)
	}
	return out
}

// law is what the net's links teach, where somebody on the air needs it.
func (s *Session) law(stations []int) *reinforce.Law {
	off := s.offAir()
	needed := slices.ContainsFunc(stations, func(i int) bool { return !slices.Contains(off, i) })
	if !needed || len(s.net.Stations) > reinforce.MostStations {
		return nil
	}
	return reinforce.LearnLaw(s.links, s.at.Unix())
}

func state(r *cut.Report, station int, reason reinforce.Reason) string {
	switch {
	case reason == reinforce.OffAir:
		return "off-air"
	case slices.Contains(r.Unknown, station):
		return "unknown"
	case slices.Contains(r.Isolated, station):
		return "isolated"
	case slices.Contains(r.Deaf, station):
		return "deaf"
	}
	return "unheard"
}

func (s *Session) contact(c *reinforce.Contact) *view.Contact {
	if c == nil {
		return nil
	}
	v := &view.Contact{Station: c.Other, At: time.Unix(c.Unix, 0).UTC(), SNRDB: c.SNR}
	if c.Channel >= 0 {
		v.Channel = s.net.Channels[c.Channel].Name
	}
	return v
}

// oddSiteDB is from where on a poor or noisy site is told of beside another reason.
const oddSiteDB = 8

// because words the likely reason.
func (s *Session) because(h *reinforce.Help, v *view.Help) string {
	lacks := ""
	if h.ShortDB > 0 && !math.IsInf(h.ShortDB, 0) && h.Reason != reinforce.NoisySite {
		short := view.DB(h.ShortDB)
		if h.ShortDB < 0.5 {
			short = "less than 1 dB"
		}
		lacks = fmt.Sprintf(" Its best link now lacks %s.", short)
	}
	if h.SiteDB < -oddSiteDB && h.Reason > reinforce.NoEvidence && h.Reason != reinforce.PoorSite {
		lacks += fmt.Sprintf(" Its paths are also about %s weaker than distance explains.", view.DB(-h.SiteDB))
	}
	if h.NoiseDB > oddSiteDB && h.Reason > reinforce.NoEvidence && h.Reason != reinforce.NoisySite {
		lacks += fmt.Sprintf(" It hears about %s worse than others: a noisy site.", view.DB(h.NoiseDB))
	}
	switch h.Reason {
	case reinforce.OffAir:
		return "off the air at this hour by the plan."
	case reinforce.OtherWatch:
		return "nobody else listens to the channel it is on at this hour."
	case reinforce.NoEvidence:
		return "there is no evidence of it at all on the channel it is on."
	case reinforce.NoisySite:
		return fmt.Sprintf("a noisy site, most likely: it is heard, but hears about %s worse than others.", view.DB(h.NoiseDB))
	case reinforce.OtherHour:
		return "the hour: " + s.opensLater(h, v) + lacks
	case reinforce.TooLittle:
		return "too little is known of this hour to call any of its links open or closed." + lacks
	case reinforce.LowPower:
		return fmt.Sprintf("power: %s is too little.%s", view.Watts(s.net.Stations[h.Station].PowerW), lacks)
	case reinforce.PoorSite:
		return fmt.Sprintf("a poor site or aerial: its paths are about %s weaker than distance explains.%s", view.DB(-h.SiteDB), lacks)
	case reinforce.TooFar:
		return fmt.Sprintf("distance: %s, its best prospect, is %.0f km away.%s", v.Partner, h.KM, lacks)
	}
	return "its paths are too weak at this hour." + lacks
}

// opensLater says what is to come of a station whose links open later.
func (s *Session) opensLater(h *reinforce.Help, v *view.Help) string {
	switch {
	case h.Known == 0:
		return "too little is known of its links as they are now; of a later hour it is known that one opens."
	case v.State == "deaf":
		return "no link to it is open now, one opens later."
	case v.State == "unheard":
		return "no link from it is open now, one opens later."
	}
	return "its links are closed now, one opens later."
}

// justNow is how recent a contact is that likely could be had again: the fast
// fluctuations of a link last about so long.
const justNow = time.Hour

// newest is the latest contact of a station, nil where there is none, and how long
// ago it was.
func (s *Session) newest(v *view.Help) (last *view.Contact, age time.Duration) {
	last = v.LastHeardBy
	if o := v.LastHeard; o != nil && (last == nil || o.At.After(last.At)) {
		last = o
	}
	if last != nil {
		age = s.at.Sub(last.At)
	}
	return last, age
}

// unknown says why a station that was heard, or only ever missed, still counts as
// unknown, and what --unknown would make of it.
func (s *Session) unknown(h *reinforce.Help, v *view.Help) string {
	if v.UnknownLink == nil || h.Reason == reinforce.OffAir || h.Reason == reinforce.NoisySite || v.State != "unknown" && h.Known > 0 {
		return ""
	}
	text := ""
	last, age := s.newest(v)
	switch {
	case h.Reports == 0 && h.Misses > 0:
		text = fmt.Sprintf(" Between it and those who share its channel now there have only ever been misses, %s: they say too weak, not how weak, so it isn't called closed.",
			view.Grouped(h.Misses))
	case last != nil && age <= justNow:
		text = fmt.Sprintf(" That it was in contact %s ago is not enough: known means to know how this hour usually goes, and of that its reports still say too little.",
			view.Age(age))
	}
	g := v.UnknownLink
	link := fmt.Sprintf("%s%s%s on %s", g.From, view.Arrow, g.To, g.Channel)
	if g.Decode >= s.req.Threshold {
		return text + fmt.Sprintf(" --unknown would use it: %s then counts as open, a guess of %s.", link, view.Percent(g.Decode))
	}
	return text + fmt.Sprintf(" --unknown wouldn't help: its best guess, %s, is %s.", link, view.Percent(g.Decode))
}

// callNow says that a station that was in contact just now, on a channel both still
// watch, is worth a call.
func (s *Session) callNow(h *reinforce.Help, v *view.Help) string {
	last, age := s.newest(v)
	if v.State != "unknown" || last == nil || age > justNow || last.Channel == "" {
		return ""
	}
	ch, used := s.net.FindChannel(last.Channel)
	other, member := s.net.Find(last.Station)
	if !used || !member || !s.net.OpenSlot(h.Station, other, ch, s.slotStart()) {
		return ""
	}
	return fmt.Sprintf("call it now on %s, it was in contact with %s %s ago. Failing that, ", last.Channel, last.Station, view.Age(age))
}

// advise words the most promising thing to try.
func (s *Session) advise(h *reinforce.Help, v *view.Help) string {
	with := "the others"
	if v.Partner != "" {
		with = v.Partner
		if !math.IsNaN(h.KM) {
			with = fmt.Sprintf("%s (%.0f km)", v.Partner, h.KM)
		}
	}
	opens := ""
	if v.OpensAt != nil {
		opens = s.clock.At(*v.OpensAt)
	}
	switch h.Reason {
	case reinforce.OffAir:
		if opens == "" {
			return "another on-air window; it listens to nothing all day."
		}
		return fmt.Sprintf("wait until %s, when it is back, or ask what a longer window would do: --on-air %s=WINDOWS.", opens, v.Station)
	case reinforce.OtherWatch:
		if opens == "" {
			return "agree on a channel: put the one the others watch into its list."
		}
		return fmt.Sprintf("wait until %s, when it shares %s with %s; or agree on a channel now.", opens, v.Channel, with)
	case reinforce.NoEvidence:
		return fmt.Sprintf("have it sound at this hour and collect who heard it; ask it for its list of stations heard%s.", near(with))
	case reinforce.NoisySite:
		return fmt.Sprintf("switch off or move away from whatever makes the noise, or another receiving aerial. Until then send to it blind, "+
			"and let others speak for it: --blind N with 'farhop route … %s'.", v.Station)
	case reinforce.OtherHour:
		return fmt.Sprintf("wait until %s: %s on %s, a frame then decodes with %s.", opens, with, v.Channel, view.Percent(h.Decode))
	case reinforce.TooLittle:
		return fmt.Sprintf("have it sound on its channel at this hour, several times, and ask for its list; best guess: %s.", with)
	case reinforce.LowPower:
		return fmt.Sprintf("%s towards %s; look with --power %s=%.0f.", view.Watts(math.Ceil(h.Watts)), with, v.Station, math.Ceil(h.Watts))
	case reinforce.PoorSite:
		return fmt.Sprintf("a higher or more open place for the aerial; %s is its best prospect. More power alone won't do.", with)
	}
	return fmt.Sprintf("a relay between it and %s: see 'farhop resilience --reinforce'; or another hour or channel.", with)
}

func near(with string) string {
	if with == "the others" {
		return ""
	}
	return "; " + with + " is the best guess"
}
