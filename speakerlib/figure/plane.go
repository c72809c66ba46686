package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Outline is a closed line over a [Plane]: a baffle, the edge of a driver. Coordinates
// are in metres.
type Outline struct {
	Label string // beside the plot; empty: none
	X, Y  []float64
}

// Circle is an outline about (x, y).
func Circle(label string, x, y, radius float64) Outline {
	const corners = 72
	o := Outline{Label: label}
	for k := range corners {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / corners)
		o.X, o.Y = append(o.X, x+radius*cos), append(o.Y, y+radius*sin)
	}
	return o
}

// Pin is a point with a name over a [Plane], in metres.
type Pin struct {
	Label string
	X, Y  float64
}

// PlaneOptions are the settings of a [Plane] figure.
type PlaneOptions struct {
	Title    string
	Note     string // added to the caption
	X, Y     string // what the axes are, without unit; empty: "To the right" and "Up"
	Outlines []Outline
	Pins     []Pin
}

// Plane draws a field over two places in metres, X to the right and Y upward, in steps as
// [Shades] does, at the same scale in both directions. Axes are in millimetres. Where the
// field is NaN nothing is known or allowed: it stays white, and so does a cell that has
// two such corners; of a cell that has one the other half is drawn.
func Plane(o PlaneOptions, f Field, steps []float64) *Figure {
	if err := f.check(steps, true); err != nil {
		return failed(err)
	}
	p := &plane{xTitle: "To the right (mm)", yTitle: "Up (mm)"}
	if o.X != "" {
		p.xTitle = o.X + " (mm)"
	}
	if o.Y != "" {
		p.yTitle = o.Y + " (mm)"
	}
	for _, title := range []string{p.xTitle, p.yTitle} {
		if err := fits(title, newFaces()); err != nil {
			return failed(err)
		}
	}
	x, y := newReach(false), newReach(false)
	x.include(f.X)
	y.include(f.Y)
	for i, l := range o.Outlines {
		if len(l.X) < 3 || len(l.X) != len(l.Y) {
			return failed(fmt.Errorf("figure: outline %d (%q) has %d and %d coordinates, want as many of both and at least 3", i+1, l.Label, len(l.X), len(l.Y)))
		}
		x.include(l.X)
		y.include(l.Y)
		if err := finite(l.Label, l.X, l.Y); err != nil {
			return failed(err)
		}
	}
	for i, n := range o.Pins {
		if n.Label == "" {
			return failed(fmt.Errorf("figure: point %d of a plane has no name", i+1))
		}
		if err := finite(n.Label, []float64{n.X}, []float64{n.Y}); err != nil {
			return failed(err)
		}
		x.include([]float64{n.X})
		y.include([]float64{n.Y})
	}
	if err := p.fit(x, y, o); err != nil {
		return failed(err)
	}
	if own, all := span(f.X, f.Y), max(x.hi-x.lo, y.hi-y.lo); own < leastOfPlane*all {
		return failed(fmt.Errorf("figure: a field of %.4g m with outlines or points over %.4g m, want all in metres and near one another", own, all))
	}
	p.layer = f.layer(p.x, p.y, millimetre, millimetre, steps, planeLowest)
	if p.layer.known != nil && len(p.layer.outlines()) == 0 {
		return failed(fmt.Errorf("figure: a field of %d × %d places of which no cell is known, want one with three known corners", len(f.X), len(f.Y)))
	}
	out := &Figure{title: o.Title, body: p, legend: f.entries(steps, p.layer.inks)}
	if err := short(out.legend, newFaces()); err != nil {
		return failed(err)
	}
	parts := []string{fmt.Sprintf("Known at %d × %d places, straight between them. Same scale in both directions", len(f.X), len(f.Y))}
	if p.layer.known != nil {
		parts = append(parts, "White within: not allowed or not known")
	}
	if o.Note != "" {
		parts = append([]string{strings.TrimSuffix(o.Note, ".")}, parts...)
	}
	out.caption = strings.Join(parts, ". ") + "."
	out.alt = p.describe(o, f, out.caption)
	return out
}

const millimetre = 1e-3

// planeLowest keeps the lowest shade of a plane apart from white, which is not known.
const planeLowest = 0.14

// leastOfPlane is how much of the longer side of a plane the field must have.
const leastOfPlane = 0.02

// span returns the longer side of a field.
func span(x, y []float64) float64 { return max(x[len(x)-1]-x[0], y[len(y)-1]-y[0]) }

func finite(name string, x, y []float64) error {
	for i := range x {
		if math.IsNaN(x[i]+y[i]) || math.IsInf(x[i], 0) || math.IsInf(y[i], 0) {
			return fmt.Errorf("figure: %q is at (%g, %g) m, want a place", name, x[i], y[i])
		}
	}
	return nil
}

// plane is the plot of a field over two places.
type plane struct {
	x, y           scale // mm
	xTitle, yTitle string
	width, tall    vg.Length
	layer          *layer
	outlines       [][]place
	pins           []place
	names          []tag
}

// Sizes of a plane, in points.
const (
	tallestPlane vg.Length = 330
	planeMargin            = 0.03 // kept free around everything, of the longer side
	tagGap       vg.Length = 18   // from the plot to the names beside it
	tagLead      vg.Length = 12.5 // from name to name
)

// fit makes the axes and places outlines, points and names on them.
func (p *plane) fit(x, y *reach, o PlaneOptions) error {
	for _, r := range []*reach{x, y} {
		if err := drawable(r.lo/millimetre, r.hi/millimetre); err != nil {
			return err
		}
	}
	room := planeMargin * max(x.hi-x.lo, y.hi-y.lo)
	wide, high := (x.hi-x.lo+2*room)/millimetre, (y.hi-y.lo+2*room)/millimetre
	fonts := newFaces()
	column := vg.Length(0)
	count := 0
	for _, name := range labelsOf(o) {
		count++
		column = max(column, tagGap+fonts.width(name, textSize, false)-(rightMargin-edge))
	}
	if column > plotWidth/2 {
		return fmt.Errorf("figure: the names beside a plane need %.0f points, want at most %.0f: shorten them", column, plotWidth/2)
	}
	perMM := min(float64(plotWidth-column)/wide, float64(tallestPlane)/high)
	p.width, p.tall = vg.Length(wide*perMM), vg.Length(high*perMM)
	if most := int(p.tall/tagLead) + 1; count > most {
		return fmt.Errorf("figure: %d names beside a plane, want at most %d: there is no room", count, most)
	}
	x0, y0 := (x.lo-room)/millimetre, (y.lo-room)/millimetre
	p.x = linearScale(x0, x0+wide, niceStep(34/perMM))
	p.y = linearScale(y0, y0+high, niceStep(22/perMM))
	on := func(x, y float64) place { return place{p.x.pos(x / millimetre), p.y.pos(y / millimetre)} }
	for _, l := range o.Outlines {
		var ring []place
		corner := 0
		for i := range l.X {
			ring = append(ring, on(l.X[i], l.Y[i]))
			if l.X[i]+l.Y[i]/2 > l.X[corner]+l.Y[corner]/2 {
				corner = i
			}
		}
		p.outlines = append(p.outlines, ring)
		if l.Label != "" {
			p.names = append(p.names, tag{label: l.Label, from: ring[corner]})
		}
	}
	for _, n := range o.Pins {
		at := on(n.X, n.Y)
		p.pins = append(p.pins, at)
		p.names = append(p.names, tag{label: n.Label, from: at})
	}
	placeTags(p.names, p.width, p.tall)
	return nil
}

// labelsOf are the names that stand beside a plane.
func labelsOf(o PlaneOptions) (all []string) {
	for _, l := range o.Outlines {
		if l.Label != "" {
			all = append(all, l.Label)
		}
	}
	for _, n := range o.Pins {
		all = append(all, n.Label)
	}
	return all
}

// describe puts the plane into words.
func (p *plane) describe(o PlaneOptions, f Field, caption string) string {
	var parts []string
	if o.Title != "" {
		parts = append(parts, o.Title)
	}
	mm := func(v float64) string { return rough(v/millimetre, 10) } // to 0.1 mm
	parts = append(parts, fmt.Sprintf("Map over %s from %s to %s and %s from %s to %s", p.xTitle, mm(f.X[0]), mm(f.X[len(f.X)-1]), p.yTitle, mm(f.Y[0]), mm(f.Y[len(f.Y)-1])))
	hi, lo := extremes(f.Z...)
	at := func(k [2]int) string {
		v := f.Z[k[1]][k[0]]
		return strings.TrimSpace(rough(v, math.Abs(v))+" "+f.Unit) + fmt.Sprintf(" at (%s, %s) mm", mm(f.X[k[0]]), mm(f.Y[k[1]]))
	}
	parts = append(parts, "Highest "+at(hi)+", lowest "+at(lo))
	for _, l := range o.Outlines {
		if l.Label != "" {
			parts = append(parts, "Outline: "+l.Label)
		}
	}
	for _, n := range o.Pins {
		parts = append(parts, fmt.Sprintf("%s at (%s, %s) mm", n.Label, mm(n.X), mm(n.Y)))
	}
	return strings.Join(parts, ". ") + ". " + caption
}
