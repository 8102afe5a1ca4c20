package link

import "math"

// PowerDB returns how many dB a power is above another, 10·log₁₀(watts/reference).
// Both must be positive.
func PowerDB(watts, reference float64) float64 {
	return 10 * math.Log10(watts/reference)
}

// SiteDifference returns by how many dB the receiving site of station B is
// noisier than that of station A. snrAB is what B reports of A's transmission
// at powerA watts, snrBA what A reports of B's at powerB. The path loss is the
// same both ways, so whatever is left once the powers are allowed for belongs to
// the sites. It is negative when A is the noisier one.
func SiteDifference(snrAB, powerA, snrBA, powerB float64) float64 {
	return snrBA - snrAB + PowerDB(powerA, powerB)
}
