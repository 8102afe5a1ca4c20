package meshtest

import (
	"math"
	"math/rand/v2"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// Truth is a world that is as the link model says, to draw evidence from.
type Truth struct {
	Settings  link.Settings
	CommonDB  float64       // standard deviation of what all links share, beside Settings
	CommonTau time.Duration // over which it changes
	Links     int
	Each      int           // opportunities of each link, all links in the same slots
	Every     time.Duration // between them
	Seed      uint64
}

// truthStart is when drawn evidence begins, Unix seconds: 2026-03-02 00:00Z.
const truthStart = 1_772_409_600

// Draw draws the evidence, with a net whose settings are the true ones.
func (t Truth) Draw() (*mesh.Net, *mesh.History) {
	every := int64(t.Every / time.Second)
	h := &mesh.History{Account: &mesh.Account{}, First: truthStart, Last: truthStart + int64(t.Each-1)*every}
	rng := rand.New(rand.NewPCG(t.Seed, 0))
	shared := make([]float64, t.Each)
	if t.CommonDB > 0 {
		common := strayer{t.CommonDB, t.CommonTau, t.CommonDB * rng.NormFloat64()}
		for i := range shared {
			shared[i] = common.value
			common.step(t.Every, rng)
		}
	}
	for l := range t.Links {
		h.Account.Pairs = append(h.Account.Pairs, mesh.Pair{From: int32(l), To: int32(l + 1)})
		h.Links = append(h.Links, t.link(rng, shared))
	}
	n := &mesh.Net{Slots: mesh.DefaultSlots(), Link: t.Settings, CommonDB: t.CommonDB}
	n.Slots.HalfDecodeDB, n.Slots.SpreadDB = t.Settings.HalfDecodeDB, t.Settings.SpreadDB
	return n, h
}

// link draws one link, with what it shares with the others.
func (t Truth) link(rng *rand.Rand, shared []float64) []mesh.Entry {
	s := t.Settings
	parts := []strayer{{s.LevelSD, s.LevelTau, 0}, {s.FastSD, s.FastTau, 0}, {s.SlowSD, s.SlowTau, 0}}
	sd := s.HarmonicSD
	for range s.Harmonics {
		parts = append(parts, strayer{sd, s.HarmonicTau, 0}, strayer{sd, s.HarmonicTau, 0})
		sd *= s.HarmonicRatio
	}
	for i := range parts {
		parts[i].value = parts[i].sd * rng.NormFloat64()
	}
	list := make([]mesh.Entry, 0, len(shared))
	for i := range shared {
		unix := truthStart + int64(i)*int64(t.Every/time.Second)
		x := s.HalfDecodeDB + s.MeanDB + parts[0].value + parts[1].value + parts[2].value + shared[i]
		for k := range s.Harmonics {
			sin, cos := math.Sincos(2 * math.Pi * float64(k+1) * float64(unix%86400) / 86400)
			x += parts[3+2*k].value*cos + parts[4+2*k].value*sin
		}
		z := x + s.SlotSD*rng.NormFloat64()
		e := mesh.Entry{Unix: unix, Told: unix, Kind: mesh.EventMiss}
		if rng.Float64() < link.Phi((z-s.HalfDecodeDB)/s.SpreadDB) {
			e.Value, e.Kind = float32(z), mesh.EventReport
		}
		list = append(list, e)
		for i := range parts {
			parts[i].step(t.Every, rng)
		}
	}
	return list
}

// strayer is a stationary Ornstein–Uhlenbeck process, drawn exactly.
type strayer struct {
	sd    float64 // dB
	tau   time.Duration
	value float64
}

func (s *strayer) step(by time.Duration, rng *rand.Rand) {
	keep := math.Exp(-by.Seconds() / s.tau.Seconds())
	s.value = keep*s.value + math.Sqrt(1-keep*keep)*s.sd*rng.NormFloat64()
}
