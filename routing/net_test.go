package routing

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// noon is 2026-03-02 12:00 UTC, a slot boundary of every scheme used here.
var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC).Unix()

// links is a Source of links by sender, receiver and channel.
type links map[[3]int]func(unix int64) mesh.Edge

func (t links) Edge(from, to, channel int, unix int64) (mesh.Edge, bool) {
	f, ok := t[[3]int{from, to, channel}]
	if !ok {
		return mesh.Edge{From: from, To: to, Channel: channel}, false
	}
	e := f(unix)
	e.From, e.To, e.Channel = from, to, channel
	return e, true
}

// certain is a fixed link with a decode chance.
func certain(decode float64) func(int64) mesh.Edge {
	return func(int64) mesh.Edge {
		return mesh.Edge{
			Fixed: true, Known: true, Decode: decode, Freshness: 1,
			Direction: link.Direction{Kind: link.Certain, Decode: decode},
		}
	}
}

// gaussian is a fixed link with margin and deviation in dB.
func gaussian(margin, sd float64) func(int64) mesh.Edge {
	const spread = 1.5
	return func(int64) mesh.Edge {
		return mesh.Edge{
			Fixed: true, Known: true, HasSNR: true, SNR: margin - 16, SD: sd, Freshness: 1,
			Decode:    link.Phi(margin / math.Hypot(sd, spread)),
			Direction: link.Direction{Kind: link.Gaussian, Margin: margin, SD: sd, Noise: spread},
		}
	}
}

// estimated is a link whose margin swings over the day and which shares part of
// its deviation with the whole net.
func estimated(margin, swing, phase, sd float64) func(int64) mesh.Edge {
	return func(unix int64) mesh.Edge {
		m := margin + swing*math.Sin(2*math.Pi*(float64(unix%86400)/86400+phase))
		return mesh.Edge{
			Known: true, HasSNR: true, SNR: m - 16, SD: sd, ClimateSD: 3, Freshness: 0.5, Reports: 20,
			Decode:    link.Phi(m / math.Hypot(sd, 4)),
			Direction: link.Direction{Kind: link.Gaussian, Margin: m, SD: sd, Common: min(3, sd), Noise: 4},
			Fading:    link.Fading{FastVar: sd * sd / 2, SlowVar: sd * sd / 4, FastRate: 1 / 2700., SlowRate: 1 / 57600.},
		}
	}
}

// windows reads windows that are known to be right.
func windows(t testing.TB, list ...string) mesh.Windows {
	t.Helper()
	w, err := mesh.ParseWindows(list)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// openNet is a net of stations A, B, C … that are always on the air, on one
// channel unless more are named, under the default slots.
func openNet(stations int, channels ...string) *mesh.Net {
	n := &mesh.Net{Name: "test", Slots: mesh.DefaultSlots()}
	if len(channels) == 0 {
		channels = []string{"day"}
	}
	for i, c := range channels {
		n.Channels = append(n.Channels, mesh.Channel{Name: c, Frequency: uint32(3_600_000 + 3_500_000*i), Windows: mesh.Always()})
	}
	for i := range stations {
		s := mesh.Station{Call: name(i), PowerW: 20, OnAir: mesh.Always(), Watch: mesh.WatchAll}
		for c := range channels {
			s.Channels = append(s.Channels, c)
		}
		n.Stations = append(n.Stations, s)
	}
	return n
}

// name is A … Z, then AA, AB …, in an order that sorts.
func name(i int) string {
	return string([]byte{'A' + byte(i/26), 'A' + byte(i%26)})
}

// randomCase is a small random net with windows, watches, one-way links and
// links of every kind.
func randomCase(t testing.TB, r *rand.Rand, stations int) (*mesh.Net, links) {
	n := openNet(stations, "day", "night")
	n.Slots.Busy = []float64{0, 0, 0.1}[r.IntN(3)]
	n.Slots.Block = []int{0, 0, 4}[r.IntN(3)]
	n.Slots.Rounds = 2 + r.IntN(4)
	n.Slots.Ack, n.Slots.Turnaround = 1+r.IntN(2), r.IntN(2)
	if r.IntN(2) == 0 {
		n.Channels[0].Windows = windows(t, "06:00-13:10", "14:30-18:00")
		n.Channels[1].Windows = windows(t, "12:40-06:30")
	}
	for i := range n.Stations {
		s := &n.Stations[i]
		if r.IntN(2) == 0 {
			s.Watch = mesh.WatchDeclared
		}
		switch r.IntN(6) {
		case 0:
			s.OnAir = windows(t, "12:20-13:40")
		case 1:
			s.Channels = []int{1, 0}
		case 2:
			s.Channels = []int{r.IntN(2)}
		}
	}
	all := links{}
	density, kinds := 0.3+0.6*r.Float64(), r.IntN(3)
	if stations > 6 {
		density = 1.4 / float64(stations) // or there are too many chains to try them all
	}
	for from := range stations {
		for to := range stations {
			for c := range n.Channels {
				if from != to && r.Float64() < density {
					all[[3]int{from, to, c}] = randomLink(r, kinds)
				}
			}
		}
	}
	return n, all
}

func randomLink(r *rand.Rand, kinds int) func(int64) mesh.Edge {
	switch kind := r.IntN(3); {
	case kinds == 0 || kind == 0:
		return certain(math.Round((1-0.9*r.Float64()*r.Float64())*20) / 20)
	case kinds == 1 || kind == 1:
		return gaussian(10*r.Float64()-3, 5*r.Float64())
	default:
		return estimated(12*r.Float64()-2, 6*r.Float64(), r.Float64(), 2+5*r.Float64())
	}
}
