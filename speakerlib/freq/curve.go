package freq

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/level"
)

// Curve is a real quantity over frequency, with a label and a unit: a level in
// dB, a phase in rad, a group delay in s. It is immutable.
type Curve struct {
	grid   *Grid
	values []float64
	label  string
	unit   string
	basis  Basis
}

// NewCurve returns the curve with a copy of the values, which must not be NaN
// and must be as many as the grid has frequencies. Infinities are allowed: a
// limit that never binds is infinite, and the level of silence is −Inf dB.
func NewCurve(g *Grid, values []float64, label, unit string, b Basis) (Curve, error) {
	if g == nil {
		return Curve{}, fmt.Errorf("freq: curve %q has no grid", label)
	}
	if len(values) != g.Len() {
		return Curve{}, fmt.Errorf("freq: curve %q has %d values, want %d as the grid (%v)", label, len(values), g.Len(), g)
	}
	for i, v := range values {
		if math.IsNaN(v) {
			return Curve{}, fmt.Errorf("freq: curve %q is NaN at %g Hz", label, g.At(i))
		}
	}
	return Curve{grid: g, values: slices.Clone(values), label: label, unit: unit, basis: b}, nil
}

// Grid returns the grid.
func (c Curve) Grid() *Grid { return c.grid }

// Len returns the number of points.
func (c Curve) Len() int { return len(c.values) }

// At returns the value at point i.
func (c Curve) At(i int) float64 { return c.values[i] }

// Values returns a copy of the values.
func (c Curve) Values() []float64 { return slices.Clone(c.values) }

// Label returns the label.
func (c Curve) Label() string { return c.label }

// Unit returns the unit.
func (c Curve) Unit() string { return c.unit }

// Basis returns the basis of the response that the curve was made of.
func (c Curve) Basis() Basis { return c.basis }

// Stated returns the same curve with another basis: for the one who knows what it
// has become outside this package.
func (c Curve) Stated(b Basis) Curve { c.basis = b; return c }

// As returns the same curve with another label.
func (c Curve) As(label string) Curve { c.label = label; return c }

// Plus returns the curve with k added to every value: a level moved by k dB. It
// panics if that gives NaN somewhere.
func (c Curve) Plus(k float64) Curve {
	v := make([]float64, len(c.values))
	for i := range v {
		if v[i] = c.values[i] + k; math.IsNaN(v[i]) {
			panic("freq: a curve plus a value is NaN")
		}
	}
	c.values = v
	return c
}

// Times returns the curve with every value multiplied by k, in another unit. It
// panics if that gives NaN somewhere.
func (c Curve) Times(k float64, unit string) Curve {
	v := make([]float64, len(c.values))
	for i := range v {
		if v[i] = c.values[i] * k; math.IsNaN(v[i]) {
			panic("freq: a curve times a value is NaN")
		}
	}
	c.values, c.unit = v, unit
	return c
}

// DB returns the levels of a curve of magnitudes re ref in decibels; ref is in the
// unit of the curve and positive. Zero gives −Inf.
func (c Curve) DB(ref float64) Curve {
	if !(ref > 0) {
		panic("freq: reference of a level is not positive")
	}
	v := make([]float64, len(c.values))
	for i := range v {
		v[i] = level.DB(math.Abs(c.values[i]) / ref)
	}
	c.values, c.unit = v, "dB"
	return c
}

// Minus returns c − d on their common grid and unit.
func (c Curve) Minus(d Curve) (Curve, error) {
	if !c.grid.Equal(d.grid) {
		return Curve{}, mismatch(fmt.Sprintf("difference of %q and %q", c.label, d.label), c.grid, d.grid)
	}
	if c.unit != d.unit {
		return Curve{}, fmt.Errorf("freq: difference of %q in %s and %q in %s: want the same unit", c.label, c.unit, d.label, d.unit)
	}
	v := make([]float64, len(c.values))
	for i := range v {
		v[i] = c.values[i] - d.values[i]
	}
	return NewCurve(c.grid, v, c.label, c.unit, c.basis)
}

// Point is a point of a curve.
type Point struct{ Hz, Value float64 }

// Max returns the point of the largest value within lo … hi hertz.
func (c Curve) Max(lo, hi float64) (Point, error) {
	return c.extreme(lo, hi, func(a, b float64) bool { return a > b })
}

// Min returns the point of the smallest value within lo … hi hertz.
func (c Curve) Min(lo, hi float64) (Point, error) {
	return c.extreme(lo, hi, func(a, b float64) bool { return a < b })
}

// Largest returns the point of the value that is farthest from 0 within lo … hi
// hertz, with its sign: the worst of a deviation.
func (c Curve) Largest(lo, hi float64) (Point, error) {
	return c.extreme(lo, hi, func(a, b float64) bool { return math.Abs(a) > math.Abs(b) })
}

func (c Curve) extreme(lo, hi float64, better func(a, b float64) bool) (Point, error) {
	i, j := c.grid.Between(lo, hi)
	if i == j {
		return Point{}, fmt.Errorf("freq: curve %q has no point within %g … %g Hz (%v)", c.label, lo, hi, c.grid)
	}
	k := i
	for ; i < j; i++ {
		if better(c.values[i], c.values[k]) {
			k = i
		}
	}
	return Point{Hz: c.grid.At(k), Value: c.values[k]}, nil
}

// Mean returns the mean of the values within lo … hi hertz, weighted by
// logarithmic bandwidth (so that it does not depend on the grid's spacing). It
// refuses a curve that begins or ends inside the band by more than the step
// between its points there: the mean of a part is another reference.
func (c Curve) Mean(lo, hi float64) (float64, error) {
	i, j := c.grid.Between(lo, hi)
	if j-i < 2 {
		return 0, fmt.Errorf("freq: mean of %q needs 2 points within %g … %g Hz, had %d (%v)", c.label, lo, hi, j-i, c.grid)
	}
	hz, n := c.grid.hz, c.Len()
	if hz[0] > lo*hz[1]/hz[0] || hz[n-1] < hi*hz[n-2]/hz[n-1] {
		return 0, fmt.Errorf("freq: mean of %q within %g … %g Hz, known on %v: want all of the band", c.label, lo, hi, c.grid)
	}
	var sum float64
	for k := i; k+1 < j; k++ {
		sum += (c.values[k] + c.values[k+1]) / 2 * math.Log(c.grid.hz[k+1]/c.grid.hz[k])
	}
	if math.IsNaN(sum) {
		return 0, fmt.Errorf("freq: mean of %q within %g … %g Hz, where it is infinite with both signs: want one", c.label, lo, hi)
	}
	return sum / math.Log(c.grid.hz[j-1]/c.grid.hz[i]), nil
}

// Interpolate returns the value at hz, linear over log f between the two
// points around it. It refuses to extrapolate.
func (c Curve) Interpolate(hz float64) (float64, error) {
	if !(hz >= c.grid.First() && hz <= c.grid.Last()) {
		return 0, fmt.Errorf("freq: curve %q is asked for at %g Hz, want within %v", c.label, hz, c.grid)
	}
	k, found := slices.BinarySearch(c.grid.hz, hz)
	if found {
		return c.values[k], nil
	}
	if math.IsInf(c.values[k-1], 0) || math.IsInf(c.values[k], 0) {
		return 0, fmt.Errorf("freq: curve %q is asked for at %g Hz, between %g %s and %g %s: want finite values on both sides", c.label, hz, c.values[k-1], c.unit, c.values[k], c.unit)
	}
	a, b := c.grid.hz[k-1], c.grid.hz[k]
	t := math.Log(hz/a) / math.Log(b/a)
	return c.values[k-1] + t*(c.values[k]-c.values[k-1]), nil
}

// Crossing returns the frequencies at which the curve crosses the value,
// linear over log f between points, in ascending order. Next to an infinite value
// it is where the line is steepest: at the finite point, or half way (over log f)
// between two infinite ones.
func (c Curve) Crossing(value float64) []float64 {
	var at []float64
	for k := 0; k+1 < len(c.values); k++ {
		a, b := c.values[k]-value, c.values[k+1]-value
		switch {
		case a == 0:
			at = append(at, c.grid.hz[k])
		case a < 0 && b > 0 || a > 0 && b < 0:
			t := a / (a - b)
			if math.IsInf(a, 0) { // t is NaN
				t = 1
				if math.IsInf(b, 0) {
					t = 0.5
				}
			}
			at = append(at, c.grid.hz[k]*math.Pow(c.grid.hz[k+1]/c.grid.hz[k], t))
		}
	}
	if n := len(c.values); c.values[n-1] == value {
		at = append(at, c.grid.hz[n-1])
	}
	return at
}

// LowCorner returns the frequency at which a level has fallen, downward from the
// band from … to hertz, by drop decibels below its mean there (weighted by log
// frequency). The bass of a loudspeaker "reaches down to" its corner, which means
// nothing without the band and the drop.
func (c Curve) LowCorner(from, to, drop float64) (float64, error) {
	mean, err := c.Mean(from, to)
	if err != nil {
		return 0, err
	}
	if !(drop > 0) || math.IsInf(drop, 0) {
		return 0, fmt.Errorf("freq: corner of %q at a drop of %g dB, want a finite one > 0", c.label, drop)
	}
	corner := 0.0
	for _, hz := range c.Crossing(mean - drop) {
		if hz < from {
			corner = hz
		}
	}
	if corner == 0 {
		return 0, fmt.Errorf("freq: %q does not fall %g dB below its mean of %.4g dB (%g … %g Hz) down to %g Hz", c.label, drop, mean, from, to, c.grid.First())
	}
	return corner, nil
}
