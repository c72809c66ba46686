package figure

import (
	"image/color"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"
)

// Widths and margins, in points. Every figure has the same width, so that they
// stand under one another with their axes aligned.
const (
	plotWidth   vg.Length = 480
	leftMargin  vg.Length = 46
	rightMargin vg.Length = 20
	edge        vg.Length = 8
	pageWidth             = leftMargin + plotWidth + rightMargin
)

// Sizes of text, in points, and the distance between lines. A page of A4 with
// margins of 17 mm shows a figure at 0.91 of its size: 9 points become 8.2.
const (
	titleSize   vg.Length = 12
	textSize    vg.Length = 9
	captionSize vg.Length = 9
	lead                  = 1.3
)

// rgba is a colour, 8 bits each of red, green, blue and opacity.
type rgba uint32

const (
	ink     rgba = 0x222222ff
	faint   rgba = 0x5a5a5aff
	rule    rgba = 0xc4c4c4ff
	hair    rgba = 0xe6e6e6ff
	crimson rgba = 0xa3003fff
	shade   rgba = 0xa3003f22
	band    rgba = 0x5a5a5a14 // a named range
	white   rgba = 0xffffffff
	veil    rgba = 0xffffffd0
)

func (c rgba) straight() color.NRGBA {
	return color.NRGBA{uint8(c >> 24), uint8(c >> 16), uint8(c >> 8), uint8(c)}
}

// RGBA implements [color.Color].
func (c rgba) RGBA() (r, g, b, a uint32) { return c.straight().RGBA() }

// pen is how a curve is drawn.
type pen struct {
	colour rgba
	dashes []vg.Length
	width  vg.Length
}

// pens are told apart by colour and by dash pattern. The colours were found by
// a search for the set whose members are farthest apart, in CIE L*a*b*, for
// normal sight and for full protanopia, deuteranopia and tritanopia, each with a
// contrast to white of at least 3 : 1; a test keeps that.
func pens() []pen {
	return []pen{
		{0x1426a8ff, nil, 1.9},
		{0xd84800ff, []vg.Length{8, 2.5}, 1.7},
		{0x008c74ff, []vg.Length{3.5, 2}, 1.7},
		{0xb877d8ff, []vg.Length{10, 2.5, 2, 2.5}, 1.7},
		{0x660000ff, []vg.Length{1.6, 1.8}, 1.7},
		{0x35003fff, []vg.Length{6, 2, 1.6, 2, 1.6, 2}, 1.7},
	}
}

// pale is the pen for what is drawn but does not count.
func (p pen) pale() pen {
	mix := func(shift int) rgba { return (p.colour>>shift&0xff + 0xff) / 2 << shift }
	p.colour = mix(24) | mix(16) | mix(8) | 0xff
	p.dashes, p.width = []vg.Length{1.5, 2}, 1.5
	return p
}

// seam is by how much the white under a line over shades is wider than the line.
const seam vg.Length = 1.6

// faces looks the fonts up. Liberation Sans has the widths of Arial and
// Helvetica, which the font stack of the SVG names for machines without it.
type faces struct{ cache *font.Cache }

func newFaces() faces { return faces{font.NewCache(liberation.Collection())} }

func (f faces) face(size vg.Length, bold bool) font.Face {
	want := font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	if bold {
		want.Weight = stdfont.WeightBold
	}
	return f.cache.Lookup(want, size)
}

func (f faces) width(s string, size vg.Length, bold bool) vg.Length {
	face := f.face(size, bold)
	return face.Width(s)
}
