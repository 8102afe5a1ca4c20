package observations

import (
	"math/bits"

	"farhop/observations/locator"
)

// maxCall is the longest call sign in characters.
const maxCall = 20

// directory gives sites their numbers. It knows every spelling it has met, so
// that a row whose spellings are known costs no allocation: call sign and
// locator of at most eight bytes each are the two words of a key in an open
// hash table, longer ones a string in a map.
type directory struct {
	table    []spelling // a power of two long, at most half full
	spelled  int
	long     map[string]spelling // call, 0, locator
	sites    []Site
	stations []uint32 // site → the number its call sign has
	ids      map[Site]SiteID
	calls    map[string]uint32
	key      []byte
}

// spelling is how a site was written. The zero call is a free place.
type spelling struct {
	call, place uint64 // bytes, the first lowest
	site        SiteID
	station     uint32
}

func newDirectory() *directory {
	return &directory{
		table: make([]spelling, 1<<8),
		long:  map[string]spelling{},
		ids:   map[Site]SiteID{},
		calls: map[string]uint32{},
	}
}

func (d *directory) slot(call, place uint64) int {
	h := (call ^ bits.RotateLeft64(place*0x9e3779b97f4a7c15, 29)) * 0xd6e8feb86659fd93
	return int((h ^ h>>32) & uint64(len(d.table)-1))
}

// find looks up a spelling of two words.
func (d *directory) find(call, place uint64) (spelling, bool) {
	mask := len(d.table) - 1
	for i := d.slot(call, place); ; i = (i + 1) & mask {
		switch e := &d.table[i]; {
		case e.call == call && e.place == place:
			return *e, call != 0
		case e.call == 0:
			return spelling{}, false
		}
	}
}

// What lookup makes of a spelling.
type verdict uint8

const (
	siteKnown verdict = iota
	badCall
	badPlace
)

// lookup finds or adds the site written so, place being empty when no locator
// is given.
func (d *directory) lookup(call, place []byte) (spelling, verdict) {
	short := len(call) <= 8 && len(place) <= 8
	if short {
		s, ok := d.find(word(call), word(place))
		if ok && !endsInZero(call) && !endsInZero(place) {
			return s, siteKnown
		}
	} else {
		d.key = append(append(append(d.key[:0], call...), 0), place...)
		if s, ok := d.long[string(d.key)]; ok {
			return s, siteKnown
		}
	}
	var site Site
	var ok bool
	if site.Call, ok = normalCall(call); !ok {
		return spelling{}, badCall
	}
	if len(place) > 0 {
		if site.Locator, ok = normalPlace(place); !ok {
			return spelling{}, badPlace
		}
	}
	s := spelling{site: d.add(site)}
	s.station = d.stations[s.site]
	if short {
		s.call, s.place = word(call), word(place)
		d.insert(s)
	} else {
		d.long[string(d.key)] = s
	}
	return s, siteKnown
}

// endsInZero tells texts apart that would pack into the same word.
func endsInZero(b []byte) bool { return len(b) > 0 && b[len(b)-1] == 0 }

// add returns the number of a site, a new one if need be.
func (d *directory) add(site Site) SiteID {
	if id, ok := d.ids[site]; ok {
		return id
	}
	station, ok := d.calls[site.Call]
	if !ok {
		station = uint32(len(d.calls))
		d.calls[site.Call] = station
	}
	id := SiteID(len(d.sites))
	d.ids[site] = id
	d.sites = append(d.sites, site)
	d.stations = append(d.stations, station)
	return id
}

func (d *directory) insert(s spelling) {
	if 2*(d.spelled+1) > len(d.table) {
		old := d.table
		d.table = make([]spelling, 2*len(old))
		for _, e := range old {
			if e.call != 0 {
				d.place(e)
			}
		}
	}
	d.place(s)
	d.spelled++
}

func (d *directory) place(s spelling) {
	i := d.slot(s.call, s.place)
	for d.table[i].call != 0 {
		i = (i + 1) & (len(d.table) - 1)
	}
	d.table[i] = s
}

// word packs up to eight bytes, the first lowest.
func word(b []byte) (w uint64) {
	for i, c := range b {
		w |= uint64(c) << (8 * i)
	}
	return w
}

// normalCall returns a call sign in capitals. A call sign is 1 to 20 letters,
// digits, '/', '-', '_' and '.'.
func normalCall(b []byte) (string, bool) {
	if len(b) == 0 || len(b) > maxCall {
		return "", false
	}
	var up [maxCall]byte
	for i, c := range b {
		switch {
		case c >= 'a' && c <= 'z':
			c -= 'a' - 'A'
		case c >= 'A' && c <= 'Z', c >= '-' && c <= '9', c == '_':
		default:
			return "", false
		}
		up[i] = c
	}
	return string(up[:len(b)]), true
}

// normalPlace returns a locator in customary case.
func normalPlace(b []byte) (string, bool) {
	if len(b) > locator.MaxChars {
		return "", false
	}
	s, err := locator.Normal(string(b))
	return s, err == nil
}
