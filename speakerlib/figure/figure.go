package figure

import (
	"bytes"
	"fmt"
	"html"
	"image/png"
	"math"
	"slices"
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
	shades              []entry // of a field, in the legend after the curves
	legend              []entry
	strip               []flag // names of bands, marks and segments, above the plot
	body                body   // instead of panels, if there is one
	err                 error
}

// body is a plot with axes of its own, where panels over one horizontal axis would
// not do.
type body interface {
	height() vg.Length
	draw(e *easel, top vg.Length)
}

// panel is one plot; all panels of a figure have the horizontal axis in common.
type panel struct {
	title  string
	legend []entry // what is in this panel only
	y      scale
	height vg.Length
	layer  *layer // nil: no field behind the lines
	lines  []line
	fences []fence
}

// line is a curve or a part of it, in shown units. Points that are not finite
// interrupt it.
type line struct {
	label string
	x, y  []float64
	pen   pen
	pale  bool // where the curve is not valid
	dots  bool
	bare  bool // points only
}

// fence is a limit: a line with the forbidden side shaded, to the edge of the
// plot if it is part of a mask.
type fence struct {
	label string
	x, y  []float64
	side  Side
	far   bool
}

// entry is a line of the legend.
type entry struct {
	label  string
	pen    pen
	bare   bool // points only
	swatch rgba // of a field; 0: not one
	fence  bool
	above  bool // shaded above its line
	below  bool
}

// flag is a name above the plot, for the range from … to, or a place if both
// are the same.
type flag struct {
	from, to float64
	label    string
	pen      *pen // of a segment; nil for a band or mark
}

// segments tells the ones of a ceiling from bands and marks.
func (g flag) segment() bool { return g.pen != nil }

// name makes the legends: one for the figure, and in a figure of several panels
// one beside the title of each panel for what is in that panel only.
func (f *Figure) name() error {
	in := map[string]int{} // panels that a curve is in
	for _, p := range f.panels {
		var seen []string
		for _, n := range p.lines {
			if !slices.Contains(seen, n.label) {
				seen = append(seen, n.label)
				in[n.label]++
			}
		}
	}
	var curves, fences []entry
	for i := range f.panels {
		p := &f.panels[i]
		own := func(e entry, shared bool, all *[]entry) {
			if len(f.panels) > 1 && !shared {
				all = &p.legend
			}
			if !slices.ContainsFunc(*all, func(o entry) bool { return o.label == e.label && o.fence == e.fence }) {
				*all = append(*all, e)
			}
		}
		for _, n := range p.lines {
			if !n.pale || !slices.ContainsFunc(p.lines, func(o line) bool { return o.label == n.label && !o.pale }) {
				own(entry{label: n.label, pen: n.pen, bare: n.bare}, in[n.label] > 1, &curves)
			}
		}
		for _, n := range p.fences {
			own(entry{label: n.label, fence: true}, false, &fences)
			all := &fences
			if len(f.panels) > 1 {
				all = &p.legend
			}
			at := slices.IndexFunc(*all, func(o entry) bool { return o.label == n.label && o.fence })
			(*all)[at].above = (*all)[at].above || n.side == AtMost
			(*all)[at].below = (*all)[at].below || n.side == AtLeast
		}
	}
	f.legend = slices.Concat(curves, fences, f.shades)
	fonts := newFaces()
	if err := short(f.legend, fonts); err != nil {
		return err
	}
	for _, p := range f.panels {
		w := fonts.width(p.title, textSize, false)
		for _, e := range p.legend {
			w += legendGap + e.width(fonts)
		}
		if w > plotWidth+rightMargin-edge {
			return fmt.Errorf("figure: the title %q and the names of its curves and limits are %.0f points long, want at most %.0f", p.title, w, plotWidth+rightMargin-edge)
		}
	}
	return nil
}

// short reports a name that is longer than the page is wide.
func short(legend []entry, fonts faces) error {
	for _, e := range legend {
		if w := fonts.width(e.label, textSize, false); w > plotWidth-legendSample {
			return fmt.Errorf("figure: name %q is %.0f points long, want at most %.0f", e.label, w, plotWidth-legendSample)
		}
	}
	return nil
}

// fits reports what is written above or below a plot and is wider than the page.
func fits(title string, fonts faces) error {
	if w := fonts.width(title, textSize, false); w > plotWidth+rightMargin-edge {
		return fmt.Errorf("figure: %q is %.0f points long, want at most %.0f", title, w, plotWidth+rightMargin-edge)
	}
	return nil
}

// limits says the names of all limits.
func (f *Figure) limits() []string {
	var names []string
	for _, p := range f.panels {
		for _, n := range p.fences {
			if s := "Limit: " + n.label; !slices.Contains(names, s) {
				names = append(names, s)
			}
		}
	}
	return names
}

// sample is the length of the sample of an entry.
func (e entry) sample() vg.Length {
	if e.swatch != 0 {
		return swatchSample
	}
	return legendSample
}

// width of the entry with its sample.
func (e entry) width(fonts faces) vg.Length {
	return e.sample() + 4 + fonts.width(e.label, textSize, false)
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
