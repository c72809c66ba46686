package figure

import (
	"bytes"
	"fmt"
	"html"
	"image/png"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Figure is a drawing that is made when it is asked for as SVG or PNG.
type Figure struct {
	title, caption, alt string
	x                   scale
	xTitle              string
	panels              []panel
	legend              []entry
	strip               []flag // names of bands, marks and segments, above the plot
	err                 error
}

// panel is one plot; all panels of a figure have the horizontal axis in common.
type panel struct {
	title  string
	y      scale
	height vg.Length
	lines  []line
	fences []fence
}

// line is a curve or a part of it, in shown units. Points that are not finite
// interrupt it.
type line struct {
	x, y []float64
	pen  pen
	dots bool
}

// fence is a limit: a line with the forbidden side shaded, to the edge of the
// plot if it is part of a mask.
type fence struct {
	x, y []float64
	side Side
	far  bool
}

// entry is a line of the legend.
type entry struct {
	label string
	pen   pen
	fence bool
	side  Side
}

// flag is a name above the plot, for the range from … to, or a place if both
// are the same.
type flag struct {
	from, to float64
	label    string
	pen      *pen // of a segment; nil for a band or mark
}

func failed(err error) *Figure { return &Figure{err: err} }

// Err returns what is wrong with the figure, or nil.
func (f *Figure) Err() error { return f.err }

// Alt says in words what is to be seen, for those who do not see it.
func (f *Figure) Alt() string { return f.alt }

// Caption returns the text under the plot.
func (f *Figure) Caption() string { return f.caption }

// Title returns the title.
func (f *Figure) Title() string { return f.title }

// Size returns the size in CSS pixels (of 1/96 inch).
func (f *Figure) Size() (width, height int) {
	px := func(l vg.Length) int { return int(math.Round(float64(l) * 96 / 72)) }
	return px(pageWidth), px(f.layout(newFaces()).height)
}

// fontStack names fonts of the same widths, so that text lands where it was
// measured on any machine.
const fontStack = "font-family:'Liberation Sans',Arimo,Arial,Helvetica,sans-serif;"

// SVG returns the figure as SVG, self-contained, with a title and a description.
func (f *Figure) SVG() ([]byte, error) {
	if f.err != nil {
		return nil, f.err
	}
	fonts := newFaces()
	l := f.layout(fonts)
	c := vgsvg.NewWith(vgsvg.UseWH(pageWidth, l.height))
	f.draw(draw.New(c), l, fonts)
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	s := b.String()
	open := strings.Index(s, "<svg ")
	end := open + strings.Index(s[open:], ">") + 1
	if open < 0 || end <= open {
		return nil, fmt.Errorf("figure: the SVG writer wrote no svg element")
	}
	head := strings.TrimSuffix(s[open:end], ">") + ` role="img" style="max-width:100%;height:auto">` + "\n" +
		"<title>" + html.EscapeString(f.title) + "</title>\n<desc>" + html.EscapeString(f.alt) + "</desc>"
	body := strings.ReplaceAll(s[end:], "font-family:Liberation Sans;", fontStack)
	return []byte(head + body), nil
}

// resolution of the PNG, in points per inch: one and a half of a CSS pixel.
const resolution = 144

// PNG returns the figure as PNG.
func (f *Figure) PNG() ([]byte, error) {
	if f.err != nil {
		return nil, f.err
	}
	fonts := newFaces()
	l := f.layout(fonts)
	c := vgimg.NewWith(vgimg.UseWH(pageWidth, l.height), vgimg.UseDPI(resolution), vgimg.UseBackgroundColor(white))
	f.draw(draw.New(c), l, fonts)
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	if err := encoder.Encode(&b, c.Image()); err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	return b.Bytes(), nil
}
