package link

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// readTable reads the numbers of a testdata file; '#' starts a comment.
func readTable(t *testing.T, path string) [][]float64 {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]float64
	for _, line := range lines[1:] {
		row := make([]float64, len(line))
		for i, text := range line {
			row[i], err = strconv.ParseFloat(text, 64)
			if err != nil && !math.IsInf(row[i], 0) && row[i] != 0 {
				t.Fatal(err)
			}
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatalf("%s holds no rows", path)
	}
	return rows
}

// off is the distance of got from want as a share of want.
func off(got, want float64) float64 {
	if got == want {
		return 0
	}
	return math.Abs(got-want) / math.Abs(want)
}

func TestNormalReferenceValues(t *testing.T) {
	for _, row := range readTable(t, "testdata/normal.csv") {
		z := row[0]
		if z >= -37 && off(Phi(z), row[1]) > 1e-15*max(4, z*z) {
			t.Errorf("Phi(%v) = %v, want %v", z, Phi(z), row[1])
		}
		if z < -39 && Phi(z) != 0 {
			t.Errorf("Phi(%v) = %v, want 0", z, Phi(z))
		}
		if off(logPhi(z), row[2]) > 1e-13 {
			t.Errorf("logPhi(%v) = %v, want %v", z, logPhi(z), row[2])
		}
		rho, shrink := hazard(z)
		if off(rho, row[3]) > 1e-12 {
			t.Errorf("rho(%v) = %v, want %v", z, rho, row[3])
		}
		if math.Abs(1-shrink-row[4]) > 2e-15 {
			t.Errorf("1 - shrink(%v) = %v, want %v", z, 1-shrink, row[4])
		}
	}
}

func TestPhiAgainstStandardLibrary(t *testing.T) {
	for z := -37.0; z < 9; z += 0.00713 {
		if want := 0.5 * math.Erfc(-z/math.Sqrt2); off(Phi(z), want) > 1e-15*max(4, z*z) {
			t.Fatalf("Phi(%v) = %v, want %v", z, Phi(z), want)
		}
	}
	for _, c := range []struct{ z, want float64 }{
		{0, 0.5}, {math.Inf(1), 1}, {math.Inf(-1), 0}, {40, 1}, {-40, 0},
	} {
		if Phi(c.z) != c.want {
			t.Errorf("Phi(%v) = %v, want %v", c.z, Phi(c.z), c.want)
		}
	}
	if !math.IsNaN(Phi(math.NaN())) {
		t.Error("Phi(NaN) is a number")
	}
}

func TestPhiHasNoSteps(t *testing.T) {
	// Where one form takes over from another a chance must not fall.
	for _, z := range []float64{-phiReach, phiReach, 0.125, -0.125, 0} {
		low, high := Phi(z-1e-9), Phi(z+1e-9)
		if !(low < high) {
			t.Errorf("Phi falls at %v: %v then %v", z, low, high)
		}
	}
	for z := -5.2; z < 5.2; z += 0.01 {
		if s := Phi(z) + Phi(-z); math.Abs(s-1) > 4e-16 {
			t.Fatalf("Phi(%v) + Phi(−%v) = 1 + %v", z, z, s-1)
		}
	}
}

// The derivative of ρ is −ρ·(z + ρ) = −shrink: two ways to the same number.
func TestHazardSlope(t *testing.T) {
	const step = 1e-4
	for z := -70.0; z < 9; z += 0.0371 {
		before, _ := hazard(z - step)
		after, _ := hazard(z + step)
		_, shrink := hazard(z)
		if slope := (before - after) / (2 * step); math.Abs(slope-shrink) > 1e-8 {
			t.Fatalf("slope of rho at %v is −%v, want −%v", z, slope, shrink)
		}
		if shrink < 0 || shrink >= 1 {
			t.Fatalf("shrink(%v) = %v is outside 0…1", z, shrink)
		}
	}
}

func TestHazardAtTheEnds(t *testing.T) {
	for _, z := range []float64{-1e6, -1e300} {
		if rho, shrink := hazard(z); off(rho, -z) > 1e-11 || !(shrink <= 1 && shrink > 0.99) {
			t.Errorf("hazard(%v) = %v, %v", z, rho, shrink)
		}
	}
	for _, z := range []float64{40, 1e6, 1e300} {
		if rho, shrink := hazard(z); rho != 0 || shrink != 0 {
			t.Errorf("hazard(%v) = %v, %v, want 0, 0", z, rho, shrink)
		}
	}
}
