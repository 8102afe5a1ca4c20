package observations

import "strconv"

// Band is the part of the spectrum a frequency belongs to: a row of the band
// table of ADIF 3.1.6 (released 2025-09-15, adif.org.uk/316, "Band
// Enumeration"), or, between those, its whole MHz. The zero Band is none. Band
// edges serve to classify; they are not licence limits.
type Band uint16

// wholeMHz is added to the whole MHz of a frequency outside the table.
const wholeMHz Band = 0x1000

// adifBands are the rows up to the highest frequency a uint32 of Hz can hold,
// edges included, lowest first.
var adifBands = []struct {
	name      string
	low, high uint32 // Hz
}{
	{"2190m", 135_700, 137_800},
	{"630m", 472_000, 479_000},
	{"560m", 501_000, 504_000},
	{"160m", 1_800_000, 2_000_000},
	{"80m", 3_500_000, 4_000_000},
	{"60m", 5_060_000, 5_450_000},
	{"40m", 7_000_000, 7_300_000},
	{"30m", 10_100_000, 10_150_000},
	{"20m", 14_000_000, 14_350_000},
	{"17m", 18_068_000, 18_168_000},
	{"15m", 21_000_000, 21_450_000},
	{"12m", 24_890_000, 24_990_000},
	{"10m", 28_000_000, 29_700_000},
	{"8m", 40_000_000, 45_000_000},
	{"6m", 50_000_000, 54_000_000},
	{"5m", 54_000_001, 69_900_000},
	{"4m", 70_000_000, 71_000_000},
	{"2m", 144_000_000, 148_000_000},
	{"1.25m", 222_000_000, 225_000_000},
	{"70cm", 420_000_000, 450_000_000},
	{"33cm", 902_000_000, 928_000_000},
	{"23cm", 1_240_000_000, 1_300_000_000},
	{"13cm", 2_300_000_000, 2_450_000_000},
}

// BandOf returns the band that holds a frequency in Hz, none for 0.
func BandOf(hz uint32) Band {
	if hz == 0 {
		return 0
	}
	for i := range adifBands {
		if b := &adifBands[i]; hz <= b.high {
			if hz >= b.low {
				return Band(i + 1)
			}
			break
		}
	}
	return wholeMHz + Band(hz/1_000_000)
}

// String is the name of the row, or the whole MHz: "40m", "27 MHz", "" for none.
func (b Band) String() string {
	switch {
	case b == 0:
		return ""
	case b >= wholeMHz:
		return strconv.Itoa(int(b-wholeMHz)) + " MHz"
	case int(b) <= len(adifBands):
		return adifBands[b-1].name
	}
	return "band " + strconv.Itoa(int(b))
}
