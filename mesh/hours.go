package mesh

// The climate of a link is a smooth curve over the day, which foretells an hour or
// two beyond the hours it was heard at well enough. But nobody may be there then: a
// link whose ends work by day only must not be called known at night.
const (
	// attestedDays is for how many days a station that was on the air at an hour
	// of the day is thought to be again. A choice.
	attestedDays = 60
	// attestedGap is how many hours may lie from one hour of the day at which a
	// station was on the air to the next for those between to count as well: soundings
	// may be as rare as that. A choice.
	attestedGap = 3
)

const (
	hourSeconds = 3600
	dayHours    = 24
)

// moment is an hour of a day.
type moment struct {
	hour int
	day  int32 // since 1970 plus one
}

func momentOf(unix int64) moment {
	hours := floorDiv(unix, hourSeconds)
	day := floorDiv(hours, dayHours)
	return moment{int(hours - day*dayHours), int32(day + 1)}
}

// hourly is the newest day on which something was so, for each hour of the UTC
// day; 0 where it never was. It looks backwards only and holds no history.
type hourly [dayHours]int32

func (h *hourly) mark(m moment) { h[m.hour] = max(h[m.hour], m.day) }

// attests reports whether it was so in that hour of the day, or both before and
// after it with no more than attestedGap hours from one to the other, within the
// attestedDays before the moment or later.
func (h *hourly) attests(m moment) bool {
	lately := func(hour int) bool {
		day := h[(hour+dayHours)%dayHours]
		return day > 0 && m.day-day <= attestedDays
	}
	if lately(m.hour) {
		return true
	}
	for before := 1; before < attestedGap; before++ {
		for after := 1; after+before <= attestedGap; after++ {
			if lately(m.hour-before) && lately(m.hour+after) {
				return true
			}
		}
	}
	return false
}

// presence is at what hours of the day stations were known to be there: by
// reports of and from them on any band, and listening by reports on the band.
// Planned soundings don't count: they go on in the plan after the operator has left.
type presence struct {
	bands    int
	there    []hourly // by station
	listened []hourly // by station and band
}

func newPresence(stations, bands int) presence {
	return presence{bands, make([]hourly, stations), make([]hourly, stations*bands)}
}

// seen notes that a station was on the air.
func (p *presence) seen(station int32, m moment) { p.there[station].mark(m) }

// heard notes that a station listened to a band.
func (p *presence) heard(station, band int32, m moment) {
	p.listened[int(station)*p.bands+int(band)].mark(m)
}

// take copies what is known of a station from that of another plan.
func (p *presence) take(station int, from *presence, old int) {
	p.there[station] = from.there[old]
	copy(p.listened[station*p.bands:][:p.bands], from.listened[old*p.bands:])
}

// attested reports whether, at that hour of the day, a link's sender is known to be
// on the air and its receiver to listen to the channel's band, by what was
// reported or by the plan for those whose watch it declares.
func (l *Links) attested(from, to, channel int, unix int64) bool {
	m, p := momentOf(unix), &l.presence
	return (p.there[from].attests(m) || l.declared(from, channel, unix)) &&
		(p.listened[to*p.bands+l.bands.channel[channel]].attests(m) || l.declared(to, channel, unix))
}

// declared reports whether the plan declares the station to listen to the channel in
// the slot of the moment.
func (l *Links) declared(station, channel int, unix int64) bool {
	length := l.net.Slots.Seconds()
	return l.net.Stations[station].Watch != WatchHeard && l.net.Listens(station, channel, floorDiv(unix, length)*length)
}
