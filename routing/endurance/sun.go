package endurance

import "math"

// SunHeight is the height of the sun's centre above the horizon, in degrees,
// at a place (degrees, north and east positive) and a Unix time, seen from the
// earth's centre and without refraction. The sun's position follows the
// low-accuracy formulas of J. Meeus, Astronomical Algorithms, 2nd ed. (1998),
// chapter 25, sidereal time chapter 12: within about 0.01° for dates within a
// few centuries of 2000, and terrestrial time taken as UTC, which adds less than
// 0.001° in declination. The coefficients are from memory; two published worked
// examples are checked in the tests.
func SunHeight(lat, lon float64, unix float64) float64 {
	ra, dec := sun(unix)
	hour := siderealDegrees(unix) + lon - ra
	sin := math.Sin(rad(lat))*math.Sin(rad(dec)) + math.Cos(rad(lat))*math.Cos(rad(dec))*math.Cos(rad(hour))
	return math.Asin(min(max(sin, -1), 1)) * 180 / math.Pi
}

// centuries is Julian centuries since 2000 January 1.5.
func centuries(unix float64) float64 { return (unix/86400 + 2440587.5 - 2451545) / 36525 }

// sun is the apparent right ascension and declination of the sun, in degrees.
func sun(unix float64) (ra, dec float64) {
	t := centuries(unix)
	mean := 280.46646 + t*(36000.76983+t*0.0003032)
	anomaly := rad(357.52911 + t*(35999.05029-t*0.0001537))
	centre := (1.914602-t*(0.004817+t*0.000014))*math.Sin(anomaly) +
		(0.019993-t*0.000101)*math.Sin(2*anomaly) + 0.000289*math.Sin(3*anomaly)
	node := rad(125.04 - 1934.136*t)
	longitude := rad(mean + centre - 0.00569 - 0.00478*math.Sin(node))
	obliquity := rad(23.4392911 - t*(0.0130042+t*(1.64e-7-t*5.04e-7)) + 0.00256*math.Cos(node))
	ra = math.Atan2(math.Cos(obliquity)*math.Sin(longitude), math.Cos(longitude)) * 180 / math.Pi
	dec = math.Asin(math.Sin(obliquity)*math.Sin(longitude)) * 180 / math.Pi
	return math.Mod(ra+360, 360), dec
}

// siderealDegrees is the mean sidereal time at Greenwich.
func siderealDegrees(unix float64) float64 {
	t := centuries(unix)
	days := unix/86400 + 2440587.5 - 2451545
	return math.Mod(280.46061837+360.98564736629*days+t*t*(0.000387933-t/38710000), 360)
}

func rad(degrees float64) float64 { return degrees * math.Pi / 180 }
