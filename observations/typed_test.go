package observations

import (
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func TestTypedLists(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{
			"2026-03-02 0920Z MILL copies HARBOR -9, SUMMIT -14 on day",
			"2026-03-02T09:20:00Z HARBOR→MILL -9 dB on day\n2026-03-02T09:20:00Z SUMMIT→MILL -14 dB on day\n",
		},
		{"0920Z MILL copies HARBOR -9", "2026-03-02T09:20:00Z HARBOR→MILL -9 dB\n"},
		{"1200Z MILL copies HARBOR -9", "2026-03-02T12:00:00Z HARBOR→MILL -9 dB\n"},
		{"120001z MILL copies HARBOR -9", "2026-03-01T12:00:01Z HARBOR→MILL -9 dB\n"},
		{"1420Z MILL copies HARBOR -9", "2026-03-01T14:20:00Z HARBOR→MILL -9 dB\n"},
		{"09:20Z mill COPIES harbor +9", "2026-03-02T09:20:00Z HARBOR→MILL 9 dB\n"},
		{"09:20:30Z MILL copies HARBOR 9", "2026-03-02T09:20:30Z HARBOR→MILL 9 dB\n"},
		{"2026-03-02T09:20:00+02:00 MILL copies HARBOR 9", "2026-03-02T07:20:00Z HARBOR→MILL 9 dB\n"},
		{"  0920Z\tMILL  copies HARBOR −9 dB ,SUMMIT -14dB, on night 2 ", "2026-03-02T09:20:00Z HARBOR→MILL -9 dB on night 2\n2026-03-02T09:20:00Z SUMMIT→MILL -14 dB on night 2\n"},
		{"0920Z MILL copies on -9, ON -8 on on", "2026-03-02T09:20:00Z ON→MILL -9 dB on on\n2026-03-02T09:20:00Z ON→MILL -8 dB on on\n"},
		{"0920Z MILL copies HARBOR -9 on 40", "2026-03-02T09:20:00Z HARBOR→MILL -9 dB on 40\n"},
		{"0920Z all MILL copies HARBOR -9.5 on day", "2026-03-02T09:20:00Z HARBOR→MILL -9.5 dB on day\n2026-03-02T09:20:00Z all MILL on day\n"},
		{"0920Z ALL MILL copies nobody", "2026-03-02T09:20:00Z all MILL\n"},
		{"0920Z all MILL copies Nobody on day", "2026-03-02T09:20:00Z all MILL on day\n"},
		{"# MILL copies HARBOR badly", ""},
	} {
		l := readWith(t, Options{Moment: noon}, c.text)
		if got := told(l); got != c.want || l.ProblemCount != 0 {
			t.Errorf("%s:\n%s%swant\n%s", c.text, got, problems(l), c.want)
		}
	}
}

func TestTypedProblems(t *testing.T) {
	for _, c := range []struct {
		text, want     string
		read, rejected int
	}{
		{"MILL copies HARBOR -9", `1:1 time "MILL" not a time of day in UTC`, 1, 1},
		{"0920 MILL copies HARBOR -9", `1:1 time "0920" not a time of day in UTC`, 1, 1},
		{"2460Z MILL copies HARBOR -9", `1:1 time "2460Z" not a time of day in UTC`, 1, 1},
		{"2026-02-30 0920Z MILL copies HARBOR -9", `1:1 time "2026-02-30" no such day`, 1, 1},
		{"2100-01-01 0920Z MILL copies HARBOR -9", `1:12 time "0920Z" outside the years 1970 to 2099`, 1, 1},
		{"2026-03-02 MILL copies HARBOR -9", `1:12 time "MILL" not a time of day in UTC`, 1, 1},
		{"2026-03-02T09:20:00 MILL copies HARBOR -9", `1:1 time "2026-03-02T09:20:00" a time without its zone`, 1, 1},
		{"0920Z copies HARBOR -9", `1:7 receiver "copies" nobody is named who copies`, 1, 1},
		{"0920Z all copies HARBOR -9", `1:11 receiver "copies" nobody is named who copies`, 1, 1},
		{"0920Z M!LL copies HARBOR -9", `1:7 receiver "M!LL" not a call sign`, 1, 1},
		{"0920Z OLD MILL copies HARBOR -9", `1:11  "MILL" the word copies is expected here`, 1, 1},
		{"0920Z MILL copies", `1:18 sender "" nobody is named who was copied`, 1, 1},
		{"0920Z MILL copies on day", `1:19 sender "" nobody is named who was copied`, 1, 1},
		{"0920Z MILL copies , ,", `1:22 sender "" nobody is named who was copied`, 1, 1},
		{"0920Z MILL copies nobody", `1:19 sender "nobody" says nothing unless the list is complete`, 1, 1},
		{"0920Z all MILL copies nobody, HARBOR -9", `1:29  "," nothing can come after nobody but the channel`, 1, 1},
		{"0920Z MILL copies HARBOR -9 on ", `1:32 channel "" no channel is named after on`, 1, 1},
		{"0920Z MILL copies HARBOR -9 on " + strings.Repeat("x", 65), `1:32 channel "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…" longer than 64 bytes`, 1, 1},
		{"0920Z MILL copies HARBOR -9 on day, SUMMIT -3", `1:32 channel "day, SUMMIT -3" not a channel name`, 1, 1},
		{"0920Z MILL copies HARBOR nine, SUMMIT -14", `1:26 snr_db "nine" not a number`, 2, 1},
		{"0920Z MILL copies HARBOR -90, SUMMIT -14", `1:26 snr_db "-90" outside −60…+60 dB`, 2, 1},
		{"0920Z MILL copies HARBOR, SUMMIT -14", `1:19 snr_db "HARBOR" no SNR after the station`, 2, 1},
		{"0920Z MILL copies HARBOR -9 SUMMIT -14, POST -3", `1:29  "SUMMIT" a comma is missing before this`, 2, 1},
		{"0920Z MILL copies HARBOR -9 dB SUMMIT -14", `1:32  "SUMMIT" a comma is missing before this`, 1, 1},
		{"0920Z MILL copies mill -9, SUMMIT -14", `1:19 sender "mill" a station can't hear itself`, 2, 1},
		{"0920Z MILL copies H?, S? -14", `1:19 sender "H?" not a call sign` + "\n" + `1:23 sender "S?" not a call sign`, 2, 2},
		{"0920Z all MILL copies H? -9, SUMMIT -14", `1:23 sender "H?" not a call sign; the list is not taken as complete`, 2, 1},
	} {
		l := readWith(t, Options{Moment: noon}, c.text)
		if problems(l) != c.want+"\n" || l.Counts.Read != c.read || l.Counts.Rejected != c.rejected || len(l.Claims) != 0 {
			t.Errorf("%s: %+v, %d claims\n%swant\n%s", c.text, l.Counts, len(l.Claims), problems(l), c.want)
		}
	}
}

// Without a date the day is that of the newest dated report, wherever it
// stands; if there is none the line is a problem.
func TestUndatedLists(t *testing.T) {
	const dated = "2026-03-02 1300Z MILL copies SUMMIT -3"
	undated := lines("1420Z all MILL copies HARBOR -9, H? 3 on day", "1300Z MILL copies HARBOR -8", "1200Z all MILL copies nobody on night")
	var rejects strings.Builder
	l := readWith(t, Options{Newest: true, Rejects: &rejects}, undated, dated)
	diff(t, "reports", told(l), lines(
		"2026-03-01T14:20:00Z HARBOR→MILL -9 dB on day",
		"2026-03-02T13:00:00Z HARBOR→MILL -8 dB",
		"2026-03-02T13:00:00Z SUMMIT→MILL -3 dB",
		"2026-03-02T12:00:00Z all MILL on night",
	))
	diff(t, "rejects", rejects.String(), "1420Z all MILL copies HARBOR -9, H? 3 on day\n")
	if l.Moment != time.Date(2026, 3, 2, 13, 0, 0, 0, time.UTC).Unix() || l.Counts != (Counts{Read: 4, Rejected: 1}) {
		t.Errorf("%d, %+v", l.Moment, l.Counts)
	}
	if got := l.Problems[0]; got.Source != "text 1" || got.Line != 1 || got.Column != 34 {
		t.Errorf("%+v", got)
	}

	rejects.Reset()
	l = readWith(t, Options{Newest: true, Rejects: &rejects}, undated)
	diff(t, "rejects", rejects.String(), undated)
	if l.Counts != (Counts{Read: 3, Rejected: 3}) || l.ProblemCount != 3 || !strings.Contains(l.Problems[2].Mend, "date before the time") || l.Problems[2].Line != 3 {
		t.Errorf("%+v\n%s", l.Counts, problems(l))
	}
}

func TestUndatedBeforeThereWereDays(t *testing.T) {
	l := readWith(t, Options{Moment: time.Unix(3600, 0)}, "0030Z MILL copies HARBOR -9\n1420Z MILL copies HARBOR -9\n")
	if l.Counts != (Counts{Read: 2, Rejected: 1}) || l.Reports[0].Time != 1800 {
		t.Errorf("%+v", l)
	}
}

func TestManyChannels(t *testing.T) {
	var text strings.Builder
	for i := range 3000 {
		text.WriteString("0920Z A copies B 1 on " + strings.Repeat("x", i%60) + string(rune('a'+i/60%26)) + string(rune('a'+i/1560)) + "\n")
	}
	l := readWith(t, Options{Moment: noon}, text.String())
	if len(l.Reports) != 3000 || len(l.Channels) != 3000 || l.ProblemCount != 0 {
		t.Errorf("%d reports, %d channels", len(l.Reports), len(l.Channels))
	}
	for i := 1; i < len(l.Channels); i++ {
		if l.Channels[i-1] >= l.Channels[i] {
			t.Fatalf("channel %q before %q", l.Channels[i-1], l.Channels[i])
		}
	}
}

func FuzzTyped(f *testing.F) {
	f.Add("2026-03-02 1420Z all MILL copies HARBOR -9, SUMMIT -14 dB on day")
	f.Add("1420Z MILL copies nobody")
	f.Add("142030z MILL copies A −9 b, ,, C on ")
	f.Fuzz(func(t *testing.T, text string) {
		p := newParser(usualLimits, spellUntil(noon.Unix(), 0), 1000)
		var out batch
		p.parse(blockOf(text), 0, nil, &out)
		if c := out.counts; c.Read != c.Rejected+c.Later+c.Earlier+len(out.reports) || c.Rejected > 0 && len(out.problems) == 0 {
			t.Fatalf("%q: %+v, %d reports, %+v", text, c, len(out.reports), out.problems)
		}
		for _, r := range out.reports {
			if r.Time > noon.Unix() || int(r.Channel) > len(out.channels) {
				t.Fatalf("%q: %+v", text, r)
			}
		}
	})
}
