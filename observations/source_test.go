package observations

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

func gzipped(t testing.TB, text string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write([]byte(text)); err != nil || w.Close() != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func zstded(t testing.TB, text string) []byte {
	t.Helper()
	w, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	return w.EncodeAll([]byte(text), nil)
}

// folder writes files into a new folder.
func folder(t *testing.T, files map[string][]byte) string {
	t.Helper()
	dir := t.TempDir()
	for name, data := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func row(snr string) string { return header + "2026-03-02T11:00:00Z,MILL,HARBOR," + snr + ",\n" }

func TestFolder(t *testing.T) {
	dir := folder(t, map[string][]byte{
		"b.csv":              []byte(row("-2")),
		"a.csv.gz":           gzipped(t, row("-1")),
		"c.CSV.ZST":          zstded(t, row("-3")),
		"sub/d.jsonl":        []byte(`{"time":1772449200,"receiver":"MILL","sender":"HARBOR","snr_db":-4}`),
		"sub/e.ndjson":       []byte(row("-5")), // the content counts
		"sub/deep/f.json.gz": gzipped(t, row("-6")),
		"g.txt":              []byte("1100Z MILL copies HARBOR -7"),
		"h.heard":            []byte("1100Z MILL copies HARBOR -8"),
		"i.csv":              zstded(t, row("-9")), // though its name does not tell
		"plan.yaml":          []byte("net: test\n"),
		"notes.md":           []byte("no log\n"),
		"sub/x.gz":           gzipped(t, row("-10")),
	})
	l, err := Read(context.Background(), []Input{{Path: dir, Name: "logs"}}, Options{Moment: noon})
	if err != nil {
		t.Fatal(err)
	}
	checkLog(t, l)
	want := []string{"a.csv.gz", "b.csv", "c.CSV.ZST", "g.txt", "h.heard", "i.csv", "sub/d.jsonl", "sub/deep/f.json.gz", "sub/e.ndjson"}
	for i := range want {
		want[i] = filepath.Join("logs", filepath.FromSlash(want[i]))
	}
	if strings.Join(l.Sources, " ") != strings.Join(want, " ") {
		t.Errorf("%v, want %v", l.Sources, want)
	}
	if len(l.Reports) != 9 || l.ProblemCount != 1 || !l.Problems[0].Warning || l.Problems[0].Source != "logs" ||
		l.Problems[0].Message != "files passed over: notes.md, plan.yaml, x.gz" {
		t.Errorf("%d reports, %+v", len(l.Reports), l.Problems)
	}
}

func TestFolderWithLinks(t *testing.T) {
	dir := folder(t, map[string][]byte{"a.csv": []byte(row("-1"))})
	if os.Symlink(filepath.Join(dir, "a.csv"), filepath.Join(dir, "b.csv")) != nil ||
		os.Symlink(dir, filepath.Join(dir, "loop")) != nil || os.Symlink("nowhere", filepath.Join(dir, "c.csv")) != nil {
		t.Skip("no symbolic links here")
	}
	l, err := Read(context.Background(), []Input{{Path: dir}}, Options{})
	if err != nil || len(l.Reports) != 2 || l.Problems[0].Message != "files passed over: c.csv, loop" {
		t.Errorf("%+v, %v", l, err)
	}
}

func TestEmptyInputs(t *testing.T) {
	dir := folder(t, map[string][]byte{"empty.csv": nil, "blank.csv": []byte("\n \r\n"), "head.csv": []byte(header), "none/x.pdf": nil})
	for path, want := range map[string]string{
		"empty.csv": "there is nothing in it", "none": "files passed over: x.pdf|no file to read in this folder", "blank.csv": "", "head.csv": "",
	} {
		l, err := Read(context.Background(), []Input{{Path: filepath.Join(dir, path)}}, Options{Newest: true})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, p := range l.Problems {
			got = append(got, p.Message)
		}
		if strings.Join(got, "|") != want || len(l.Reports) != 0 || l.Moment != 0 {
			t.Errorf("%s: %+v", path, l)
		}
	}
	if l := readWith(t, Options{}); len(l.Reports) != 0 || l.ProblemCount != 0 {
		t.Errorf("%+v", l)
	}
}

func TestCannotBeRead(t *testing.T) {
	dir := folder(t, map[string][]byte{"a.csv": []byte(row("-1"))})
	_, err := Read(context.Background(), []Input{{Path: filepath.Join(dir, "a.csv")}, {Path: filepath.Join(dir, "b.csv")}}, Options{})
	if !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
	if _, err = Read(context.Background(), []Input{{Path: "-"}}, Options{}); err == nil {
		t.Error("there was no standard input")
	}
	broken := io.MultiReader(strings.NewReader(row("-1")), iotest.ErrReader(errors.New("cable pulled")))
	if _, err = Read(context.Background(), []Input{{Path: "-"}}, Options{Stdin: broken}); err == nil || err.Error() != "-: cable pulled" {
		t.Error(err)
	}
	packed := io.MultiReader(bytes.NewReader(gzipped(t, row("-1"))[:30]), iotest.ErrReader(errors.New("cable pulled")))
	if _, err = Read(context.Background(), []Input{{Path: "-"}}, Options{Stdin: packed}); err == nil || err.Error() != "-: cable pulled" {
		t.Error(err)
	}
}

func TestPackedStreams(t *testing.T) {
	text := strings.Repeat(row("-9"), 3000)
	packed := gzipped(t, text[:len(text)/3])
	packed = append(packed, gzipped(t, text[len(text)/3:])...)
	for name, data := range map[string][]byte{"two gzip members": packed, "zstd": zstded(t, text), "plain": []byte(text)} {
		for way, src := range map[string]io.Reader{
			"": bytes.NewReader(data), ", halved": iotest.HalfReader(bytes.NewReader(data)), ", data with EOF": iotest.DataErrReader(bytes.NewReader(data)),
		} {
			l, err := Read(context.Background(), []Input{{Path: "-"}}, Options{Stdin: src})
			if err != nil || len(l.Reports) != 3000 || l.ProblemCount != 0 {
				t.Errorf("%s%s: %d reports, %v, %v", name, way, len(l.Reports), l.Problems, err)
			}
		}
	}
}

// Damage in a packed file is a problem at its line. What came before is used,
// but not the stump of a line: -9 may have been -93.
func TestDamagedStreams(t *testing.T) {
	text := header
	for i := range 3000 {
		text += "2026-03-02T11:00:00Z,MILL,POST" + string(rune('A'+i%26)) + string(rune('A'+i/26%26)) + ",-9.5,\n"
	}
	for name, data := range map[string][]byte{"gzip": gzipped(t, text), "zstd": zstded(t, text)} {
		for _, cut := range []int{5, len(data) / 2, len(data) - 1} {
			var rejects strings.Builder
			l, err := Read(context.Background(), []Input{{Path: "-"}, {Text: row("-1")}}, Options{Stdin: bytes.NewReader(data[:cut]), Rejects: &rejects})
			if err != nil {
				t.Errorf("%s cut at %d: %v", name, cut, err)
				continue
			}
			checkLog(t, l)
			if l.ProblemCount != 1 || !strings.Contains(l.Problems[0].Message, "damaged") || l.Problems[0].Source != "-" ||
				l.Problems[0].Line < len(l.Reports) || l.Counts.Rejected > 1 {
				t.Errorf("%s cut at %d: %+v, %d reports, %s", name, cut, l.Counts, len(l.Reports), problems(l))
			}
			if rejected := strings.TrimPrefix(rejects.String(), header); !strings.Contains(text, rejected) || (rejected != "") != (l.Counts.Rejected == 1) {
				t.Errorf("%s cut at %d: rejected %q", name, cut, rejected)
			}
		}
		flipped := bytes.Clone(data)
		flipped[len(data)/2] ^= 0xff
		if l, err := Read(context.Background(), []Input{{Path: "-"}}, Options{Stdin: bytes.NewReader(flipped)}); err != nil || l.ProblemCount == 0 {
			t.Errorf("%s flipped: %v", name, err)
		}
	}
}

// Reading holds a bounded part of what a small packed file unpacks to.
func TestUnpackedLineWithoutEnd(t *testing.T) {
	text := row("-1") + strings.Repeat("x", 6<<20) + "\n" + "2026-03-02T11:00:00Z,MILL,SUMMIT,-2,\n"
	var rejects countingWriter
	l, err := Read(context.Background(), []Input{{Path: "-"}}, Options{Stdin: bytes.NewReader(gzipped(t, text)), Rejects: &rejects})
	if err != nil {
		t.Fatal(err)
	}
	if l.Counts != (Counts{Read: 3, Rejected: 1}) || l.Problems[0].Line != 3 || l.Reports[1].Line != 4 || len(l.Problems[0].Value) > 200 {
		t.Errorf("%+v\n%s", l.Counts, problems(l))
	}
	if want := countingWriter(len(header) + 6<<20 + 1); rejects != want {
		t.Errorf("%d bytes rejected, want %d", rejects, want)
	}
}

type countingWriter int

func (w *countingWriter) Write(b []byte) (int, error) {
	*w += countingWriter(len(b))
	return len(b), nil
}

func TestUTF16(t *testing.T) {
	for _, order := range [][]byte{{0xff, 0xfe}, {0xfe, 0xff}} {
		data := bytes.Clone(order)
		for _, c := range row("-9") {
			pair := []byte{byte(c), 0}
			if order[0] == 0xfe {
				pair = []byte{0, byte(c)}
			}
			data = append(data, pair...)
		}
		l := readText(t, string(data))
		if l.ProblemCount != 1 || !strings.Contains(l.Problems[0].Message, "UTF-16") || l.Counts.Rejected == 0 {
			t.Errorf("%+v\n%s", l.Counts, problems(l))
		}
	}
}

func TestRealReports(t *testing.T) {
	for name, want := range map[string]int{"beacon-2023.csv.gz": 6426, "link-2025.csv.gz": 28449} {
		path := filepath.Join("..", "..", "shared", "data", name)
		if _, err := os.Stat(path); err != nil {
			t.Skip("no real reports here:", err)
		}
		l, err := Read(context.Background(), []Input{{Path: path}}, Options{Newest: true})
		if err != nil {
			t.Fatal(err)
		}
		checkLog(t, l)
		if len(l.Reports) != want || l.ProblemCount != 0 {
			t.Errorf("%s: %d reports, want %d\n%s", name, len(l.Reports), want, problems(l))
		}
	}
}

// A packed log's own word of its size spares growing by copying; what can't be true is left.
func TestPlainSize(t *testing.T) {
	text := header
	for i := range 1000 {
		text += fmt.Sprintf("2026-03-02T11:00:00Z,MILL,HARBOR,%d,\n", -i%20)
	}
	whole := gzipped(t, text)
	lies := bytes.Clone(whole)
	copy(lies[len(lies)-4:], "\xff\xff\xff\xff")
	for name, tt := range map[string]struct {
		data []byte
		want int64
	}{
		"whole.gz":   {whole, int64(len(text))},
		"start.gz":   {[]byte{0x1f, 0x8b}, 0},
		"lies.gz":    {lies, 0},
		"empty.gz":   {nil, 0},
		"whole.zst":  {zstded(t, text), int64(len(text))},
		"start.zst":  {zstded(t, text)[:5], 0},
		"empty.zst":  {nil, 0},
		"plain.zst":  {[]byte(text), 0},
		"LETTERS.GZ": {whole, int64(len(text))},
	} {
		dir := folder(t, map[string][]byte{name: tt.data})
		if got := plainSize(filepath.Join(dir, name), int64(len(tt.data))); got != tt.want {
			t.Errorf("%s: %d bytes, want %d", name, got, tt.want)
		}
	}
	if got := plainSize(filepath.Join(t.TempDir(), "none.gz"), 100); got != 0 {
		t.Errorf("no file: %d bytes", got)
	}
}

func BenchmarkReadPacked(b *testing.B) {
	var text strings.Builder
	text.WriteString(header)
	for i := range 100_000 {
		at := time.Date(2026, 3, 2, 11, 0, 20*i, 0, time.UTC).Format(time.RFC3339)
		fmt.Fprintf(&text, "%s,MILL,HARBOR,%d,\n", at, -i%20)
	}
	path := filepath.Join(b.TempDir(), "a.csv.gz")
	if err := os.WriteFile(path, gzipped(b, text.String()), 0o644); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		l, err := Read(context.Background(), []Input{{Path: path}}, Options{})
		if err != nil || len(l.Reports) != 100_000 {
			b.Fatal(err, len(l.Reports))
		}
	}
}
