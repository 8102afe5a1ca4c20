package scene

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"io"
	"math"
)

// MaxPixels is the largest picture PNG makes, in pixels a side.
const MaxPixels = 8000

// PNG writes the picture with scale pixels to a unit, and with its title and
// description as text in the file. It is an error if a side is under one pixel
// or over MaxPixels.
func (s *Scene) PNG(w io.Writer, scale float64) error {
	img, err := s.Raster(scale)
	if err != nil {
		return err
	}
	pixels, err := packed(img)
	if err != nil {
		return err
	}
	head := binary.BigEndian.AppendUint32(nil, uint32(img.Rect.Dx()))
	head = binary.BigEndian.AppendUint32(head, uint32(img.Rect.Dy()))
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

// packed are the pixels as differences to those above, deflated. Drawings are mostly
// the same from line to line, so there is no need to try out other filters, which
// takes most of the time of a general encoder.
func packed(img *image.RGBA) ([]byte, error) {
	var b bytes.Buffer
	z, err := zlib.NewWriterLevel(&b, zlib.BestSpeed)
	if err != nil {
		return nil, err
	}
	width := img.Rect.Dx()
	line := make([]byte, 1+3*width)
	line[0] = 2 // filter 'up'
	above := make([]byte, 4*width)
	for y := range img.Rect.Dy() {
		row := img.Pix[y*img.Stride : y*img.Stride+4*width]
		for i, k := 0, 1; i < len(row); i, k = i+4, k+3 {
			line[k], line[k+1], line[k+2] = row[i]-above[i], row[i+1]-above[i+1], row[i+2]-above[i+2]
		}
		if _, err := z.Write(line); err != nil {
			return nil, err
		}
		above = row
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
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

// Raster paints the picture with scale pixels to a unit. See PNG for errors.
func (s *Scene) Raster(scale float64) (*image.RGBA, error) {
	w, h := math.Ceil(s.Width*scale), math.Ceil(s.Height*scale)
	if !(w >= 1 && h >= 1 && w <= MaxPixels && h <= MaxPixels) {
		return nil, fmt.Errorf("a picture of %.0f × %.0f pixels can't be made: 1 to %d a side", w, h, MaxPixels)
	}
	r := newRaster(int(w), int(h))
	background := s.Background
	if background == None {
		background = 0xffffff
	}
	red, green, blue := background.RGB()
	copy(r.img.Pix, []byte{red, green, blue, 255})
	for done := 4; done < len(r.img.Pix); done *= 2 {
		copy(r.img.Pix[done:], r.img.Pix[:done])
	}
	for _, item := range s.Items {
		switch i := item.(type) {
		case *Path:
			r.path(i, scale)
		case *Circle:
			r.path(&Path{Lines: [][]Point{round(i.Centre, i.Radius)}, Closed: true, Style: i.Style}, scale)
		case *Text:
			r.text(i, scale)
		}
	}
	return r.img, nil
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
