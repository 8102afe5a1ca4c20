package chart

import (
	"math"

	"farhop/cmd/farhop/internal/scene"
)

// Sizes.
const (
	margin    = 18.0
	textSize  = 12.0
	labelSize = 12.5
	smallSize = 10.0
)

// Colours of paper and ink.
const (
	paper   scene.Colour = 0xffffff
	ink     scene.Colour = 0x1a1a1a
	quiet   scene.Colour = 0x5a5a5a
	faint   scene.Colour = 0xb4b4b4
	hair    scene.Colour = 0xd9d9d9
	land    scene.Colour = 0xf1eee6
	coast   scene.Colour = 0xa39b8b
	chosen  scene.Colour = 0xd55e00 // vermilion of the palette below
	plainer scene.Colour = 0x555555
)

// groupColours are blue, bluish green, orange and reddish purple of the palette of
// M. Okabe and K. Ito, Color Universal Design, 2002, revised 2008
// (https://jfly.uni-koeln.de/color/), told apart with any kind of colour vision.
var groupColours = []scene.Colour{0x0072b2, 0x009e73, 0xe69f00, 0xcc79a7}

// groupColour is the colour of a group's marks; its number is always beside it.
func groupColour(group int) scene.Colour {
	if group >= 1 && group <= len(groupColours) {
		return groupColours[group-1]
	}
	return plainer
}

// on is the colour in which to write on another.
func on(c scene.Colour) scene.Colour {
	if scene.Contrast(c, paper) >= scene.Contrast(c, ink) {
		return paper
	}
	return ink
}

// cividis is the colour scale of J. R. Nuñez, C. R. Anderton and R. S. Renslow,
// Optimizing colormaps with consideration for color vision deficiency,
// PLOS ONE 13 (2018) e0199239: blue to yellow, evenly lighter, and all but the same
// to people with and without red-green deficiency. Nine steps of it, from dark to
// light, between which we interpolate.
var cividis = [9]scene.Colour{0x002051, 0x11366c, 0x3c4d6e, 0x62646f, 0x7f7c75, 0x9a9478, 0xbbaf71, 0xe2cb5c, 0xfdea45}

// shade is the colour of a decode chance from 0, light, to 1, dark.
func shade(chance float64) scene.Colour {
	x := (1 - clamp(chance, 0, 1)) * float64(len(cividis)-1)
	i := min(int(x), len(cividis)-2)
	return mix(cividis[i], cividis[i+1], x-float64(i))
}

func mix(a, b scene.Colour, t float64) scene.Colour {
	r0, g0, b0 := a.RGB()
	r1, g1, b1 := b.RGB()
	m := func(x, y uint8) scene.Colour { return scene.Colour(math.Round(float64(x) + t*(float64(y)-float64(x)))) }
	return m(r0, r1)<<16 | m(g0, g1)<<8 | m(b0, b1)
}

func clamp(x, low, high float64) float64 { return math.Max(low, math.Min(high, x)) }

// linkStyle is how links of a drawing look.
type linkStyle struct {
	low  float64 // chance drawn thinnest
	thin float64 // factor on all widths, below 1 where there are very many
}

func newLinkStyle(threshold float64, links int) linkStyle {
	return linkStyle{low: math.Min(threshold, 0.9), thin: clamp(math.Sqrt(120/float64(max(links, 1))), 0.4, 1)}
}

// rank is 0 at the lowest chance drawn and 1 at certainty.
func (l linkStyle) rank(decode float64) float64 { return clamp((decode-l.low)/(1-l.low), 0, 1) }

func (l linkStyle) width(decode float64) float64 {
	r := l.rank(decode)
	return l.thin * (1 + 2.7*r*r)
}

// colour keeps to the darker half of the scale, to be seen on paper.
func (l linkStyle) colour(decode float64) scene.Colour { return shade(0.45 + 0.55*l.rank(decode)) }

// Dashes of links that are stale, and of links that are inferred or guessed.
var (
	staleDash = []float64{9, 5}
	dotDash   = []float64{2, 3.5}
)
