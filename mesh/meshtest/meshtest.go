// Package meshtest has nets with known answers for tests, and a one-line
// notation to write small ones.
//
// A net is written as items with blanks between them:
//
//	A-B:0.9/0.8        frames from A to B decode with chance 0.9, back with 0.8
//	B-D:0.83           0.83 both ways
//	A-C:0.7/-          one way only: A → C
//	A-B:-12dB±4/-9dB   SNR −12 dB with standard deviation 4 one way, −9 dB sure the other
//	A-B:0.4@night      on another channel than day
//	E                  a station without any link
//
// Every station is on the air always, has 10 W and a declared watch; the slot
// scheme is mesh.DefaultSlots. The channels are day, 7131000 Hz, and whatever others
// are named, in the order of their names, always in window. With more than one, the
// stations have several receivers, so that every link can be used in every slot.
package meshtest

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"farhop/mesh"
)

// Net reads the notation and prepares the net. It ends the test where the text
// is wrong.
func Net(tb testing.TB, text string) *mesh.Net {
	tb.Helper()
	n, err := Parse(text)
	if err != nil {
		tb.Fatal(err)
	}
	return n
}

// Parse reads the notation and prepares the net; the error names the item that
// is wrong.
func Parse(text string) (*mesh.Net, error) {
	p := parser{channels: []string{"day"}}
	for _, item := range strings.Fields(text) {
		if err := p.item(item); err != nil {
			return nil, fmt.Errorf("meshtest: %q: %w", item, err)
		}
	}
	return p.net()
}

// parser gathers what the items say. Stations and channels stay names until
// all are known.
type parser struct {
	stations, channels []string
	links              []namedLink
}

type namedLink struct {
	from, to, channel string
	value             mesh.FixedLink // without indexes
}

func (p *parser) item(item string) error {
	ends, values, linked := strings.Cut(item, ":")
	if !linked {
		return p.station(ends)
	}
	from, to, ok := strings.Cut(ends, "-")
	if !ok {
		return fmt.Errorf("two stations with '-' between are needed")
	}
	if err := p.station(from); err != nil {
		return err
	}
	if err := p.station(to); err != nil {
		return err
	}
	values, channel, other := strings.Cut(values, "@")
	if !other {
		channel = "day"
	}
	if channel == "" {
		return fmt.Errorf("a channel is needed after '@'")
	}
	if !slices.Contains(p.channels, channel) {
		p.channels = append(p.channels, channel)
	}
	forward, back, split := strings.Cut(values, "/")
	if !split {
		back = forward
	}
	if err := p.link(from, to, channel, forward); err != nil {
		return err
	}
	return p.link(to, from, channel, back)
}

func (p *parser) station(name string) error {
	if name == "" || strings.ContainsAny(name, "/@±-") || name != strings.ToUpper(name) {
		return fmt.Errorf("%q is not a station; names are in upper case", name)
	}
	if !slices.Contains(p.stations, name) {
		p.stations = append(p.stations, name)
	}
	return nil
}

func (p *parser) link(from, to, channel, value string) error {
	if value == "-" {
		return nil
	}
	var link mesh.FixedLink
	number, sd, spread := strings.Cut(value, "dB")
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return fmt.Errorf("%q is not a chance such as 0.83, an SNR such as -12dB±4, or -", value)
	}
	link.HasDecode, link.Decode = !spread, v
	if spread {
		link.Decode, link.SNRDB = 0, v
		if sd != "" {
			link.SNRSDDB, err = strconv.ParseFloat(strings.TrimPrefix(sd, "±"), 64)
			if err != nil || !strings.HasPrefix(sd, "±") {
				return fmt.Errorf("%q is not an SNR such as -12dB±4", value)
			}
		}
	}
	p.links = append(p.links, namedLink{from, to, channel, link})
	return nil
}

// net puts everything together.
func (p *parser) net() (*mesh.Net, error) {
	slices.Sort(p.stations)
	slices.Sort(p.channels[1:])
	n := &mesh.Net{Name: "test net", Slots: mesh.DefaultSlots(), Evidence: mesh.DefaultEvidence(), CommonDB: mesh.DefaultCommonDB}
	for i, name := range p.channels {
		n.Channels = append(n.Channels, mesh.Channel{Name: name, Frequency: frequencyOf(name, i)})
	}
	watch := mesh.WatchDeclared
	if len(p.channels) > 1 {
		watch = mesh.WatchAll
	}
	for _, name := range p.stations {
		n.Stations = append(n.Stations, mesh.Station{Call: name, PowerW: 10, Watch: watch})
	}
	for _, l := range p.links {
		f := l.value
		f.From, f.To = slices.Index(p.stations, l.from), slices.Index(p.stations, l.to)
		f.Channel = slices.Index(p.channels, l.channel)
		n.Fixed = append(n.Fixed, f)
	}
	if issues := n.Prepare(); len(issues) > 0 {
		return nil, fmt.Errorf("meshtest: %s: %s", issues[0].Path, issues[0].Message)
	}
	return n, nil
}

// frequencyOf gives every channel a band of its own.
func frequencyOf(name string, index int) uint32 {
	switch name {
	case "day":
		return 7_131_000
	case "night":
		return 3_651_000
	}
	return 10_131_000 + uint32(index)*1_000_000
}
