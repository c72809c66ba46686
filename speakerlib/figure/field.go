package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Field is a quantity over two axes, such as a level over frequency and angle.
type Field struct {
	X, Y []float64   // places in SI units (X in Hz in a figure over frequency), ascending
	Z    [][]float64 // a row for every Y; −∞ is allowed, NaN is not
	Unit string      // of Z and of the steps, as it is shown
}

// layer is a field in a panel.
type layer struct {
	sheet sheet
	steps []float64
	inks  []rgba // one more than steps
}

// Shades draws a field over frequency, in steps: what lies between two steps has one
// shade, the darker the higher. The steps are ascending, at most six, in the unit of
// the field. Between the rows and columns of the field it is drawn straight; the
// caption says how many rows there are. Lines are drawn over it.
//
// Of the options, those of the vertical axis are for curves and must be empty.
func Shades(o Options, y Axis, f Field, steps []float64, lines ...Series) *Figure {
	b, err := newBuilder(o, 1)
	if err != nil {
		return failed(err)
	}
	if p := y.per(); !(p > 0) || math.IsInf(p, 0) {
		return failed(fmt.Errorf("figure: one shown unit of %q is %g in SI, want a finite value > 0", y.Name, p))
	}
	f = f.between(b.o.From, b.o.To)
	if err := f.check(steps); err != nil {
		return failed(err)
	}
	lo, hi := f.Y[0]/y.per(), f.Y[len(f.Y)-1]/y.per()
	if err := drawable(lo, hi); err != nil {
		return failed(err)
	}
	out := panel{title: y.title(), height: fieldHeight}
	step := niceStep
	if y.Unit == "°" {
		step = degreeStep
	}
	out.y = linearScale(lo, hi, step((hi-lo)/float64(labelsOn(out.height))))
	out.layer = f.layer(b.f.x, out.y, y.per(), steps)
	b.f.shades = f.entries(steps, out.layer.inks)
	words := []string{f.words(y)}
	for _, s := range lines {
		n, word, err := b.over(s, y.per(), out.y)
		if err != nil {
			return failed(err)
		}
		out.lines = append(out.lines, n)
		words = append(words, s.Label+" "+word)
	}
	b.f.panels = append(b.f.panels, out)
	b.words = append(b.words, out.title+": "+strings.Join(words, "; "))
	note := fmt.Sprintf("Known at %d places of the vertical axis, straight between them.", len(f.Y))
	if b.o.Note != "" {
		note = b.o.Note + " " + note
	}
	b.o.Note = note
	return b.finish()
}

// fieldHeight is that of a plot of a field.
const fieldHeight vg.Length = 230

// over is a line on a field.
func (b *builder) over(s Series, per float64, y scale) (line, string, error) {
	if err := s.check(); err != nil {
		return line{}, "", err
	}
	if _, err := b.penOf(s.Label); err != nil {
		return line{}, "", err
	}
	// The shades are those of the first pen: lines begin with the second.
	all := pens()
	i := slices.Index(b.labels, s.Label) + 1
	if i == len(all) {
		return line{}, "", fmt.Errorf("figure: more than %d lines over a field, which nobody tells apart", len(all)-1)
	}
	n := line{label: s.Label, pen: all[i], dots: s.Points, bare: s.Points, x: s.X}
	reach := newReach(false)
	for _, v := range s.Y {
		n.y = append(n.y, v/per)
	}
	word, ok := reach.add(n.x, n.y, b.o.From, b.o.To)
	if !ok {
		return line{}, "", fmt.Errorf("figure: line %q has nothing to draw", s.Label)
	}
	return n, word, nil
}

// between is the field within a range of X: columns beyond are left out.
func (f Field) between(lo, hi float64) Field {
	i, j := 0, len(f.X)
	for i < j && f.X[i] < lo*(1-1e-9) {
		i++
	}
	for j > i && f.X[j-1] > hi*(1+1e-9) {
		j--
	}
	if i == 0 && j == len(f.X) {
		return f
	}
	out := Field{X: f.X[i:j], Y: f.Y, Unit: f.Unit}
	for _, row := range f.Z {
		if len(row) == len(f.X) {
			row = row[i:j]
		}
		out.Z = append(out.Z, row)
	}
	return out
}

// mostSteps is how many steps can be told apart by shade.
const mostSteps = 6

func (f Field) check(steps []float64) error {
	if len(f.X) < 2 || len(f.Y) < 2 || len(f.Z) != len(f.Y) {
		return fmt.Errorf("figure: field of %d × %d places and %d rows, want at least 2 × 2 within the axis and a row for every place", len(f.X), len(f.Y), len(f.Z))
	}
	for _, axis := range [][]float64{f.X, f.Y} {
		for i, v := range axis {
			if math.IsNaN(v) || math.IsInf(v, 0) || i > 0 && !(v > axis[i-1]) {
				return fmt.Errorf("figure: place %d of a field is %g, want finite ones in ascending order", i+1, v)
			}
		}
	}
	for j, row := range f.Z {
		if len(row) != len(f.X) {
			return fmt.Errorf("figure: row %d of a field has %d values, want %d", j+1, len(row), len(f.X))
		}
		for i, v := range row {
			if math.IsNaN(v) || math.IsInf(v, 1) {
				return fmt.Errorf("figure: value (%d, %d) of a field is %g, want a number", i+1, j+1, v)
			}
		}
	}
	if len(steps) == 0 || len(steps) > mostSteps {
		return fmt.Errorf("figure: %d steps of a field, want 1 to %d", len(steps), mostSteps)
	}
	for i, v := range steps {
		if math.IsNaN(v) || math.IsInf(v, 0) || i > 0 && !(v > steps[i-1]) {
			return fmt.Errorf("figure: step %d of a field is %g, want finite ones in ascending order", i+1, v)
		}
	}
	return nil
}

// layer is the field on the axes of a plot.
func (f Field) layer(x, y scale, per float64, steps []float64) *layer {
	s := sheet{}
	for _, v := range f.X {
		s.x = append(s.x, clamp(x.pos(v)))
	}
	for _, v := range f.Y {
		s.y = append(s.y, clamp(y.pos(v/per)))
	}
	floor := steps[0] - 1e3*(1+math.Abs(steps[0]))
	for _, row := range f.Z {
		r := slices.Clone(row)
		for i := range r {
			r[i] = max(r[i], floor)
		}
		s.z = append(s.z, r)
	}
	l := &layer{sheet: s, steps: steps}
	for k := range len(steps) + 1 {
		l.inks = append(l.inks, shadeOf(float64(k)/float64(len(steps))))
	}
	return l
}

// shadeOf is the shade of a share of the range: from near white to the first pen.
func shadeOf(share float64) rgba {
	const light, dark rgba = 0xf3f4fa, 0x1426a8
	var c rgba
	for _, shift := range []int{16, 8, 0} {
		a, b := float64(light>>shift&0xff), float64(dark>>shift&0xff)
		c = c<<8 | rgba(math.Round(a+(b-a)*share))
	}
	return c<<8 | 0xff
}

// entries are the legend of the shades.
func (f Field) entries(steps []float64, inks []rgba) (all []entry) {
	unit := f.Unit
	if unit != "" {
		unit = " " + unit
	}
	for k := len(steps); k >= 0; k-- {
		name := ""
		switch {
		case k == len(steps):
			name = "from " + number(steps[k-1]) + unit
		case k == 0:
			name = "below " + number(steps[0]) + unit
		default:
			name = number(steps[k-1]) + " to " + number(steps[k]) + unit
		}
		all = append(all, entry{label: name, swatch: inks[k]})
	}
	return all
}

// words say where the field is highest and lowest.
func (f Field) words(y Axis) string {
	hi, lo := [2]int{}, [2]int{}
	for j, row := range f.Z {
		for i, v := range row {
			if v > f.Z[hi[1]][hi[0]] {
				hi = [2]int{i, j}
			}
			if v < f.Z[lo[1]][lo[0]] {
				lo = [2]int{i, j}
			}
		}
	}
	at := func(p [2]int) string {
		return fmt.Sprintf("%s %s at %s and %s %s", number(f.Z[p[1]][p[0]]), f.Unit, number(f.X[p[0]]), number(f.Y[p[1]]/y.per()), y.Unit)
	}
	return "highest " + at(hi) + ", lowest " + at(lo)
}

// drawLayer fills a field from the lowest step up. Where the axes go on beyond the field nothing
// is known, and nothing is drawn: the lowest shade would say that it is low.
func (f *Figure) drawLayer(e *easel, l *layer, top, height vg.Length) {
	bottom := top + height
	x, y := l.sheet.x, l.sheet.y
	e.rectangle(l.inks[0], leftMargin+plotWidth*vg.Length(x[0]), bottom-height*vg.Length(y[len(y)-1]),
		leftMargin+plotWidth*vg.Length(x[len(x)-1]), bottom-height*vg.Length(y[0]))
	for k, step := range l.steps {
		var path vg.Path
		for _, ring := range l.sheet.above(step) {
			ring = simplified(ring, plotWidth, height)
			for i, p := range ring {
				at := vg.Point{X: leftMargin + plotWidth*vg.Length(p.x), Y: e.height - bottom + height*vg.Length(p.y)}
				if i == 0 {
					path.Move(at)
				} else {
					path.Line(at)
				}
			}
			path.Close()
		}
		if len(path) > 0 {
			e.SetColor(l.inks[k+1])
			e.Fill(path)
		}
	}
}
