package observations

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// soundLog is a log in one of the forms, or in all of them.
func soundLog(rng *rand.Rand, form int) []byte {
	var b bytes.Buffer
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	calls := []string{"MILL", "HARBOR", "SUMMIT", "POST/7", "RIVERBANK-2"}
	if form == 0 || form == 3 {
		b.WriteString("time,receiver,sender,snr_db,frequency_hz,receiver_locator,power_w,note\n")
	}
	for i := range 5 + rng.IntN(60) {
		at := start.Add(time.Duration(i) * 40 * time.Second)
		r := rng.IntN(len(calls))
		s := (r + 1 + rng.IntN(len(calls)-1)) % len(calls)
		snr := rng.IntN(40) - 28
		kind := form
		if form == 3 {
			kind = rng.IntN(3)
		}
		switch kind {
		case 0:
			fmt.Fprintf(&b, "%s,%s,%s,%d,%d,RE44,%d,\"a \"\"note\"\", long\nenough\"\n", at.Format(time.RFC3339), calls[r], calls[s], snr, 7131000+i, 1+i)
		case 1:
			fmt.Fprintf(&b, `{"time":%d,"receiver":"%s","sender":"%s","snr_db":%d,"rig":{"a":[1,2]}}`+"\n", at.Unix(), calls[r], calls[s], snr)
		case 2:
			fmt.Fprintf(&b, "%s all %s copies %s %d on day\n", at.Format("2006-01-02 1504Z"), calls[r], calls[s], snr)
		}
	}
	return b.Bytes()
}

// breakings are ways in which files get spoiled.
var breakings = []struct {
	name  string
	spoil func(rng *rand.Rand, b []byte) []byte
}{
	{"cut short", func(rng *rand.Rand, b []byte) []byte { return b[:rng.IntN(len(b))] }},
	{"beheaded", func(rng *rand.Rand, b []byte) []byte { return b[rng.IntN(len(b)):] }},
	{"bytes changed", func(rng *rand.Rand, b []byte) []byte {
		for range 1 + rng.IntN(30) {
			b[rng.IntN(len(b))] = byte(rng.Uint32())
		}
		return b
	}},
	{"binary", func(rng *rand.Rand, b []byte) []byte {
		for i := range b {
			b[i] = byte(rng.Uint32())
		}
		return b
	}},
	{"binary within", func(rng *rand.Rand, b []byte) []byte {
		junk := make([]byte, rng.IntN(3000))
		for i := range junk {
			junk[i] = byte(rng.Uint32())
		}
		return insert(rng, b, junk)
	}},
	{"wrong types", func(rng *rand.Rand, b []byte) []byte {
		return swap(b, []string{",-", "HARBOR", ":"}[rng.IntN(3)], []string{",true", "null", ":[", "{}"}[rng.IntN(4)])
	}},
	{"huge numbers", func(rng *rand.Rand, b []byte) []byte {
		return swap(b, []string{"-1", "-2", "7", "2026"}[rng.IntN(4)], []string{"1e999", strings.Repeat("9", 400), "-0.0000001e-400", "99999999999999999999"}[rng.IntN(4)])
	}},
	{"line ends mixed", func(rng *rand.Rand, b []byte) []byte {
		var out []byte
		for _, c := range b {
			if c == '\n' {
				out = append(out, []string{"\n", "\r\n", "\r", "\n\r", "\r\r\n", ""}[rng.IntN(6)]...)
				continue
			}
			out = append(out, c)
		}
		return out
	}},
	{"marks", func(rng *rand.Rand, b []byte) []byte {
		return insert(rng, append([]byte("\ufeff"), b...), []byte("\ufeff"))
	}},
	{"UTF-16", func(rng *rand.Rand, b []byte) []byte {
		out := []byte{0xff, 0xfe}
		for _, c := range b {
			out = append(out, c, 0)
		}
		return out
	}},
	{"quotes", func(rng *rand.Rand, b []byte) []byte {
		for range 1 + rng.IntN(9) {
			b = insert(rng, b, []byte{'"'})
		}
		return b
	}},
	{"a line too long", func(rng *rand.Rand, b []byte) []byte {
		return insert(rng, b, bytes.Repeat([]byte{'x', ',', '"', '{'}[rng.IntN(4):][:1], 70_000+rng.IntN(100_000)))
	}},
	{"lines lost", func(rng *rand.Rand, b []byte) []byte { return bytes.ReplaceAll(b, []byte("\n"), []byte(" ")) }},
	{"zeros", func(rng *rand.Rand, b []byte) []byte { return insert(rng, b, make([]byte, rng.IntN(5000))) }},
	{"deep nesting", func(rng *rand.Rand, b []byte) []byte {
		return insert(rng, b, bytes.Repeat([]byte(`{"a":[`), 10_000))
	}},
	{"packed and cut", func(rng *rand.Rand, b []byte) []byte {
		var w bytes.Buffer
		w.Write(gzipped(discard{}, string(b)))
		return w.Bytes()[:rng.IntN(w.Len())]
	}},
	{"packed and changed", func(rng *rand.Rand, b []byte) []byte {
		b = zstded(discard{}, string(b))
		b[4+rng.IntN(len(b)-4)] ^= byte(1 + rng.IntN(255))
		return b
	}},
}

// discard is a testing.TB for helpers that can't fail here.
type discard struct{ testing.TB }

func (discard) Helper() {}

func insert(rng *rand.Rand, b, piece []byte) []byte {
	at := rng.IntN(len(b) + 1)
	return append(append(append([]byte(nil), b[:at]...), piece...), b[at:]...)
}

func swap(b []byte, from, to string) []byte {
	return bytes.ReplaceAll(b, []byte(from), []byte(to))
}

// A thousand spoiled files, each the same on every run: every line is
// accounted for, every problem has its place, no panic.
func TestBrokenInputs(t *testing.T) {
	problems := map[string]int{}
	for seed := range 1020 {
		rng := rand.New(rand.NewPCG(uint64(seed), 7))
		b := breakings[seed%len(breakings)]
		data := b.spoil(rng, soundLog(rng, rng.IntN(4)))
		opt := Options{Stdin: bytes.NewReader(data), MaxProblems: 1000, Moment: time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)}
		if rng.IntN(3) == 0 {
			opt.Moment, opt.Newest = time.Time{}, true
		}
		var rejects bytes.Buffer
		opt.Rejects = &rejects
		lim := usualLimits
		if rng.IntN(8) > 0 {
			lim = limits{block: 3000, record: 1000}
		}
		l, err := read(context.Background(), []Input{{Path: "-"}}, opt, lim, 1+rng.IntN(3))
		if err != nil {
			t.Fatalf("seed %d, %s: %v", seed, b.name, err)
		}
		checkLog(t, l)
		for _, p := range l.Problems {
			// Only a file with nothing in it has no line to point to.
			if p.Line == 0 && len(data) > 0 || p.Line > 1+bytes.Count(data, []byte("\n"))+bytes.Count(data, []byte("\r")) && !strings.HasPrefix(b.name, "packed") {
				t.Errorf("seed %d, %s: %+v", seed, b.name, p)
			}
		}
		if !strings.HasPrefix(b.name, "packed") {
			checkRejects(t, fmt.Sprintf("seed %d, %s", seed, b.name), data, rejects.Bytes())
		}
		if t.Failed() {
			t.Fatalf("seed %d, %s: %q", seed, b.name, data[:min(len(data), 2000)])
		}
		problems[b.name] += l.ProblemCount
	}
	for _, b := range breakings {
		if problems[b.name] == 0 {
			t.Errorf("%s: no problem in 60 files", b.name)
		}
	}
}

// checkRejects sees that rejected lines stand in the data as they are.
func checkRejects(t *testing.T, what string, data, rejects []byte) {
	t.Helper()
	isEnd := func(r rune) bool { return r == '\r' || r == '\n' }
	for _, line := range bytes.FieldsFunc(rejects, isEnd) {
		if !bytes.Contains(data, line) {
			t.Errorf("%s: %q was rejected, but is not there", what, line[:min(len(line), 300)])
		}
	}
}

// Half a megabyte without a line end in every form, and ten megabytes once.
func TestVeryLongLines(t *testing.T) {
	const size = 1 << 19
	good := "1100Z MILL copies HARBOR -9\n"
	for name, long := range map[string]string{
		"text":          strings.Repeat("x", 20*size),
		"commas":        strings.Repeat(",", size),
		"an open quote": "a,\"" + strings.Repeat("x", size),
		"an object":     `{"time":"` + strings.Repeat("9", size) + `"}`,
		"a typed list":  "1100Z MILL copies HARBOR -9" + strings.Repeat(", SUMMIT 3", size/10),
		"zeros":         strings.Repeat("\x00", size),
	} {
		var rejects bytes.Buffer
		l := readWith(t, Options{Moment: noon, Rejects: &rejects}, good+long+"\r\n"+good)
		if l.Counts != (Counts{Read: 3, Rejected: 1}) || l.ProblemCount != 1 || l.Problems[0].Line != 2 || l.Reports[1].Line != 3 {
			t.Errorf("%s: %+v, %d problems, %+v", name, l.Counts, l.ProblemCount, l.Problems[0])
		}
		if rejects.String() != long+"\r\n" {
			t.Errorf("%s: %d bytes rejected, want %d", name, rejects.Len(), len(long)+2)
		}
	}
}

func FuzzRead(f *testing.F) {
	rng := rand.New(rand.NewPCG(9, 9))
	for form := range 4 {
		f.Add(soundLog(rng, form)[:200], true)
	}
	f.Add(gzipped(f, "1100Z MILL copies HARBOR -9\n"), false)
	f.Fuzz(func(t *testing.T, data []byte, newest bool) {
		opt := Options{Stdin: bytes.NewReader(data), Newest: newest, Moment: noon, MaxProblems: 50}
		l, err := read(context.Background(), []Input{{Path: "-"}}, opt, limits{block: 300, record: 100}, 2)
		if err != nil {
			t.Fatal(err)
		}
		checkLog(t, l)
	})
}
