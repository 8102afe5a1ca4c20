// Package locator turns Maidenhead locators into places on the earth and back,
// and measures distance and bearing between them.
//
// A locator is a row of pairs, longitude before latitude in each: the field
// (A–R, 20° × 10°), the square (0–9, 2° × 1°), the subsquare (a–x, 5′ × 2.5′)
// and the extended square (0–9, 30″ × 15″). Nothing beyond eight characters is
// formally defined; as is customary the pairs go on alternating between a–x
// and 0–9, here up to sixteen characters. The datum is WGS-84 (IARU Region 1
// conference, Lillehammer 1999).
package locator

import (
	"errors"
	"fmt"
	"math"
)

// Position is a place on the earth in degrees, north and east positive.
type Position struct{ Lat, Lon float64 }

// Characters a locator may have; the number is always even.
const (
	MinChars = 4
	MaxChars = 16
)

const maxPairs = MaxChars / 2

// base[i] is the number of divisions of pair i.
var base = [maxPairs]int64{18, 10, 24, 10, 24, 10, 24, 10}

// cells[i] is the number of cells from pole to pole, or once around the
// equator, in a locator of i pairs.
var cells = func() (c [maxPairs + 1]int64) {
	c[0] = 1
	for i, b := range base {
		c[i+1] = c[i] * b
	}
	return c
}()

// edgeSlack, in cells of sixteen characters, lets a coordinate that is written
// as a decimal and lies on the edge of a cell count as on that edge although
// its float64 falls just short. It is 3e-13° of latitude.
const edgeSlack = 4e-6

// Parse returns the centre of the locator's area. A locator has 4 to 16
// characters, an even number, in any case.
func Parse(s string) (Position, error) {
	if err := check(s); err != nil {
		return Position{}, err
	}
	var lon, lat int64
	n := len(s) / 2
	for i := range n {
		lon = lon*base[i] + int64(digit(s[2*i], i))
		lat = lat*base[i] + int64(digit(s[2*i+1], i))
	}
	c := 2 * float64(cells[n])
	return Position{
		Lat: float64(2*lat+1)*180/c - 90,
		Lon: float64(2*lon+1)*360/c - 180,
	}, nil
}

// Format returns the locator of the given number of characters whose area
// holds p. An area holds its southern and western edge; the north pole belongs
// to the northernmost area. Longitudes are taken modulo 360°, so 180 is −180.
// It is an error if the latitude is outside ±90°, a coordinate is not a finite
// number, or chars is odd or outside 4…16.
func Format(p Position, chars int) (string, error) {
	if chars < MinChars || chars > MaxChars || chars%2 != 0 {
		return "", fmt.Errorf("a locator has an even number of characters from %d to %d, not %d", MinChars, MaxChars, chars)
	}
	if !(p.Lat >= -90 && p.Lat <= 90) {
		return "", fmt.Errorf("latitude %v is outside −90…90°", p.Lat)
	}
	if math.IsNaN(p.Lon) || math.IsInf(p.Lon, 0) {
		return "", fmt.Errorf("longitude %v is not a number of degrees", p.Lon)
	}
	total := cells[maxPairs]
	lat := cell((p.Lat+90)/180, total)
	lon := cell(math.Mod(math.Mod(p.Lon+180, 360)+360, 360)/360, total)
	b := make([]byte, chars)
	for i := range chars / 2 {
		rest := total / cells[i+1]
		b[2*i] = letter(lon/rest%base[i], i)
		b[2*i+1] = letter(lat/rest%base[i], i)
	}
	return string(b), nil
}

// Normal returns s in customary case: the field in capitals, later letters
// small. Its errors are those of Parse.
func Normal(s string) (string, error) {
	if err := check(s); err != nil {
		return "", err
	}
	b := []byte(s)
	for i := range b {
		b[i] = letter(int64(digit(s[i], i/2)), i/2)
	}
	return string(b), nil
}

// cell returns the index, of total, of the cell that holds the share of the
// whole range, clamped to the last.
func cell(share float64, total int64) int64 {
	return min(int64(share*float64(total)+edgeSlack), total-1)
}

func check(s string) error {
	if len(s) < MinChars || len(s) > MaxChars {
		return fmt.Errorf("a locator has %d to %d characters", MinChars, MaxChars)
	}
	if len(s)%2 != 0 {
		return errors.New("a locator has an even number of characters")
	}
	for i := range len(s) {
		if digit(s[i], i/2) < 0 {
			return fmt.Errorf("character %d is not %s", i+1, alphabet(i/2))
		}
	}
	return nil
}

func alphabet(pair int) string {
	switch {
	case pair == 0:
		return "a letter from A to R"
	case base[pair] == 10:
		return "a digit"
	}
	return "a letter from a to x"
}

// digit returns the value of a character in a pair, −1 if it does not belong.
func digit(c byte, pair int) int {
	d := -1
	if base[pair] == 10 {
		d = int(c) - '0'
	} else if c |= 0x20; c >= 'a' {
		d = int(c) - 'a'
	}
	if d >= int(base[pair]) {
		return -1
	}
	return max(d, -1)
}

func letter(d int64, pair int) byte {
	switch {
	case pair == 0:
		return byte('A' + d)
	case base[pair] == 10:
		return byte('0' + d)
	}
	return byte('a' + d)
}
