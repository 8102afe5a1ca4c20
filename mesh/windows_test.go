package mesh

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func mustWindows(t testing.TB, list ...string) Windows {
	t.Helper()
	w, err := ParseWindows(list)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func TestParseWindows(t *testing.T) {
	tests := []struct {
		name string
		in   []string
		want string
	}{
		{"none", nil, "never"},
		{"across midnight", []string{"17:00-07:00"}, "17:00-07:00"},
		{"whole day", []string{"00:00-24:00"}, "00:00-24:00"},
		{"until midnight", []string{"20:00-24:00"}, "20:00-24:00"},
		{"until 00:00", []string{"20:00-00:00"}, "20:00-24:00"},
		{"blanks", []string{" 07:00 - 09:30 "}, "07:00-09:30"},
		{"seconds", []string{"07:00:20-09:30:40"}, "07:00:20-09:30:40"},
		{"overlap", []string{"10:00-12:00", "11:00-13:00"}, "10:00-13:00"},
		{"touch", []string{"12:00-13:00", "10:00-12:00"}, "10:00-13:00"},
		{"contained", []string{"10:00-20:00", "11:00-13:00", "15:00-20:00"}, "10:00-20:00"},
		{"apart, sorted", []string{"15:00-16:00", "01:00-02:00"}, "01:00-02:00, 15:00-16:00"},
		{"joined over midnight", []string{"20:00-24:00", "00:00-03:00"}, "20:00-03:00"},
		{"night swallows early ones", []string{"22:00-06:00", "01:00-02:00", "05:00-08:00"}, "22:00-08:00"},
		{"night inside a night", []string{"20:00-08:00", "23:00-01:00"}, "20:00-08:00"},
		{"all of it in parts", []string{"06:00-18:00", "18:00-06:00"}, "00:00-24:00"},
		{"all but an hour", []string{"13:00-12:00"}, "13:00-12:00"},
		{"parts that meet themselves", []string{"13:00-12:00", "11:00-13:30"}, "00:00-24:00"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := mustWindows(t, tt.in...).String(); got != tt.want {
				t.Errorf("ParseWindows(%q) = %s, want %s", tt.in, got, tt.want)
			}
		})
	}
}

func TestParseWindowsRefuses(t *testing.T) {
	for _, text := range []string{
		"", "-", "07:00", "7:00-09:00", "07:00-09:60", "07:00-24:01", "25:00-26:00", "24:00-06:00",
		"07:00-07:00", "00:00-00:00", "07:00–09:00", "07-09", "0700-0900", "07:00-09:00-11:00", "07:00-09:00Z",
		"07.00-09.00", "aa:bb-cc:dd", "07:00:61-08:00", "07:00-24:00:01", "+7:00-09:00",
	} {
		_, err := ParseWindows([]string{"01:00-02:00", text})
		var p *ParseError
		if !errors.As(err, &p) {
			t.Errorf("ParseWindows(%q) = %v, want a ParseError", text, err)
			continue
		}
		if p.Index != 1 || p.Value != text || p.Message == "" || !strings.Contains(err.Error(), text) {
			t.Errorf("ParseWindows(%q): error does not say where: %#v", text, p)
		}
	}
}

func TestWindowsHolds(t *testing.T) {
	night := mustWindows(t, "17:00-07:00")
	tests := []struct {
		name           string
		w              Windows
		second, length int
		want           bool
	}{
		{"starts with the window", night, 17 * 3600, 40, true},
		{"starts a second before", night, 17*3600 - 1, 40, false},
		{"ends with the window", night, 7*3600 - 40, 40, true},
		{"ends a second after", night, 7*3600 - 39, 40, false},
		{"over midnight", night, DaySeconds - 10, 40, true},
		{"noon", night, 12 * 3600, 40, false},
		{"as long as the window", night, 17 * 3600, 14 * 3600, true},
		{"longer than the window", night, 17 * 3600, 14*3600 + 1, false},
		{"whole day, over midnight", Always(), DaySeconds - 10, 40, true},
		{"whole day, a day long", Always(), 0, DaySeconds, true},
		{"never", Windows{}, 0, 1, false},
		{"gap between windows", mustWindows(t, "10:00-11:00", "11:01-12:00"), 11*3600 - 30, 120, false},
	}
	for _, tt := range tests {
		if got := tt.w.Holds(tt.second, tt.length); got != tt.want {
			t.Errorf("%s: %s.Holds(%d, %d) = %v", tt.name, tt.w, tt.second, tt.length, got)
		}
	}
}

// minutes draws the windows of a day as a plain table of minutes.
func minutes(spans [][2]int) (table [1440]bool) {
	for _, s := range spans {
		for m := s[0]; ; m++ {
			if m%1440 == s[1]%1440 && m > s[0] {
				break
			}
			table[m%1440] = true
		}
	}
	return table
}

func drawSpans(t *rapid.T) (spans [][2]int, text []string) {
	for range rapid.IntRange(0, 6).Draw(t, "spans") {
		from := rapid.IntRange(0, 1439).Draw(t, "from")
		to := rapid.IntRange(0, 1440).Filter(func(m int) bool { return m != from }).Draw(t, "to")
		spans = append(spans, [2]int{from, to})
		text = append(text, clock(from*60)+"-"+clock(to*60))
	}
	return spans, text
}

func TestWindowsAgainstTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spans, text := drawSpans(t)
		table := minutes(spans)
		w, err := ParseWindows(text)
		if err != nil {
			t.Fatal(err)
		}
		held := 0
		for _, on := range table {
			if on {
				held++
			}
		}
		if w.Seconds() != held*60 {
			t.Fatalf("%s holds %d s, table %d", w, w.Seconds(), held*60)
		}
		from, length := rapid.IntRange(0, 1439).Draw(t, "at"), rapid.IntRange(1, 1440).Draw(t, "length")
		want := true
		for m := from; m < from+length; m++ {
			want = want && table[m%1440]
		}
		if got := w.Holds(from*60, length*60); got != want {
			t.Fatalf("%q = %s: Holds(minute %d, %d) = %v, table says %v", text, w, from, length, got, want)
		}
		again, err := ParseWindows(w.Strings())
		if err != nil || !again.Equal(w) {
			t.Fatalf("%s does not read back: %s, %v", w, again, err)
		}
	})
}

func TestWindowsUnion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, a := drawSpans(t)
		_, b := drawSpans(t)
		x, _ := ParseWindows(a)
		y, _ := ParseWindows(b)
		both, _ := ParseWindows(append(a, b...))
		before := x.String()
		if got := x.Union(y); !got.Equal(both) {
			t.Fatalf("%s ∪ %s = %s, want %s", x, y, got, both)
		}
		if x.String() != before {
			t.Fatalf("Union changed %s into %s", before, x)
		}
	})
}

func FuzzParseWindows(f *testing.F) {
	for _, s := range []string{"17:00-07:00", "00:00-24:00", "07:00:20-09:30:40", "", "-", "24:00-00:00", "::-::", "0\x00:00-"} {
		f.Add(s, "10:00-11:00")
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		w, err := ParseWindows([]string{a, b})
		if err != nil {
			return
		}
		if s := w.Seconds(); s < 1 || s > DaySeconds {
			t.Fatalf("%q, %q: %d seconds", a, b, s)
		}
		again, err := ParseWindows(w.Strings())
		if err != nil || !again.Equal(w) {
			t.Fatalf("%q, %q: %s reads back as %s, %v", a, b, w, again, err)
		}
	})
}
