package observations

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseDecimal(t *testing.T) {
	for text, want := range map[string]float64{
		"0": 0, "-9": -9, "+3": 3, "-9.25": -9.25, "7.": 7, ".5": 0.5, "-.5": -0.5, "007": 7,
		"1e3": 1000, "1.5E-2": 0.015, "0.1995": 0.1995, "123456789012345678": 123456789012345678,
		"−9": -9, "–9.5": -9.5, "0.000000000000001": 1e-15, "999999999999999": 999999999999999,
		"0.1234567890123456789": 0.1234567890123456789,
	} {
		if got, ok := parseDecimal([]byte(text)); !ok || got != want {
			t.Errorf("%q: %v, %v", text, got, ok)
		}
	}
	for _, text := range []string{
		"", "-", "+", ".", "-.", "e5", "1e", "1e999", "-1e999", "nan", "NaN", "inf", "-Inf", "0x10", "1_000", "1,5", " 1", "1 ",
		"--1", "+-1", "1-", "1.2.3", "9dB", "٣", "1\x00", "−", "––9", strings.Repeat("1", 500),
	} {
		if got, ok := parseDecimal([]byte(text)); ok {
			t.Errorf("%q was taken for %v", text, got)
		}
	}
}

// agreesWithStrconv is what parseDecimal promises: where it reads something of
// plain characters, it reads the same number as the standard library, and it
// reads all finite numbers written with digits.
func agreesWithStrconv(text string) error {
	got, ok := parseDecimal([]byte(text))
	want, err := strconv.ParseFloat(text, 64)
	plainly := len(text) <= 400 && strings.Trim(text, "0123456789+-.eE") == ""
	wantOK := err == nil && plainly && !math.IsInf(want, 0)
	if strings.HasPrefix(text, "−") || strings.HasPrefix(text, "–") {
		return nil
	}
	if ok != wantOK || ok && (got != want || math.Signbit(got) != math.Signbit(want)) {
		return fmt.Errorf("%q: %v, %v, but strconv has %v, %v", text, got, ok, want, err)
	}
	return nil
}

func TestDecimalsAgreeWithStrconv(t *testing.T) {
	forms := rapid.OneOf(
		rapid.StringMatching(`[-+]?[0-9]{1,17}(\.[0-9]{0,17})?`),
		rapid.StringMatching(`[-+]?\.[0-9]{1,10}`),
		rapid.StringMatching(`[-+.eE0-9]{0,8}`),
		rapid.StringMatching(`[-+]?[0-9]{1,4}(\.[0-9]{1,3})?[eE][-+]?[0-9]{1,3}`),
		rapid.Map(rapid.Float64(), func(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }),
		rapid.Map(rapid.Float64Range(-60, 60), func(f float64) string { return strconv.FormatFloat(f, 'f', 3, 64) }),
	)
	rapid.Check(t, func(t *rapid.T) {
		if err := agreesWithStrconv(forms.Draw(t, "text")); err != nil {
			t.Fatal(err)
		}
	})
}

// The scanners that rows are swept with read what the careful ones read, and
// stop where the number ends.
func TestScanDecimalAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[-+]?[0-9]{0,17}(\.[0-9]{0,17})?`).Draw(t, "text")
		after := rapid.SampledFrom([]string{",", "\n", "\r\n", "e5,", "x", "-", " ", "\""}).Draw(t, "after")
		v, end, ok := scanDecimal([]byte(text+after+"\n"), 0)
		if !ok {
			return
		}
		want, err := strconv.ParseFloat(text, 64)
		if err != nil || v != want || end != len(text) {
			t.Fatalf("%q: %v up to %d, but strconv has %v, %v", text, v, end, want, err)
		}
	})
}

func TestScanWhole(t *testing.T) {
	for _, c := range []struct {
		text string
		want uint64
		end  int
		ok   bool
	}{
		{"7131000,", 7131000, 7, true},
		{"0\n", 0, 1, true},
		{"9999999999,", 9999999999, 10, true},
		{"00000000007,", 7, 11, false},
		{",", 0, 0, false},
		{"-1,", 0, 0, false},
		{"12.5,", 12, 2, true},
	} {
		v, end, ok := scanWhole([]byte(c.text), 0)
		if ok != c.ok || ok && (v != c.want || end != c.end) {
			t.Errorf("%q: %d up to %d, %v", c.text, v, end, ok)
		}
	}
}

func FuzzDecimal(f *testing.F) {
	for _, s := range []string{"-9", "7131000.5", "1e400", ".e1", "−9", "0x1p-2", "4.9e-324", "123456789012345678901234567890"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if err := agreesWithStrconv(s); err != nil {
			t.Fatal(err)
		}
	})
}
