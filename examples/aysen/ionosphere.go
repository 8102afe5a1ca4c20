package aysen

import (
	"math"
	"time"

	"farhop/observations/locator"
)

// The ionosphere of the scenario: a textbook one, coarse, with round figures
// from memory. It gives the day band its short skip in the dark and the night
// band its absorption at noon, which is all the example needs.
const (
	reflectionKM = 300.0 // height of reflection
	absorbingKM  = 100.0 // scale on which a slanting path lengthens in the absorbing layer

	criticalNightMHz = 4.2 // critical frequency in the small hours, asymptotically
	criticalRiseMHz  = 5.4 // what early afternoon adds
	criticalPeakHour = 13.5

	absorptionDB = 517.0 // at 1 MHz effective frequency, overhead sun, vertical path
	gyroMHz      = 1.2   // added to the frequency in the absorption law
	skipDBPerMHz = 16.0  // loss per MHz above the highest frequency the layer returns
	skipSoftMHz  = 0.5   // width of that transition
	skipMostDB   = 40.0
	axialTiltDeg = 23.44
	slantMost    = 3.0 // the absorbing layer is curved: no path crosses it flatter than this factor
)

// sun gives the cosine of the sun's zenith distance, and local solar time in
// hours, at a place and moment. The equation of time is left out (a quarter of
// an hour at most) and the declination is a sinusoid good to about a degree:
// common practice, no source.
func sun(p locator.Position, t time.Time) (cosZenith, solarHour float64) {
	utc := t.UTC()
	day := float64(utc.YearDay())
	hour := float64(utc.Sub(utc.Truncate(24*time.Hour))) / float64(time.Hour)
	solarHour = math.Mod(hour+p.Lon/15+24, 24)
	declination := -radians(axialTiltDeg) * math.Cos(2*math.Pi*(day+10)/365)
	lat := radians(p.Lat)
	cosZenith = math.Sin(lat)*math.Sin(declination) +
		math.Cos(lat)*math.Cos(declination)*math.Cos((solarHour-12)*math.Pi/12)
	return cosZenith, solarHour
}

// critical is the highest frequency in MHz that the layer returns straight down.
func critical(solarHour float64) float64 {
	return criticalNightMHz + criticalRiseMHz*math.Exp(math.Cos((solarHour-criticalPeakHour)*math.Pi/12)-1)
}

// absorption is the loss in dB in the sunlit lower layer, on a path of that
// length, at that frequency: none by night, worst on low frequencies.
func absorption(cosZenith, distanceKM, mhz float64) float64 {
	slant := min(math.Hypot(1, distanceKM/(2*absorbingKM)), slantMost)
	return absorptionDB * math.Pow(max(cosZenith, 0), 0.75) / ((mhz + gyroMHz) * (mhz + gyroMHz)) * slant
}

// skip is the loss in dB of a path too short for its frequency. By the secant
// law for a flat layer the highest frequency it returns over a distance d is
// the critical one times √(1 + (d/2h)²).
func skip(solarHour, distanceKM, mhz float64) float64 {
	highest := critical(solarHour) * math.Hypot(1, distanceKM/(2*reflectionKM))
	above := skipSoftMHz * math.Log1p(math.Exp((mhz-highest)/skipSoftMHz)) // 0 below, mhz − highest above
	return min(skipDBPerMHz*above, skipMostDB)
}

// spreading is the loss in dB of the way up and down again, against the
// shortest such way.
func spreading(distanceKM float64) float64 {
	return 20 * math.Log10(math.Hypot(1, distanceKM/(2*reflectionKM)))
}

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }
