package observations

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestParseTime(t *testing.T) {
	const at = 1772461200 // 2026-03-02T14:20:00Z
	for text, want := range map[string]int64{
		"2026-03-02T14:20:00Z": at, "2026-03-02t14:20:00z": at, "2026-03-02 14:20:00Z": at,
		"2026-03-02T14:20:00.999999Z": at, "2026-03-02T19:50:00+05:30": at, "2026-03-02T04:20:00.5-10:00": at,
		"2026-03-02T14:20:00+00:00": at, "2026-03-02T14:20:00-00:00": at,
		"1772461200": at, "1772461200.75": at, "1772461200.": at, "1.7724612e9": at,
		"1970-01-01T00:00:00Z": 0, "0": 0, "1969-12-31T23:59:59Z": -1, "0000-01-01T00:00:00Z": -62167219200,
		"2099-12-31T23:59:59Z": endOfTime - 1, "2100-01-01T00:00:00Z": endOfTime,
		"2024-02-29T12:00:00Z": 1709208000, "2016-12-31T23:59:60Z": 1483228800,
	} {
		if got, ok := parseTime([]byte(text)); !ok || got != want {
			t.Errorf("%q: %d, %v, want %d", text, got, ok, want)
		}
	}
	for _, text := range []string{
		"", "Z", "now", "2026-03-02", "2026-03-02T14:20Z", "2026-03-02T14:20:00", "2026-13-02T14:20:00Z", "2026-02-29T14:20:00Z",
		"2100-02-29T00:00:00Z", "2026-03-00T00:00:00Z", "2026-04-31T00:00:00Z", "2026-03-02T24:00:00Z", "2026-03-02T14:60:00Z",
		"2026-03-02T14:20:61Z", "2026-03-02T14:20:00,5Z", "2026-03-02T4:20:00.00Z", "2026/03/02T14:20:00Z", "02.03.2026 14:20:00Z",
		"2026-03-02T14:20:00 Z", "2026-03-02T14:20:00+0530", "-5", "+5", "1e99", "17724612000000000000", "0x10", "12:00",
		"2026-03-02T14:20:0٣Z", strings.Repeat("9", 40), "2026-03-02T14:20:00." + strings.Repeat("1", 80) + "Z",
	} {
		if got, ok := parseTime([]byte(text)); ok {
			t.Errorf("%q was taken for %d", text, got)
		}
	}
}

// agreesWithTime is what parseTime promises: on the strict forms of RFC 3339 it
// has the seconds the standard library has, and what it reads beyond them is
// read by the standard library once letters and the parting space are put
// right.
func agreesWithTime(text string) error {
	got, ok := parseTime([]byte(text))
	want, err := time.Parse(time.RFC3339, text)
	strict := len(text) >= 20 && len(text) <= 64 && text[13] == ':' && !strings.Contains(text, ",")
	if err == nil && strict && (!ok || got != want.Unix()) {
		return fmt.Errorf("%q: %d, %v, but time has %d", text, got, ok, want.Unix())
	}
	if ok && err != nil && strings.Contains(text, ":") && !strings.Contains(text, ":60") {
		b := []byte(text)
		b[10] = 'T'
		want, err := time.Parse(time.RFC3339, strings.ToUpper(string(b)))
		if err != nil || want.Unix() != got {
			return fmt.Errorf("%q: %d, but time has %v, %v", text, got, want, err)
		}
	}
	return nil
}

func timeTexts() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		at := time.Unix(rapid.Int64Range(-1e10, 2e10).Draw(t, "unix"), rapid.Int64Range(0, 999999999).Draw(t, "ns"))
		zone := time.FixedZone("", 900*rapid.IntRange(-50, 50).Draw(t, "zone"))
		format := rapid.SampledFrom([]string{time.RFC3339, time.RFC3339Nano, "2006-01-02T15:04:05.0Z07:00"}).Draw(t, "format")
		text := []byte(at.In(rapid.SampledFrom([]*time.Location{time.UTC, zone}).Draw(t, "location")).Format(format))
		if rapid.IntRange(0, 3).Draw(t, "spoil") == 0 {
			i := rapid.IntRange(0, len(text)-1).Draw(t, "at")
			text[i] = rapid.SampledFrom([]byte("0123456789:-TZtz +.,;")).Draw(t, "by")
		}
		return string(text)
	})
}

func TestTimesAgreeWithTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		if err := agreesWithTime(timeTexts().Draw(t, "text")); err != nil {
			t.Fatal(err)
		}
	})
}

// A calendar reads what parseTime reads, whatever it has read before.
func TestCalendarAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c calendar
		read := 0
		for range 20 {
			text := timeTexts().Draw(t, "text")
			if rapid.Bool().Draw(t, "as number") {
				text = fmt.Sprint(rapid.Int64Range(0, 1e11).Draw(t, "unix"))
			}
			unix, end, ok := c.scan([]byte(text+","+strings.Repeat("\n", slack)), 0)
			if !ok {
				continue
			}
			read++
			want, wantOK := parseTime([]byte(text[:end]))
			if !wantOK || unix != want {
				t.Fatalf("%q: %d up to %d, but parseTime has %d, %v", text, unix, end, want, wantOK)
			}
		}
	})
}

func TestEveryDayCounts(t *testing.T) {
	day := time.Date(1896, 1, 1, 0, 0, 0, 0, time.UTC)
	for ; day.Year() < 2105; day = day.AddDate(0, 0, 1) {
		text := day.Format(time.DateOnly)
		if got, ok := parseDay([]byte(text)); !ok || got != day.Unix() {
			t.Fatalf("%s: %d, %v", text, got, ok)
		}
	}
}

func TestClockSeconds(t *testing.T) {
	for h := range 100 {
		for m := range 100 {
			text := fmt.Sprintf("%02d:%02d:%02d", h, m, (h+m)%100)
			got, ok := clockSeconds(word([]byte(text)))
			s := (h + m) % 100
			if ok != (h < 24 && m < 60 && s < 60) || ok && got != int64(h*3600+m*60+s) {
				t.Fatalf("%s: %d, %v", text, got, ok)
			}
		}
	}
	for i := range 8 {
		for c := range 256 {
			text := []byte("12:34:56")
			text[i] = byte(c)
			_, ok := clockSeconds(word(text))
			_, err := time.Parse(time.TimeOnly, string(text))
			if ok != (err == nil) {
				t.Fatalf("%q: %v, %v", text, ok, err)
			}
		}
	}
}

func TestTimeFaults(t *testing.T) {
	for text, want := range map[string]string{
		"2026-03-02T14:20:00": "zone", "2026-02-30T14:20:00Z": "no such day", "1772461200000": "milliseconds",
		"2100-01-01T00:00:00Z": "1970 to 2099", "1969-12-31T00:00:00Z": "1970 to 2099", "yesterday": "not a time",
	} {
		_, f := timeOf([]byte(text))
		if !strings.Contains(f.message+f.mend, want) || f.mend == "" {
			t.Errorf("%q: %+v, want %q", text, f, want)
		}
	}
	if at, f := timeOf([]byte("1772461200")); at != 1772461200 || !f.isNone() {
		t.Error(at, f)
	}
}

func TestUnixRange(t *testing.T) {
	if _, ok := parseTime([]byte(fmt.Sprint(int64(math.MaxInt64)))); ok {
		t.Error("19 digits are no time")
	}
}

func FuzzTime(f *testing.F) {
	for _, s := range []string{
		"2026-03-02T14:20:00Z", "2026-03-02 14:20:00.5+05:30", "2016-12-31T23:59:60Z", "1772461200.5", "1e9", "2026-02-30T00:00:00z", "",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if err := agreesWithTime(s); err != nil {
			t.Fatal(err)
		}
	})
}
