package observations

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestColumnsInAnyOrder(t *testing.T) {
	l := readText(t, lines(
		"snr_db,receiver_locator,sender,time,power_w,receiver,frequency_hz,sender_locator,received",
		"-9,RE44,HARBOR,2026-03-02T14:20:00Z,5,MILL,7131000,re45AB,2026-03-02T14:20:00Z",
		"3.5,,harbor,1772461160,,mill,,,",
		"-10,RE44,HARBOR,2026-03-02T13:00:00Z,0.25,MILL,7131000.4,RE45ab,2026-03-02T14:00:00Z",
	))
	diff(t, "reports", told(l), lines(
		"2026-03-02T13:00:00Z HARBOR@RE45ab→MILL@RE44 -10 dB 7131000 Hz 0.25 W +3600 s",
		"2026-03-02T14:19:20Z HARBOR→MILL 3.5 dB",
		"2026-03-02T14:20:00Z HARBOR@RE45ab→MILL@RE44 -9 dB 7131000 Hz 5 W",
	))
	if l.ProblemCount != 0 {
		t.Error(l.Problems)
	}
}

func TestRowForms(t *testing.T) {
	const want = "2026-03-02T14:20:00Z HARBOR→MILL -9 dB\n"
	for name, row := range map[string]string{
		"quotes":         `"2026-03-02T14:20:00Z","MILL","HARBOR","-9"`,
		"spaces":         " 2026-03-02T14:20:00Z ,\tMILL , HARBOR,-9 ",
		"spaces, quotes": `2026-03-02T14:20:00Z," MILL",HARBOR,"-9 "`,
		"hard spaces":    "2026-03-02T14:20:00Z,\u00a0MILL,HARBOR\u202f,-9",
		"small letters":  "2026-03-02 14:20:00z,mill,harbor,-9",
		"minus sign":     "2026-03-02T14:20:00Z,MILL,HARBOR,−9",
		"decimals":       "2026-03-02T14:20:00.25Z,MILL,HARBOR,-9.000",
		"exponent":       "1.7724612e9,MILL,HARBOR,-90e-1",
		"zone":           "2026-03-02T09:20:00-05:00,MILL,HARBOR,-9",
	} {
		for end, mark := range map[string]string{"LF": "\n", "CRLF": "\r\n", "CR": "\r", "nothing": ""} {
			l := readText(t, "time,receiver,sender,snr_db"+cmp.Or(mark, "\n")+row+mark)
			if told(l) != want || l.ProblemCount != 0 {
				t.Errorf("%s, %s: %s%s", name, end, told(l), problems(l))
			}
		}
	}
}

func TestRowProblems(t *testing.T) {
	for _, c := range []struct{ row, want string }{
		{"2026-03-02T14:20:00,MILL,HARBOR,-9,,,,,", `2:1 time "2026-03-02T14:20:00" a time without its zone`},
		{",MILL,HARBOR,-9,,,,,", `2:1 time "" empty`},
		{"1960-01-01T00:00:00Z,MILL,HARBOR,-9,,,,,", `2:1 time "1960-01-01T00:00:00Z" outside the years 1970 to 2099`},
		{"5000000000,MILL,HARBOR,-9,,,,,", `2:1 time "5000000000" outside the years 1970 to 2099`},
		{"1772461200,,HARBOR,-9,,,,,", `2:12 receiver "" empty`},
		{"1772461200,MI LL,HARBOR,-9,,,,,", `2:12 receiver "MI LL" not a call sign`},
		{"1772461200,MILL,HÄRBOR,-9,,,,,", `2:17 sender "HÄRBOR" not a call sign`},
		{"1772461200,MILL,HARBOR-HARBOR-HARBOR-,-9,,,,,", `2:17 sender "HARBOR-HARBOR-HARBOR-" longer than 20 characters`},
		{"1772461200,MILL,mill,-9,,,,,", `2:17 sender "mill" a station can't hear itself`},
		{"1772461200,MILL,mill,-9,,RE44,RE45,,", `2:17 sender "mill" a station can't hear itself`},
		{"1772461200,MILL,HARBOR,,,,,,", `2:24 snr_db "" empty`},
		{"1772461200,MILL,HARBOR,nine,,,,,", `2:24 snr_db "nine" not a number`},
		{"1772461200,MILL,HARBOR,NaN,,,,,", `2:24 snr_db "NaN" not a number`},
		{"1772461200,MILL,HARBOR,60.1,,,,,", `2:24 snr_db "60.1" outside −60…+60 dB`},
		{"1772461200,MILL,HARBOR,-61,,,,,", `2:24 snr_db "-61" outside −60…+60 dB`},
		{"1772461200,MILL,HARBOR,-9,7.131,,,,", `2:27 frequency_hz "7.131" below 1 kHz`},
		{"1772461200,MILL,HARBOR,-9,5e9,,,,", `2:27 frequency_hz "5e9" outside 1 kHz…4 GHz`},
		{"1772461200,MILL,HARBOR,-9,-7131000,,,,", `2:27 frequency_hz "-7131000" outside 1 kHz…4 GHz`},
		{"1772461200,MILL,HARBOR,-9,7 MHz,,,,", `2:27 frequency_hz "7 MHz" not a number`},
		{"1772461200,MILL,HARBOR,-9,,,,0,", `2:30 power_w "0" not above 0`},
		{"1772461200,MILL,HARBOR,-9,,,,1e-60,", `2:30 power_w "1e-60" not above 0`},
		{"1772461200,MILL,HARBOR,-9,,,,10000001,", `2:30 power_w "10000001" above 10 MW`},
		{"1772461200,MILL,HARBOR,-9,,,,5W,", `2:30 power_w "5W" not a number`},
		{"1772461200,MILL,HARBOR,-9,,,,,soon", `2:31 received "soon" not a time`},
		{"1772461200,MILL,HARBOR,-9", `2:0  "1772461200,MILL,HARBOR,-9" fields: 4, but the header line names 9`},
		{"1772461200,MILL,HARBOR,-9,,,,,,", `2:0  "1772461200,MILL,HARBOR,-9,,,,,," fields: 10, but the header line names 9`},
		{"\x00\x01\xff,MILL,HARBOR,-9,,,,,", `2:1 time "\\x00\\x01\\xff" not a time`},
		{"yesterday,M!,H?,loud,,,,,", lines(
			`2:1 time "yesterday" not a time`, `2:11 receiver "M!" not a call sign`,
			`2:14 sender "H?" not a call sign`, `2:17 snr_db "loud" not a number`,
		)},
		{"\"17724\n61200\",MILL,\"a\nHARBOR\",-9,,,,,", lines(
			`2:2 time "17724\\n61200" not a time`, `3:14 sender "a\\nHARBOR" not a call sign`,
		)},
	} {
		l := readText(t, lines(
			"time,receiver,sender,snr_db,frequency_hz,receiver_locator,sender_locator,power_w,received",
			c.row, "1772461200,MILL,SUMMIT,-9,,,,,",
		))
		if l.Counts.Rejected != 1 || len(l.Reports) != 1 || problems(l) != strings.TrimSuffix(c.want, "\n")+"\n" {
			t.Errorf("%q: %+v\n%swant\n%s", c.row, l.Counts, problems(l), c.want)
		}
	}
}

func TestRowWarnings(t *testing.T) {
	for _, c := range []struct{ row, report, problem string }{
		{
			"1772461200,MILL,HARBOR,-9,RE4,RE45,", "HARBOR@RE45→MILL -9 dB\n",
			`2:27 receiver_locator "RE4" not a locator: a locator has 4 to 16 characters; the report was used without it`,
		},
		{
			"1772461200,MILL,HARBOR,-9,RE44,RZ45,", "HARBOR→MILL@RE44 -9 dB\n",
			`2:32 sender_locator "RZ45" not a locator: character 2 is not a letter from A to R; the report was used without it`,
		},
		{
			"1772461200,MILL,HARBOR,-9,,,1772461190", "HARBOR→MILL -9 dB\n",
			`2:29 received "1772461190" received before it was heard; taken as received at once`,
		},
	} {
		l := readText(t, lines("time,receiver,sender,snr_db,receiver_locator,sender_locator,received", c.row))
		if l.Counts.Rejected != 0 || told(l) != "2026-03-02T14:20:00Z "+c.report || problems(l) != c.problem+"\n" || !l.Problems[0].Warning {
			t.Errorf("%q: %s%s", c.row, told(l), problems(l))
		}
	}
}

func TestHeaders(t *testing.T) {
	const row = "1772461200,MILL,HARBOR,-9"
	for _, c := range []struct {
		name, text    string
		used, refused int
		problems      string
	}{
		{"any case", lines("Time,RECEIVER,Sender,SNR_dB", row), 1, 0, ""},
		{"quoted, with spaces", lines(`"time", receiver ,"sender",snr_db`, row), 1, 0, ""},
		{"with a mark", "\ufeff" + lines("time,receiver,sender,snr_db", row), 1, 0, ""},
		{"blank lines before", lines("", "  ", "time,receiver,sender,snr_db", "", row), 1, 0, ""},
		{"a remark before", lines("# heard at the mill", "time,receiver,sender,snr_db", row), 1, 0, ""},
		{
			"unknown columns", lines("time,receiver,sender,snr_db,note,,rig", row+`,"a, b
c",x,y`, row+",1,2,3"), 2, 0,
			`1:29  "note" columns passed over: note, (no name), rig` + "\n",
		},
		{
			"missing column", lines("time,receiver,sender", "1772461200,MILL,HARBOR", "1772461200,MILL,SUMMIT"), 0, 2,
			"1:0 snr_db \"\" the header line has no column snr_db, so no row below it can be used\n",
		},
		{
			"twice", lines("time,receiver,sender,snr_db,Time", row+",1"), 0, 1,
			"1:29 time \"Time\" the header names this column twice, so no row below it can be used\n",
		},
		{
			"none", lines(row, row), 0, 2,
			`1:0  "1772461200,MILL,HARBOR,-9" no header line, so no row can be read` + "\n",
		},
		{
			"semicolons", lines("time;receiver;sender;snr_db", "1772461200;MILL;HARBOR;-9"), 0, 2,
			`1:0  "time;receiver;sender;snr_db" fields must be parted by commas, so no row can be read` + "\n",
		},
		{
			"another one farther on", lines("time,receiver,sender,snr_db", row, "snr_db,sender,receiver,time", "-8,SUMMIT,MILL,1772461200"), 2, 0, "",
		},
		{"the same again", lines("time,receiver,sender,snr_db,x", row+",1", "time,receiver,sender,snr_db,x", row+",2"), 2, 0, `1:29  "x" columns passed over: x` + "\n"},
		{"a header after one that is bad", lines("time,receiver,sender,snr", row, "time,receiver,sender,snr_db", row), 1, 1, lines(
			"1:0 snr_db \"\" the header line has no column snr_db, so no row below it can be used", `1:22  "snr" columns passed over: snr`,
		)},
	} {
		l := readText(t, c.text)
		if len(l.Reports) != c.used || l.Counts.Rejected != c.refused || problems(l) != c.problems {
			t.Errorf("%s: %+v, %d used\n%swant\n%s", c.name, l.Counts, len(l.Reports), problems(l), c.problems)
		}
	}
}

func TestHeaderMends(t *testing.T) {
	for header, want := range map[string]string{
		"time,receiver,sender,snr_dB,freqency_hz": `if "freqency_hz" is frequency_hz, call it so`,
		"tmie,receiver,sender,snr_db":             `is "tmie" meant? Call it time`,
		"time,receiver,sender,snr_db,note":        "nothing, if they are not needed",
	} {
		if l := readText(t, header+"\n"); len(l.Problems) == 0 || l.Problems[0].Mend != want {
			t.Errorf("%s: %+v, want %s", header, l.Problems, want)
		}
	}
}

// fieldText draws good and bad texts for a column.
func fieldText(c column) *rapid.Generator[string] {
	call := rapid.SampledFrom([]string{"MILL", "HARBOR", "mill", "SUMMIT-7", "LONGISLAND/P", "", "A B", "Ä", "\"MILL\"", "\x00", "TWENTY-ONE-CHARACTERS"})
	place := rapid.SampledFrom([]string{"", "RE44", "re44", "RE44ab12", "RE44ab12cd34ef56", "RE4", "ZZ99", "RE44 ", "\"RE45\""})
	odd := rapid.SampledFrom([]string{"", "0", "-0", "abc", "1e3", "\"7\"", " 5", "+5", "1772461200", "2026-03-02T14:20:00Z", "\xff", "−9", "-"})
	switch c {
	case colTime, colReceived:
		return rapid.OneOf(timeTexts(), odd, rapid.Map(rapid.Int64Range(-10, 5e9), func(i int64) string { return fmt.Sprint(i) }))
	case colReceiver, colSender:
		return call
	case colReceiverLocator, colSenderLocator:
		return place
	case colOther:
		return rapid.OneOf(call, odd, rapid.Just("\"a,\nb\""), rapid.Just("{"))
	}
	return rapid.OneOf(odd, rapid.StringMatching(`-?[0-9]{1,8}(\.[0-9]{1,3})?`), rapid.StringMatching(`-?[1-5]?[0-9]`))
}

// Sweeping rows reads exactly what reading each by itself does.
func TestSweepAgrees(t *testing.T) {
	usual := map[column]string{
		colTime: "2026-03-02T14:20:00Z", colReceiver: "MILL", colSender: "HARBOR", colSNR: "-9", colFrequency: "7131000",
		colReceiverLocator: "RE44", colSenderLocator: "RE45", colPower: "20", colReceived: "", colOther: "",
	}
	swept := 0
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.Permutation([]column{
			colTime, colReceiver, colSender, colSNR, colFrequency, colReceiverLocator, colSenderLocator, colPower, colReceived, colOther,
		}).Draw(t, "columns")
		var text strings.Builder
		for i, c := range columns {
			if i > 0 {
				text.WriteByte(',')
			}
			if c == colOther {
				text.WriteString("note")
			} else {
				text.WriteString(columnNames[c])
			}
		}
		text.WriteByte('\n')
		for range rapid.IntRange(1, 12).Draw(t, "rows") {
			for i, c := range columns {
				if i > 0 {
					text.WriteByte(',')
				}
				if u, ok := usual[c]; ok && rapid.IntRange(0, 4).Draw(t, "usual") > 0 {
					text.WriteString(u)
				} else {
					text.WriteString(fieldText(c).Draw(t, "field"))
				}
			}
			text.WriteString(rapid.SampledFrom([]string{"\n", "\n", "\r\n", "\r", ""}).Draw(t, "end"))
		}
		quick, slow := newParser(usualLimits, allTimes(refuseUndated), 1000), newParser(usualLimits, allTimes(refuseUndated), 1000)
		var got, want batch
		quick.parse(blockOf(text.String()), 3, nil, &got)
		parseSlowly(slow, blockOf(text.String()), 3, &want)
		swept += len(got.reports)
		if d := differs(quick, &got, slow, &want); d != "" {
			t.Fatalf("%q: %s", text.String(), d)
		}
	})
	if swept == 0 { // one in ten is, of some hundreds
		t.Error("no row was good")
	}
}

// differs tells how two batches differ, site numbers aside, which parsers give
// as they please.
func differs(p *parser, got *batch, q *parser, want *batch) string {
	named := func(p *parser, b *batch) string {
		var s strings.Builder
		for _, r := range b.reports {
			sites := p.sites.sites
			receiver, sender := sites[r.Receiver], sites[r.Sender]
			r.Receiver, r.Sender = 0, 0
			fmt.Fprintf(&s, "%v %v %+v\n", receiver, sender, r)
		}
		for _, n := range b.problems {
			fmt.Fprintf(&s, "%+v\n", n)
		}
		for _, r := range b.rejects {
			fmt.Fprintf(&s, "%d–%d\n", r.from, r.to)
		}
		return s.String() + fmt.Sprintf("%+v %d", b.counts, b.unkept)
	}
	if g, w := named(p, got), named(q, want); g != w {
		return g + "\nwant\n" + w
	}
	return ""
}

// parseSlowly is parse without sweeping.
func parseSlowly(p *parser, b *block, source uint16, out *batch) {
	out.reset()
	p.data, p.source, p.line, p.out = b.data, source, b.line, out
	for pos := 0; pos < len(p.data); {
		end, _ := recordEnd(p.data, pos, p.lim.record, true)
		p.one(pos, end)
		p.line += countLines(p.raw)
		pos = end
	}
}

func FuzzRows(f *testing.F) {
	f.Add("2026-03-02T14:20:00Z,MILL,HARBOR,-9,7131000,RE44\n")
	f.Add("1772461200,\"MILL\",harbor,+9.5,,re44\r\n2026-03-02T14:20:00.5+01:00,MILL,SUMMIT,-60,1e6,\r")
	f.Add("{\"time\":1}\n\"a\nb\",c\n1420Z MILL copies HARBOR -9\ntime,receiver,sender,snr_db\n1,A,B,2")
	f.Fuzz(func(t *testing.T, rows string) {
		text := "time,receiver,sender,snr_db,frequency_hz,sender_locator\n" + rows
		quick, slow := newParser(usualLimits, allTimes(refuseUndated), 1000), newParser(usualLimits, allTimes(refuseUndated), 1000)
		var got, want batch
		quick.parse(blockOf(text), 0, nil, &got)
		parseSlowly(slow, blockOf(text), 0, &want)
		if d := differs(quick, &got, slow, &want); d != "" {
			t.Fatalf("%q: %s", text, d)
		}
		if got.counts.Read != got.counts.Rejected+len(got.reports) {
			t.Fatalf("%q: %+v, %d reports", text, got.counts, len(got.reports))
		}
	})
}

// No row of the common form, nor of any form that has no problem, costs an
// allocation once its stations are known.
func TestRowsCostNoAllocation(t *testing.T) {
	for name, row := range map[string]string{
		"common":     "2026-03-02T14:20:00Z,MILL,HARBOR,-9,7131000\n",
		"unix":       "1772461200,MILL,HARBOR,-9.5,7131000\r\n",
		"long names": "2026-03-02T14:20:00Z,MILLSTREAM,HARBORMASTER,-9,7131000\n",
		"quoted":     "\"2026-03-02T14:20:00Z\",\"MILL\",\"HARBOR\",\"-9\",\"7131000\"\n",
		"spaced":     "2026-03-02T14:20:00Z, MILL, HARBOR, -9, 7131000\n",
	} {
		b := blockOf("time,receiver,sender,snr_db,frequency_hz\n" + strings.Repeat(row, 500))
		p, out := newParser(usualLimits, allTimes(refuseUndated), 10), &batch{}
		p.parse(b, 0, nil, out)
		n := math.Inf(1)
		for try := 0; try < 50 && n > 5; try++ { // what other tests have left running is counted too
			n = min(n, testing.AllocsPerRun(5, func() { p.parse(b, 0, nil, out) }))
		}
		if n > 5 || len(out.reports) != 500 {
			t.Errorf("%s: %v allocations for 500 rows, %d reports", name, n, len(out.reports))
		}
	}
}
