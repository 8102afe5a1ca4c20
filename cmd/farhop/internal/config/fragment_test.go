package config

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/mesh"
	"farhop/mesh/link"
)

func TestModelFragment(t *testing.T) {
	if got := string(ModelFragment(link.Defaults(), mesh.DefaultCommonDB)); got != "model: {}\n" {
		t.Errorf("defaults are written as %q", got)
	}
	s := link.Defaults()
	s.MeanDB, s.Harmonics, s.SlowTau = -5.25, 4, 13*time.Hour+400*time.Millisecond
	want := "model:\n  level_mean_db: -5.25\n  harmonics: 4\n  slow_time: 13h\n  common_db: 2\n"
	if got := string(ModelFragment(s, 2)); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// What is written is read as the same settings.
func TestModelFragmentRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		db := func(name string) float64 { return rapid.Float64Range(0.1, 100).Draw(t, name) }
		tau := func(name string) time.Duration {
			return time.Duration(rapid.Int64Range(1, 3_000_000_000).Draw(t, name)) * time.Second
		}
		s := link.Settings{
			HalfDecodeDB: -16, SpreadDB: 1.5, MeanDB: rapid.Float64Range(-100, 100).Draw(t, "mean"), LevelSD: db("level"), LevelTau: tau("level τ"),
			Harmonics: rapid.IntRange(1, link.MaxHarmonics).Draw(t, "K"), HarmonicSD: db("harmonic"), HarmonicRatio: rapid.Float64Range(0, 1).Draw(t, "g"),
			HarmonicTau: tau("harmonic τ"), FastSD: db("fast"), FastTau: tau("fast τ"), SlowSD: db("slow"), SlowTau: tau("slow τ"), SlotSD: db("slot"), KnownSD: db("known"),
		}
		common := db("common")
		plan := head + string(ModelFragment(s, common))
		n, ps := Load("p", []byte(plan))
		if len(ps) > 0 {
			t.Fatal(lines(ps))
		}
		if n.Link != s || n.CommonDB != common {
			t.Fatalf("wrote %+v %v\nread %+v %v", s, common, n.Link, n.CommonDB)
		}
	})
}
