package driver

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/interp"
)

// Characteristic is a parameter of a motor or a suspension over the displacement
// of the cone from rest, in metres outward, or over the current, in ampere. It is
// known within a measured range only. It is immutable.
type Characteristic struct {
	from, to     float64
	coefficients []float64 // of a polynomial, ascending; nil: a table
	x, y         []float64
	curve        interp.FritschButland
}

// What a characteristic may hold: magnitudes whose cubics stay within float64.
const (
	maxCoefficients = 16
	maxKnots        = 1 << 14
	largest         = 1e30
	closest         = 1e-9 // of two knots, over the range
)

// NewPolynomial returns c₀ + c₁·x + c₂·x² + … with a copy of the coefficients,
// known from … to. There are 1 to 16 coefficients.
func NewPolynomial(coefficients []float64, from, to float64) (*Characteristic, error) {
	if n := len(coefficients); n < 1 || n > maxCoefficients {
		return nil, fmt.Errorf("driver: polynomial has %d coefficients, want 1 to %d", n, maxCoefficients)
	}
	if !(from < to) || !(math.Abs(from) <= largest && math.Abs(to) <= largest) {
		return nil, fmt.Errorf("driver: polynomial is known from %g to %g, want finite values, the first below the second", from, to)
	}
	reach, bound := math.Max(math.Abs(from), math.Abs(to)), 0.0
	for k, c := range coefficients {
		bound += math.Abs(c) * math.Pow(reach, float64(k))
		if !(bound <= largest) {
			return nil, fmt.Errorf("driver: coefficient %d of the polynomial is %g, want a finite value with terms up to %g within its range", k, c, largest)
		}
	}
	return &Characteristic{from: from, to: to, coefficients: slices.Clone(coefficients)}, nil
}

// NewTable returns the curve through the points: 2 or more, at x that increase
// strictly and differ by more than 1e-9 of the range. Between them it is the
// monotone piecewise cubic of F. N. Fritsch and J. Butland (SIAM J. Sci. Stat.
// Comput. 5, 1984), which does not overshoot: an extreme is at a point.
func NewTable(x, y []float64) (*Characteristic, error) {
	if len(x) != len(y) {
		return nil, fmt.Errorf("driver: table has %d places and %d values, want as many", len(x), len(y))
	}
	if n := len(x); n < 2 || n > maxKnots {
		return nil, fmt.Errorf("driver: table has %d points, want 2 to %d", n, maxKnots)
	}
	for i := range x {
		if !(math.Abs(x[i]) <= largest && math.Abs(y[i]) <= largest) {
			return nil, fmt.Errorf("driver: point %d of the table is %g at %g, want finite values up to %g", i, y[i], x[i], largest)
		}
		if i > 0 && x[i] <= x[i-1] {
			return nil, fmt.Errorf("driver: point %d of the table is at %g after %g, want strictly increasing", i, x[i], x[i-1])
		}
	}
	span := x[len(x)-1] - x[0]
	for i := 1; i < len(x); i++ {
		if !(x[i]-x[i-1] > closest*span) || !(x[i]-x[i-1] > 1/largest) {
			return nil, fmt.Errorf("driver: points %d and %d of the table are %g apart, want more than %g of its range", i-1, i, x[i]-x[i-1], closest)
		}
	}
	c := &Characteristic{from: x[0], to: x[len(x)-1], x: slices.Clone(x), y: slices.Clone(y)}
	if err := c.curve.Fit(c.x, c.y); err != nil {
		return nil, fmt.Errorf("driver: table: %w", err)
	}
	return c, nil
}

// Range returns the ends of the range in which the characteristic is known.
func (c *Characteristic) Range() (from, to float64) { return c.from, c.to }

// Coefficients returns a copy of the coefficients of a polynomial, nil of a table.
func (c *Characteristic) Coefficients() []float64 { return slices.Clone(c.coefficients) }

// At returns the value at x, and whether x is within the measured range. Beyond it
// the value is that at the near end, which is no measurement: a polynomial goes
// anywhere there. x must not be NaN.
func (c *Characteristic) At(x float64) (value float64, measured bool) {
	if math.IsNaN(x) {
		panic("driver: a characteristic is asked for at NaN")
	}
	near := math.Max(c.from, math.Min(c.to, x))
	measured = near == x
	if c.coefficients == nil {
		return c.curve.Predict(near), measured
	}
	for k := len(c.coefficients) - 1; k >= 0; k-- {
		value = value*near + c.coefficients[k]
	}
	return value, measured
}

// Symmetric returns the symmetric part (f(x) + f(−x))/2, and whether both places
// are within the measured range.
func (c *Characteristic) Symmetric(x float64) (value float64, measured bool) {
	a, in := c.At(x)
	b, also := c.At(-x)
	return (a + b) / 2, in && also
}

// Asymmetric returns the asymmetric part (f(x) − f(−x))/2, and whether both places
// are within the measured range.
func (c *Characteristic) Asymmetric(x float64) (value float64, measured bool) {
	a, in := c.At(x)
	b, also := c.At(-x)
	return (a - b) / 2, in && also
}

// Centre returns the place x₀ nearest rest around which the characteristic has
// equal values at a distance of reach > 0 to both sides, f(x₀−reach) = f(x₀+reach):
// the offset of the coil, or of the suspension, as a motion of that amplitude sees
// it. In IEC 62458 it is the symmetry point of Bl(x) (from memory). It is an error
// if there is none with both sides within the measured range. It is found on a
// raster of 1/1024 of what is searched.
func (c *Characteristic) Centre(reach float64) (float64, error) {
	if !(reach > 0) || math.IsInf(reach, 0) {
		return 0, fmt.Errorf("driver: centre at a distance of %g, want a finite value > 0", reach)
	}
	lo, hi := c.from+reach, c.to-reach
	if lo > hi {
		return 0, fmt.Errorf("driver: centre at a distance of %g, want at most half the measured range %g … %g", reach, c.from, c.to)
	}
	differ := func(x float64) float64 {
		a, _ := c.At(x - reach)
		b, _ := c.At(x + reach)
		return b - a
	}
	if lo <= 0 && 0 <= hi && differ(0) == 0 {
		return 0, nil
	}
	best, found := 0.0, false
	const raster = 1024
	a, fa := lo, differ(lo)
	for i := 0; i <= raster; i++ {
		b := lo + (hi-lo)*float64(i)/raster
		fb := differ(b)
		if fb == 0 || fa > 0 != (fb > 0) && fa != 0 {
			x := b
			if fb != 0 {
				x = halve(a, b, func(x float64) bool { return differ(x) > 0 == (fa > 0) })
			}
			if !found || math.Abs(x) < math.Abs(best) {
				best, found = x, true
			}
		}
		a, fa = b, fb
	}
	if !found {
		return 0, fmt.Errorf("driver: no centre at a distance of %g within the measured range %g … %g, want one: the characteristic only rises or falls there", reach, c.from, c.to)
	}
	return best, nil
}

// halve returns where ok, true at a, becomes false towards b, to the last bit.
func halve(a, b float64, ok func(float64) bool) float64 {
	for {
		m := a + (b-a)/2
		if m == a || m == b {
			return b
		}
		if ok(m) {
			a = m
		} else {
			b = m
		}
	}
}

// leaves returns the first place from 0 towards an end of the range at which the
// value is outside lo … hi, and whether there is one; else it returns the end. A
// table is monotone between its points, so that nothing is missed; a polynomial is
// looked at on a raster of 1/4096 of that side.
func (c *Characteristic) leaves(lo, hi float64, outward bool) (x float64, reached bool) {
	end := c.from
	if outward {
		end = c.to
	}
	stops := []float64{}
	if c.coefficients != nil {
		const raster = 4096
		for i := 1; i < raster; i++ {
			stops = append(stops, end*float64(i)/raster)
		}
	} else {
		for _, x := range c.x {
			if x > 0 == (end > 0) && x != 0 && x != end {
				stops = append(stops, x)
			}
		}
		if !outward {
			slices.Reverse(stops)
		}
	}
	inside := func(x float64) bool {
		v, _ := c.At(x)
		return lo <= v && v <= hi
	}
	last := 0.0
	for _, x := range append(stops, end) {
		if !inside(x) {
			return halve(last, x, inside), true
		}
		last = x
	}
	return end, false
}

// least returns the smallest and the largest value, of a polynomial on a raster of
// 1/4096 of the range.
func (c *Characteristic) extremes() (least, most float64) {
	if c.coefficients == nil {
		return slices.Min(c.y), slices.Max(c.y)
	}
	least, most = math.Inf(1), math.Inf(-1)
	const raster = 4096
	for i := 0; i <= raster; i++ {
		v, _ := c.At(c.from + (c.to-c.from)*float64(i)/raster)
		least, most = math.Min(least, v), math.Max(most, v)
	}
	return least, most
}

// Points returns n ≥ 2 evenly spaced points over the measured range, both ends
// included, as a figure draws them.
func (c *Characteristic) Points(n int) (x, y []float64) {
	if n < 2 {
		panic("driver: a characteristic has two points or more")
	}
	x, y = make([]float64, n), make([]float64, n)
	for i := range x {
		x[i] = c.from + (c.to-c.from)*float64(i)/float64(n-1)
		if i == n-1 {
			x[i] = c.to
		}
		y[i], _ = c.At(x[i])
	}
	return x, y
}
