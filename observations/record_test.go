package observations

import (
	"bytes"
	"encoding/csv"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

// cutAll cuts a text into records as a parser does that has all of it.
func cutAll(text string, most int) (records []string) {
	b := []byte(text)
	for pos := 0; pos < len(b); {
		end, ok := recordEnd(b, pos, most, true)
		if !ok || end <= pos {
			panic("a record must end")
		}
		records = append(records, string(b[pos:end]))
		pos = end
	}
	return records
}

func TestRecords(t *testing.T) {
	for name, records := range map[string][]string{
		"line ends":        {"a,b\n", "c,d\r\n", "e,f\r", "g,h"},
		"blank lines":      {"\n", "\r\n", "\r", "\r", "a\n", "\n"},
		"in quotes":        {"a,\"b\nc\r\nd\",e\n", "f"},
		"doubled quotes":   {"\"a\"\"\n\"\"b\",c\r", "d\n"},
		"a quote within":   {"a\"b\n", "c, \"d\n", "e"},
		"never closed":     {"a,\"b\n", "c,d\n", "e"},
		"closed badly":     {"a,\"b\n", "c\"d,e\n", "f"},
		"closed at end":    {"a,\"b\nc\""},
		"objects":          {"{\"a\":\"b,\",\n", "\"c\":1}\n", "{\"d\":2}"},
		"empty in quotes":  {"\"\",\"\"\n", "a\n"},
		"too long to hold": {"a,\"" + strings.Repeat("x", 30) + "\n", strings.Repeat("y", 30) + "\"\n", "b\n"},
	} {
		got := cutAll(strings.Join(records, ""), 50)
		if strings.Join(got, "|") != strings.Join(records, "|") {
			t.Errorf("%s: %q, want %q", name, got, records)
		}
	}
}

// On files that keep to RFC 4180, records are those of encoding/csv.
func TestRecordsAgreeWithEncodingCSV(t *testing.T) {
	field := rapid.OneOf(
		rapid.StringMatching(`[a-z0-9 ]{0,6}`),
		rapid.StringMatching("\"([a-z,\n ]|\"\"){0,8}\""),
	)
	row := rapid.Map(rapid.SliceOfN(field, 2, 4), func(f []string) string { return "x" + strings.Join(f, ",") })
	rapid.Check(t, func(t *rapid.T) {
		var text strings.Builder
		rows := rapid.SliceOfN(row, 1, 6).Draw(t, "rows")
		for _, r := range rows {
			text.WriteString(strings.Replace(r, "x\"", "\"", 1) + "\n")
		}
		want, err := readStandard(text.String())
		if err != nil {
			t.Skip(err)
		}
		var got [][]string
		p := newParser(usualLimits, allTimes(refuseUndated), 0)
		for _, record := range cutAll(text.String(), 1000) {
			line := strings.TrimRight(record, "\n")
			if line == "" {
				continue
			}
			p.split([]byte(line))
			var row []string
			for _, f := range p.fields {
				row = append(row, string(f.text))
			}
			got = append(got, row)
		}
		if len(got) != len(want) {
			t.Fatalf("%q: %q, want %q", text.String(), got, want)
		}
		for i := range want {
			for j := range want[i] {
				if trimmed, _ := trim([]byte(want[i][j])); len(got[i]) != len(want[i]) || got[i][j] != string(trimmed) {
					t.Fatalf("%q: %q, want %q", text.String(), got[i], want[i])
				}
			}
		}
	})
}

func readStandard(text string) ([][]string, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = -1
	return r.ReadAll()
}

// messy draws texts full of what records hang on.
func messy() *rapid.Generator[string] {
	piece := rapid.SampledFrom([]string{
		"a", "bc", ",", ",", "\"", "\"\"", "\n", "\n", "\r", "\r\n", "{", "}", " ", ",\"", "\",", "\"\n", strings.Repeat("long", 20), "\x00", "é",
	})
	return rapid.Map(rapid.SliceOfN(piece, 0, 60), func(p []string) string { return strings.Join(p, "") })
}

var smallLimits = limits{block: 128, record: 40}

// Whatever the blocks, the records in them are the same, lines are counted
// right, and nothing gets lost.
func TestBlocksKeepRecords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := messy().Draw(t, "text")
		var src io.Reader = strings.NewReader(text)
		if rapid.Bool().Draw(t, "bytewise") {
			src = iotest.OneByteReader(src)
		}
		s := newSplitter(src, smallLimits)
		s.eager = rapid.Bool().Draw(t, "eager")
		var all strings.Builder
		var got []string
		lines, b := 1, block{}
		for {
			err := s.next(&b)
			if err == io.EOF {
				break
			}
			if err != nil || len(b.data) == 0 || len(b.data) > smallLimits.block {
				t.Fatalf("%v, %d bytes", err, len(b.data))
			}
			if want := 1 + lineEnds(text[:all.Len()]); b.line != want && !b.more {
				t.Fatalf("%q begins in line %d, not %d", b.data, want, b.line)
			}
			if !bytes.Equal(b.data[len(b.data):len(b.data)+slack], bytes.Repeat([]byte{'\n'}, slack)) {
				t.Fatal("no line ends behind the block")
			}
			all.Write(b.data)
			switch {
			case b.more:
				got[len(got)-1] += string(b.data)
			case b.long:
				got = append(got, string(b.data))
			default:
				got = append(got, cutAll(string(b.data), smallLimits.record)...)
			}
			lines++
		}
		if all.String() != text {
			t.Fatalf("%q came out as %q", text, all.String())
		}
		if want := cutAll(text, smallLimits.record); strings.Join(got, "|") != strings.Join(want, "|") {
			t.Fatalf("%q was cut into %q, not %q", text, got, want)
		}
	})
}

// lineEnds counts line ends the slow way.
func lineEnds(text string) int {
	return strings.Count(strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n"), "\n")
}

func TestCountLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := messy().Draw(t, "text")
		if got, want := countLines([]byte(text)), lineEnds(text); got != want {
			t.Fatalf("%q: %d, want %d", text, got, want)
		}
	})
}

// The last record end is where cutting record by record gets stuck.
func TestLastRecordEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := []byte(messy().Draw(t, "text"))
		want := 0
		for want < len(b) {
			end, ok := recordEnd(b, want, 40, false)
			if !ok {
				break
			}
			want = end
		}
		if got := lastRecordEnd(b, 40); got != want {
			t.Fatalf("%q: %d, want %d", b, got, want)
		}
	})
}

func TestByteOrderMark(t *testing.T) {
	for _, src := range []io.Reader{
		strings.NewReader("\ufeffa\n"), iotest.OneByteReader(strings.NewReader("\ufeffa\n")),
	} {
		s := newSplitter(src, smallLimits)
		var b block
		if err := s.next(&b); err != nil || string(b.data) != "a\n" || !b.first {
			t.Errorf("%q, %v", b.data, err)
		}
	}
}

func FuzzBlocks(f *testing.F) {
	f.Add("a,\"b\nc\",d\r\ne\rf", 20)
	f.Add("{\"a\":\"b,\"}\n\"\"\"\n\"", 7)
	f.Fuzz(func(t *testing.T, text string, most int) {
		if most < 2 || most > 1000 || strings.HasPrefix(text, "\ufeff") {
			return
		}
		s := newSplitter(strings.NewReader(text), limits{block: 2*most + 8, record: most})
		var got []string
		var b block
		for s.next(&b) == nil {
			switch {
			case b.more:
				got[len(got)-1] += string(b.data)
			case b.long:
				got = append(got, string(b.data))
			default:
				got = append(got, cutAll(string(b.data), most)...)
			}
		}
		if want := cutAll(text, most); strings.Join(got, "|") != strings.Join(want, "|") {
			t.Fatalf("%q was cut into %q, not %q", text, got, want)
		}
	})
}
