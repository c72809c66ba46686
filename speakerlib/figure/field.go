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
	Z    [][]float64 // a row for every Y; −∞ is allowed, NaN in a [Plane] only, where it is not known
	Unit string      // of Z and of the steps, as it is shown
	// TwoSided is for differences: what is near zero is grey, what is below blue and what
	// is above brown, the darker the farther. The steps are then in pairs, such as
	// −3, −1, 1, 3, and their magnitudes have the same darkness on both sides.
	TwoSided bool
	// Filled tells which rows were not known but filled in, interpolated or mirrored: they
	// are marked beside the plot. Nil: none; not for a [Plane].
	Filled []bool
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
	if err := f.check(steps, false); err != nil {
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
	out.layer = f.layer(b.f.x, out.y, 1, y.per(), steps, 0)
	b.f.shades = f.entries(steps, out.layer.inks)
	words := []string{f.words(y)}
	for _, s := range lines {
		n, word, err := b.over(s, y.per(), f.TwoSided)
		if err != nil {
			return failed(err)
		}
		out.lines = append(out.lines, n)
		words = append(words, s.Label+" "+word)
	}
	b.f.panels = append(b.f.panels, out)
	b.words = append(b.words, out.title+": "+strings.Join(words, "; "))
	note := fmt.Sprintf("Known at %d places of the vertical axis, straight between them.", len(f.Y))
	if slices.Contains(f.Filled, true) {
		note += " Bars beside the plot: filled in, not known there."
	}
	if b.o.Note != "" {
		note = b.o.Note + " " + note
	}
	b.o.Note = note
	return b.finish()
}

// fieldHeight is that of a plot of a field.
const fieldHeight vg.Length = 230

// over is a line on a field.
func (b *builder) over(s Series, per float64, twoSided bool) (line, string, error) {
	if err := s.check(); err != nil {
		return line{}, "", err
	}
	if _, err := b.penOf(s.Label); err != nil {
		return line{}, "", err
	}
	// The shades are those of the first pen, and on two sides also near the second: lines
	// begin after them.
	all := pens()[1:]
	if twoSided {
		all = all[1:]
	}
	i := slices.Index(b.labels, s.Label)
	if i >= len(all) {
		return line{}, "", fmt.Errorf("figure: more than %d lines over a field, which nobody tells apart", len(all))
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
	out := f
	out.X, out.Z = f.X[i:j], nil
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

// check reports a field or steps that cannot be drawn. Only with holes may a value be NaN.
func (f Field) check(steps []float64, holes bool) error {
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
			if math.IsNaN(v) && !holes || math.IsInf(v, 1) {
				return fmt.Errorf("figure: value (%d, %d) of a field is %g, want a number", i+1, j+1, v)
			}
		}
	}
	if f.Filled != nil && (holes || len(f.Filled) != len(f.Y)) {
		return fmt.Errorf("figure: %d marks of rows of a field that were filled in, want none for a plane and else %d", len(f.Filled), len(f.Y))
	}
	if len(steps) == 0 || len(steps) > mostSteps {
		return fmt.Errorf("figure: %d steps of a field, want 1 to %d", len(steps), mostSteps)
	}
	for i, v := range steps {
		if math.IsNaN(v) || math.IsInf(v, 0) || i > 0 && !(v > steps[i-1]) {
			return fmt.Errorf("figure: step %d of a field is %g, want finite ones in ascending order", i+1, v)
		}
	}
	for i, v := range steps {
		if other := steps[len(steps)-1-i]; f.TwoSided && (v == 0 || v != -other) {
			return fmt.Errorf("figure: steps %g and %g of a two-sided field, want pairs about zero such as −1 and 1", v, other)
		}
	}
	return nil
}

// words say where the field is highest and lowest.
func (f Field) words(y Axis) string {
	hi, lo := extremes(f.Z...)
	at := func(p [2]int) string {
		return fmt.Sprintf("%s %s at %s and %s %s", number(f.Z[p[1]][p[0]]), f.Unit, number(f.X[p[0]]), number(f.Y[p[1]]/y.per()), y.Unit)
	}
	return "highest " + at(hi) + ", lowest " + at(lo)
}
