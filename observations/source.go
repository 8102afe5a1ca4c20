package observations

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

// maxSources is how many sources a Log can tell apart.
const maxSources = 1 << 16

// suffixes are the file names a folder is searched for, .gz or .zst aside.
var suffixes = map[string]bool{
	".csv": true, ".jsonl": true, ".ndjson": true, ".json": true, ".txt": true, ".heard": true,
}

// source is one stream of lines.
type source struct {
	name    string
	size    int64 // bytes when unpacked, 0 when not known
	open    func() (io.ReadCloser, error)
	current atomic.Pointer[layout] // as far as blocks have been collected
}

// findSources turns inputs into sources, folders into the files in them in the
// order of their names. Files that are passed over are told as problems.
func findSources(inputs []Input, stdin io.Reader) (sources []*source, problems []Problem, err error) {
	for _, in := range inputs {
		s := &source{name: in.Name}
		if s.name == "" {
			s.name = in.Path
		}
		switch {
		case in.Path == "":
			if s.name == "" {
				s.name = "typed list"
			}
			s.size = int64(len(in.Text))
			s.open = func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(in.Text)), nil }
		case in.Path == "-":
			if stdin == nil {
				return nil, nil, errors.New("there is no standard input to read")
			}
			s.open = func() (io.ReadCloser, error) { return io.NopCloser(stdin), nil }
		default:
			info, err := os.Stat(in.Path)
			if err != nil {
				return nil, nil, err
			}
			if info.IsDir() {
				found, p, err := walk(in.Path, s.name)
				if err != nil {
					return nil, nil, err
				}
				sources, problems = append(sources, found...), append(problems, p...)
				continue
			}
			s.file(in.Path, info)
		}
		sources = append(sources, s)
	}
	if len(sources) > maxSources {
		return nil, nil, fmt.Errorf("%d files to read, more than %d", len(sources), maxSources)
	}
	return sources, problems, nil
}

func (s *source) file(path string, info fs.FileInfo) {
	s.open = func() (io.ReadCloser, error) { return os.Open(path) }
	switch {
	case !info.Mode().IsRegular():
	case !isPacked(path):
		s.size = info.Size()
	default:
		s.size = plainSize(path, info.Size())
	}
}

// plainSize is what a packed file says it holds when unpacked, in bytes: gzip at its end, of
// its last member, modulo 2³² (RFC 1952, ISIZE), zstd at its beginning, of its first frame
// (RFC 8878). A guess of what is to come, not to be relied on; 0 when it doesn't say, or
// says more than is to be believed of so many packed bytes.
func plainSize(path string, packed int64) int64 {
	const most = 1032 // times as long is the most that DEFLATE unpacks to (zlib's technical notes)
	f, err := os.Open(path)
	if err != nil {
		return 0 // told when it is to be read
	}
	defer f.Close()
	size := uint64(0)
	if strings.EqualFold(filepath.Ext(path), ".gz") {
		var end [4]byte
		if _, err := f.ReadAt(end[:], packed-int64(len(end))); err != nil {
			return 0
		}
		size = uint64(binary.LittleEndian.Uint32(end[:]))
	} else {
		start := make([]byte, min(packed, zstd.HeaderMaxSize))
		var h zstd.Header
		if _, err := f.ReadAt(start, 0); err != nil || h.Decode(start) != nil {
			return 0
		}
		size = h.FrameContentSize
	}
	if size/most > uint64(packed) {
		return 0
	}
	return int64(size)
}

func isPacked(name string) bool {
	ext := strings.ToLower(filepath.Ext(name))
	return ext == ".gz" || ext == ".zst"
}

// walk finds the logs in a folder and below it.
func walk(root, name string) (sources []*source, problems []Problem, err error) {
	var over []field
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		shown := filepath.Join(name, strings.TrimPrefix(path, root))
		info, err := os.Stat(path) // through links
		if err != nil || !info.Mode().IsRegular() || !isLogName(path) {
			over = append(over, field{text: []byte(filepath.Base(path))})
			return nil
		}
		s := &source{name: shown}
		s.file(path, info)
		sources = append(sources, s)
		return nil
	})
	if len(over) > 0 {
		problems = append(problems, Problem{
			Source: name, Value: string(over[0].text), Warning: true,
			Message: "files passed over: " + nameList(over),
			Mend:    "read are .csv, .jsonl, .ndjson, .json, .txt and .heard, also with .gz or .zst; give other files by name",
		})
	}
	if len(sources) == 0 {
		problems = append(problems, Problem{
			Source: name, Warning: true,
			Message: "no file to read in this folder", Mend: "see whether it is the right folder",
		})
	}
	return sources, problems, err
}

func isLogName(path string) bool {
	name := strings.ToLower(filepath.Base(path))
	if isPacked(name) {
		name = strings.TrimSuffix(name, filepath.Ext(name))
	}
	return suffixes[filepath.Ext(name)]
}

// rawReader counts bytes and remembers whether the device failed.
type rawReader struct {
	src  io.Reader
	read *atomic.Int64
	err  error
}

func (r *rawReader) Read(b []byte) (int, error) {
	n, err := r.src.Read(b)
	if r.read != nil {
		r.read.Add(int64(n))
	}
	if err != nil && err != io.EOF {
		r.err = err
	}
	return n, err
}

// maxWindow bounds what unpacking may hold in memory, in bytes.
const maxWindow = 1 << 27

// unpack returns the stream itself, or what is packed in it by gzip (RFC 1952)
// or zstd (RFC 8878), as its first bytes tell. Errors of the packed data, and
// only they, are of type damage. close frees memory, not the source.
func unpack(src io.Reader, read *atomic.Int64) (r io.Reader, close func(), err error) {
	raw := &rawReader{src: src, read: read}
	head := make([]byte, 4)
	n, _ := io.ReadFull(raw, head)
	if raw.err != nil {
		return nil, nil, raw.err
	}
	var all io.Reader = raw
	if n > 0 {
		all = io.MultiReader(bytes.NewReader(head[:n]), raw)
	}
	close = func() {}
	var packed io.Reader
	switch {
	case bytes.HasPrefix(head[:n], []byte{0x1f, 0x8b}):
		packed, err = gzip.NewReader(all)
	case bytes.HasPrefix(head[:n], []byte{0x28, 0xb5, 0x2f, 0xfd}):
		var d *zstd.Decoder
		if d, err = zstd.NewReader(all, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(maxWindow)); err == nil {
			packed, close = d, d.Close
		}
	default:
		return all, close, nil
	}
	if err != nil {
		packed = failing{err}
	}
	return &unpacked{packed, raw}, close, nil
}

// unpacked tells damage from failure.
type unpacked struct {
	packed io.Reader
	raw    *rawReader
}

func (u *unpacked) Read(b []byte) (int, error) {
	n, err := u.packed.Read(b)
	switch {
	case err == nil || err == io.EOF:
		return n, err
	case u.raw.err != nil:
		return n, u.raw.err
	}
	return n, damage{err}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }
