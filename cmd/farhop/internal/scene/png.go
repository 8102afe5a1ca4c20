package scene

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"io"
	"math"

	"github.com/klauspost/compress/zlib"
)

// MaxPixels is the largest picture PNG makes, in pixels a side.
const MaxPixels = 8000

// bandRows is how many rows are painted at a time: few enough to stay in the
// processor's cache.
const bandRows = 64

// PNG writes the picture with scale pixels to a unit, and with its title and
// description as text in the file. It is an error if a side is under one pixel
// or over MaxPixels. While a band of rows is packed the next is painted.
func (s *Scene) PNG(w io.Writer, scale float64) error {
	width, height, err := s.pixels(scale)
	if err != nil {
		return err
	}
	painted, free := make(chan *image.RGBA, 1), make(chan *image.RGBA, 3)
	for range cap(free) {
		free <- image.NewRGBA(image.Rect(0, 0, width, min(bandRows, height)))
	}
	go func() {
		defer close(painted)
		s.bands(scale, width, height, func() *image.RGBA { return <-free }, func(band *image.RGBA) { painted <- band })
	}()
	pixels, err := packed(width, painted, free)
	if err != nil {
		return err
	}
	head := binary.BigEndian.AppendUint32(nil, uint32(width))
	head = binary.BigEndian.AppendUint32(head, uint32(height))
	head = append(head, 8, 2, 0, 0, 0) // eight bits each of red, green and blue
	for _, part := range [][]byte{
		[]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", head), text("Title", s.Title), text("Description", s.Description),
		chunk("IDAT", pixels), chunk("IEND", nil),
	} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// packed are the pixels of all bands as differences to those above, deflated.
// Drawings are mostly the same from line to line, so there is no need to try out
// other filters, which takes most of the time of a general encoder. A band goes back
// to free once the one after it is packed.
func packed(width int, bands <-chan *image.RGBA, free chan<- *image.RGBA) ([]byte, error) {
	var b bytes.Buffer
	z, err := zlib.NewWriterLevel(&b, zlib.BestSpeed)
	if err != nil {
		return nil, err
	}
	line := make([]byte, 1+3*width)
	above := make([]byte, 4*width)
	var last *image.RGBA // above is its last row
	for band := range bands {
		for y := range band.Rect.Dy() {
			row := band.Pix[y*band.Stride : y*band.Stride+4*width]
			clear(line)
			line[0] = 2 // filter 'up'
			differences(line[1:], row, above)
			if _, e := z.Write(line); err == nil { // to memory: it can't fail
				err = e
			}
			above = row
		}
		if last != nil {
			free <- last
		}
		last = band
	}
	if err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// differences writes the red, green and blue of a row less those above over zeros.
func differences(line, row, above []byte) {
	for i, k := 0, 0; i+4 <= len(row); i, k = i+4, k+3 {
		if i+16 <= len(row) && binary.LittleEndian.Uint64(row[i:]) == binary.LittleEndian.Uint64(above[i:]) &&
			binary.LittleEndian.Uint64(row[i+8:]) == binary.LittleEndian.Uint64(above[i+8:]) {
			i, k = i+12, k+9 // four pixels alike
			continue
		}
		line[k], line[k+1], line[k+2] = row[i]-above[i], row[i+1]-above[i+1], row[i+2]-above[i+2]
	}
}

// text is an international text chunk (PNG, third edition, 11.3.3.4), not packed.
func text(key, value string) []byte {
	if value == "" {
		return nil
	}
	return chunk("iTXt", append(append([]byte(key), 0, 0, 0, 0, 0), value...))
}

// chunk is a part of the file (PNG, third edition, 5.3): length, name, data, sum.
func chunk(name string, data []byte) []byte {
	out := binary.BigEndian.AppendUint32(make([]byte, 0, len(data)+12), uint32(len(data)))
	out = append(append(out, name...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

// pixels is the size of the picture, or why it can't be made.
func (s *Scene) pixels(scale float64) (width, height int, err error) {
	w, h := math.Ceil(s.Width*scale), math.Ceil(s.Height*scale)
	if !(w >= 1 && h >= 1 && w <= MaxPixels && h <= MaxPixels) {
		return 0, 0, fmt.Errorf("a picture of %.0f × %.0f pixels can't be made: 1 to %d a side", w, h, MaxPixels)
	}
	return int(w), int(h), nil
}

// Raster paints the picture with scale pixels to a unit. See PNG for errors.
func (s *Scene) Raster(scale float64) (*image.RGBA, error) {
	width, height, err := s.pixels(scale)
	if err != nil {
		return nil, err
	}
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	buffer, done := image.NewRGBA(image.Rect(0, 0, width, min(bandRows, height))), 0
	s.bands(scale, width, height, func() *image.RGBA { return buffer }, func(band *image.RGBA) {
		done += copy(img.Pix[done:], band.Pix)
	})
	return img, nil
}

// bands paints the picture from the top down, each band into an image that take
// gives, cut to size at the end, and hands it to done.
func (s *Scene) bands(scale float64, width, height int, take func() *image.RGBA, done func(*image.RGBA)) {
	shapes := make([]shape, 0, len(s.Items))
	for _, item := range s.Items {
		shapes = append(shapes, shapeOf(item))
	}
	background := s.Background
	if background == None {
		background = 0xffffff
	}
	red, green, blue := background.RGB()
	r := newRaster(width, min(bandRows, height))
	for top := 0; top < height; top += bandRows {
		band := take()
		band.Rect.Max.Y = min(bandRows, height-top)
		band.Pix = band.Pix[:band.Rect.Max.Y*band.Stride]
		copy(band.Pix, []byte{red, green, blue, 255})
		for filled := 4; filled < len(band.Pix); filled *= 2 {
			copy(band.Pix[filled:], band.Pix[:filled])
		}
		r.begin(band, top)
		for i := range shapes {
			if x := &shapes[i]; x.y1*scale+1 >= float64(top) && x.y0*scale-1 <= float64(top+r.h) {
				x.paint(r, scale)
			}
		}
		done(band)
	}
}

// shape is an item made ready for painting: circles as areas, dashes as lines.
type shape struct {
	path   *Path
	text   *Text
	y0, y1 float64 // it lies between them
}

func shapeOf(item Item) shape {
	switch i := item.(type) {
	case *Path:
		return pathShape(i)
	case *Circle:
		return pathShape(&Path{Lines: [][]Point{round(i.Centre, i.Radius)}, Closed: true, Style: i.Style})
	case *Text:
		box := i.Box()
		return shape{text: i, y0: box.Y0 - i.Size, y1: box.Y1 + i.Size}
	}
	return shape{y0: math.Inf(1), y1: math.Inf(-1)}
}

func pathShape(p *Path) shape {
	x := shape{path: p, y0: math.Inf(1), y1: math.Inf(-1)}
	for _, line := range p.Lines {
		for _, q := range line {
			x.y0, x.y1 = math.Min(x.y0, q.Y), math.Max(x.y1, q.Y)
		}
	}
	x.y0, x.y1 = x.y0-p.Width-1, x.y1+p.Width+1
	if p.Dash != nil && p.Fill == None {
		q := *p
		q.Lines, q.Dash, q.Closed = nil, nil, false
		for _, line := range p.Lines {
			q.Lines = append(q.Lines, dashed(line, p.Closed, p.Dash)...)
		}
		x.path = &q
	}
	return x
}

func (x *shape) paint(r *raster, scale float64) {
	if x.path != nil {
		r.path(x.path, scale)
	}
	if x.text != nil {
		r.text(x.text, scale)
	}
}

func (r *raster) path(p *Path, scale float64) {
	opacity := p.Opacity
	if opacity <= 0 {
		opacity = 1
	}
	if p.Fill != None {
		for _, line := range p.Lines {
			r.area(line, scale)
		}
		r.paint(p.Fill, opacity)
	}
	if p.Stroke == None || p.Width <= 0 {
		return
	}
	// A line thinner than a pixel is drawn a pixel wide and paler.
	width := math.Max(p.Width, 1/scale)
	for _, line := range p.Lines {
		if p.Dash == nil {
			r.stroke(line, p.Closed, width, scale)
			continue
		}
		for _, part := range dashed(line, p.Closed, p.Dash) {
			r.stroke(part, false, width, scale)
		}
	}
	r.paint(p.Stroke, opacity*p.Width/width)
}

func (r *raster) text(t *Text, scale float64) {
	lines := t.outline()
	if t.Halo != None {
		for _, line := range lines {
			r.stroke(line, true, haloWidth(t.Size), scale)
		}
		r.paint(t.Halo, 1)
	}
	for _, line := range lines {
		r.area(line, scale)
	}
	r.paint(t.Fill, 1)
}
