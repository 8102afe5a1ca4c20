package scene

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/png"
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
	var b bytes.Buffer
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := e.Encode(&b, img); err != nil {
		return err
	}
	data := b.Bytes()
	const head = 8 + 25 // signature and the header chunk, which must come first
	for _, part := range [][]byte{data[:head], text("Title", s.Title), text("Description", s.Description), data[head:]} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// text is an international text chunk (PNG, third edition, 11.3.3.4), not packed.
func text(key, value string) []byte {
	if value == "" {
		return nil
	}
	body := append([]byte("iTXt"+key), 0, 0, 0, 0, 0)
	body = append(body, value...)
	out := binary.BigEndian.AppendUint32(nil, uint32(len(body)-4))
	out = append(out, body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(body))
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
	for i := 0; i < len(r.img.Pix); i += 4 {
		r.img.Pix[i], r.img.Pix[i+1], r.img.Pix[i+2], r.img.Pix[i+3] = red, green, blue, 255
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
