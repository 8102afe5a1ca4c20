package endurance

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/meshtest"
	"farhop/observations/locator"
	"farhop/routing/timetable"
)

func near(a, b, within float64) bool { return math.Abs(a-b) <= within }

// Apparent place of the sun on 1992 October 13 at 0h: J. Meeus, Astronomical
// Algorithms, 2nd ed., example 25.a: right ascension 198.38083°, declination
// −7.78507°. The figures are from memory.
func TestSunMeeusExample(t *testing.T) {
	ra, dec := sun(float64(time.Date(1992, 10, 13, 0, 0, 0, 0, time.UTC).Unix()))
	if !near(ra, 198.38083, 1e-4) || !near(dec, -7.78507, 1e-4) {
		t.Errorf("right ascension %.5f, declination %.5f", ra, dec)
	}
}

// I. Reda, A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
// NREL/TP-560-34302 (2003, revised 2008), appendix A.5: 2003 October 17, 12:30:30
// at UTC−7, 39.742476° N, 105.1786° W: height 39.872046° before refraction, of
// which parallax takes 0.002°. The figures are from memory.
func TestSunHeightExample(t *testing.T) {
	at := float64(time.Date(2003, 10, 17, 19, 30, 30, 0, time.UTC).Unix())
	if h := SunHeight(39.742476, -105.1786, at); !near(h, 39.872046, 0.01) {
		t.Errorf("height %.5f°", h)
	}
}

// At the poles the height is the declination; half a day apart at the equator on
// an equinox the heights are opposite.
func TestSunHeightIdentities(t *testing.T) {
	for day := range 12 {
		at := float64(1.7e9 + 30.4*86400*float64(day))
		_, dec := sun(at)
		if !near(SunHeight(90, 17, at), dec, 1e-9) || !near(SunHeight(-90, -60, at), -dec, 1e-9) {
			t.Errorf("pole: %g, declination %g", SunHeight(90, 17, at), dec)
		}
		if dec > 23.45 || dec < -23.45 {
			t.Errorf("declination %g", dec)
		}
	}
}

// randomCase is a net of batteries and a timetable of random reservations over
// two whole UTC days.
func randomCase(tb testing.TB, seed uint64) (*mesh.Net, *timetable.Timetable) {
	r := rand.New(rand.NewPCG(seed, 9))
	n := meshtest.Net(tb, "A-B:0.9 B-C:0.8 C-D:0.9")
	hours, _ := mesh.ParseWindows([]string{"04:00-21:00"})
	for i := range n.Stations {
		s := &n.Stations[i]
		s.Locator, s.Position = "FE34", locator.Position{Lat: -45 + 30*float64(i), Lon: -73 + 80*float64(i)}
		s.Supply = &mesh.Supply{
			BatteryWh: 20 + 100*r.Float64(), Reserve: 0.2, ReceiveW: 2 + 4*r.Float64(), TransmitW: 20 + 40*r.Float64(),
			ChargeWhPerDay: 200 * r.Float64(),
		}
		if i == 1 {
			s.OnAir = hours
		}
	}
	t := &timetable.Timetable{First: 1773619200, Slots: 2160 * 2, SlotSeconds: 40}
	for k := range 30 {
		from := r.IntN(3)
		x := timetable.Reservation{Message: k % 7, From: from, To: []int{from + 1}, Slots: 10 + r.IntN(30), Sent: 8, Answered: 1.5}
		x.Start = t.First + 40*int64(r.IntN(t.Slots-60))
		if k%5 == 0 {
			x.Sendings, x.Answered = 2, 0
		}
		t.Reservations = append(t.Reservations, x)
	}
	return n, t
}

// What a battery held, took and gave adds up, whatever happens.
func TestEnergyIsConserved(t *testing.T) {
	empty, full, reserve := 0, 0, 0
	for seed := range uint64(30) {
		n, tt := randomCase(t, seed)
		r, err := Run(n, tt, Options{Charge: 0.3 + 0.02*float64(seed), Usable: 0.9})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range r.Stations {
			if !near(s.Begin+s.Charged-s.Used, s.End, 1e-9) {
				t.Errorf("seed %d: %g + %g − %g is not %g", seed, s.Begin, s.Charged, s.Used, s.End)
			}
			if given := 2 * n.Stations[s.Station].Supply.ChargeWhPerDay; !near(s.Charged+s.Wasted, given, 1e-9) {
				t.Errorf("seed %d: charged %g and wasted %g of %g", seed, s.Charged, s.Wasted, given)
			}
			if s.Lowest < 0 || s.Lowest > s.Begin/s.Capacity || s.End > s.Capacity || len(s.Hours) != 48 {
				t.Errorf("seed %d: %+v", seed, s)
			}
			if (s.Lowest <= 0.2) != !math.IsNaN(s.ReserveHours) {
				t.Errorf("seed %d: lowest %g, reserve after %g h", seed, s.Lowest, s.ReserveHours)
			}
			if (s.Short > 0) != (s.EmptyAt != 0) || s.Short > 0 && (s.EmptyAt < s.LowestAt || s.Lowest > 0) {
				t.Errorf("seed %d: %g Wh short, empty at %d, lowest at %d", seed, s.Short, s.EmptyAt, s.LowestAt)
			}
			if s.Short > 0 {
				empty++
			}
			if s.Wasted > 0 {
				full++
			}
			if s.ReserveHours > 0 {
				reserve++
			}
		}
	}
	if empty == 0 || full == 0 || reserve == 0 {
		t.Errorf("nothing is shown: %d empty, %d full, %d at the reserve", empty, full, reserve)
	}
}

// A receiver alone on a charged battery reaches the reserve by division; a
// transmission takes its part in place of the receiver's.
func TestHoursByArithmetic(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9")
	n.Stations[0].Supply = &mesh.Supply{BatteryWh: 128, Reserve: 0.25, ReceiveW: 8, TransmitW: 80}
	tt := &timetable.Timetable{First: 1773600000, Slots: 2160, SlotSeconds: 40}
	run := func() Station {
		r, err := Run(n, tt, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Without) != 1 || len(r.Stations) != 1 {
			t.Fatalf("%+v", r)
		}
		return r.Stations[0]
	}
	if s := run(); !near(s.ReserveHours, 12, 1e-9) || !near(s.Used, 128, 1e-9) || !near(s.Short, 64, 1e-9) || s.Cause != -1 {
		t.Errorf("listening: %+v", s)
	} else if late := s.EmptyAt - tt.First - 16*3600; late < 0 || late > 80 {
		t.Errorf("128 Wh at 8 W are empty %d s after 16 h", late)
	}
	// 34 s keyed for each of 100 frames, 72 W more than listening: 68 Wh.
	tt.Reservations = []timetable.Reservation{{Message: 3, From: 0, To: []int{1}, Start: tt.First, Slots: 100, Sent: 100}}
	s := run()
	if want := 12 - 68.0/8; !near(s.ReserveHours, want, 1e-9) || !near(s.Keyed, 3400, 1e-9) {
		t.Errorf("sending: reserve after %g h, not %g; keyed %g s", s.ReserveHours, want, s.Keyed)
	}
	n.Stations[0].Supply.ReceiveW = 2
	n.Stations[0].Supply.BatteryWh = 110
	if s := run(); s.Cause != 3 || !math.IsNaN(s.IdleReserveHours) {
		t.Errorf("cause %d, idle %g", s.Cause, s.IdleReserveHours)
	}
}

// Mean current over a duty cycle: receive 1 A, transmit 20 A, a tenth of the time
// keyed, 24 h at 12.8 V: 2.9 A in the mean, 69.6 Ah, 890.88 Wh (battery arithmetic
// by duty, common practice, no source).
func TestDutyArithmetic(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9")
	n.Slots.Keyed = n.Slots.Length
	n.Stations[0].Supply = &mesh.Supply{BatteryWh: 5000, ReceiveW: 12.8, TransmitW: 256}
	tt := &timetable.Timetable{First: 1773600000, Slots: 2160, SlotSeconds: 40}
	tt.Reservations = []timetable.Reservation{{From: 0, To: []int{1}, Start: tt.First, Slots: 2160, Sent: 216}}
	r, err := Run(n, tt, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if s := r.Stations[0]; !near(s.Used, 890.88, 1e-9) {
		t.Errorf("%g Wh", s.Used)
	}
	if c := r.Costs[0]; !near(c.Wh, 216*40*(256-12.8)/3600, 1e-9) || c.Station != 0 {
		t.Errorf("%+v", c)
	}
}

// Planned soundings are keyed where nothing else is sent.
func TestSoundingsCount(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9")
	n.Stations[0].Supply = &mesh.Supply{BatteryWh: 500, ReceiveW: 1, TransmitW: 11}
	n.Stations[0].Soundings = []mesh.Sounding{{Every: time.Hour}}
	tt := &timetable.Timetable{First: 1773619200, Slots: 2160, SlotSeconds: 40}
	tt.Reservations = []timetable.Reservation{{From: 0, To: []int{1}, Start: tt.First + 7200, Slots: 10, Sent: 5}}
	r, err := Run(n, tt, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if s := r.Stations[0]; !near(s.Keyed, 34*(23+5), 1e-9) || !near(s.Used, 24+34*28*10/3600.0, 1e-9) {
		t.Errorf("keyed %g s, used %g Wh", s.Keyed, s.Used)
	}
}

// The panel gives nothing at night and most at noon; without a place, evenly.
func TestDayCurve(t *testing.T) {
	at := &locator.Position{Lat: -45.5, Lon: -72.5}
	midnight := time.Date(2026, 3, 16, 0, 0, 0, 0, time.UTC).Unix()
	curve := dayCurve(at, midnight, 40)
	sum, best := 0.0, 0
	for k, v := range curve {
		sum += v
		if v > curve[best] {
			best = k
		}
	}
	noon := float64(best) * 40 / 3600
	if !near(sum, 1, 1e-12) || !near(noon, 12+72.5/15+9.0/60, 0.1) { // the sun is 9 minutes late in mid-March
		t.Errorf("sum %g, most at %g h UTC", sum, noon)
	}
	if curve[5*90] != 0 || curve[16*90] == 0 {
		t.Error("charging at night, or none by day")
	}
	for _, v := range dayCurve(nil, midnight, 40) {
		if !near(v, 1.0/2160, 1e-15) {
			t.Fatalf("uneven: %g", v)
		}
	}
	for _, v := range dayCurve(&locator.Position{Lat: 85}, time.Date(2026, 12, 21, 0, 0, 0, 0, time.UTC).Unix(), 40) {
		if v != 0 {
			t.Fatal("charging in the polar night")
		}
	}
}

// 80 W of panel gave about 4 A in full sun (common practice, no source), 51.2 W into
// 12.8 V. Through a day at the equator on an equinox, where the sine of the sun's
// height is half a sine wave of 12 hours, that is 51.2 × 24/π = 391 Wh; with those given
// for the day, noon gives the 4 A again.
func TestPanelInFullSun(t *testing.T) {
	midnight := time.Date(2026, 3, 20, 0, 0, 0, 0, time.UTC).Unix()
	peak := slices.Max(dayCurve(&locator.Position{}, midnight, 40)) * 51.2 * 24 / math.Pi // Wh in a slot
	if amperes := peak * 3600 / 40 / 12.8; !near(amperes, 4, 0.01) {
		t.Errorf("%g A at noon", amperes)
	}
}

func TestOptions(t *testing.T) {
	n, tt := randomCase(t, 1)
	for _, o := range []Options{{Charge: 1.1}, {Charge: -1}, {Usable: 2}, {Usable: math.NaN()}} {
		if _, err := Run(n, tt, o); err == nil {
			t.Errorf("%+v is taken", o)
		}
	}
}

func BenchmarkRun(b *testing.B) {
	n, tt := randomCase(b, 1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(n, tt, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
