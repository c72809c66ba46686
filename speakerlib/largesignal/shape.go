package largesignal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/driver"
)

// order is the highest order of the polynomials that the solver evaluates.
const order = 6

// samples is the number of evenly spaced points of a table that a polynomial is
// fitted to.
const samples = 241

// poly is c₀ + c₁·x + … + c₆·x⁶.
type poly [order + 1]float64

// at evaluates in the manner of Estrin: the two halves do not wait for each other.
func (c *poly) at(x float64) float64 {
	x2 := x * x
	return (c[0] + c[1]*x) + x2*(c[2]+c[3]*x) + x2*x2*((c[4]+c[5]*x)+c[6]*x2)
}

// derivative returns the polynomial of the slope.
func (c *poly) derivative() (d poly) {
	for k := 1; k <= order; k++ {
		d[k-1] = float64(k) * c[k]
	}
	return d
}

// scaled returns a·c.
func (c poly) scaled(a float64) poly {
	for k := range c {
		c[k] *= a
	}
	return c
}

// curve is a characteristic over its value at rest: a polynomial within the
// measured range, and beyond each end a straight line, which is no measurement.
type curve struct {
	c, d     poly // value and slope
	from, to float64
	// value and slope of the lines beyond from and to
	value, slope [2]float64
	least        float64 // the smallest value within the range
}

// at returns the value and the slope.
func (s *curve) at(x float64) (value, slope float64) {
	switch {
	case x < s.from:
		return s.beyond(0, x-s.from)
	case x > s.to:
		return s.beyond(1, x-s.to)
	}
	return s.c.at(x), s.d.at(x)
}

func (s *curve) beyond(end int, past float64) (value, slope float64) {
	v := s.value[end] + s.slope[end]*past
	if v < 0 {
		return 0, 0
	}
	return v, s.slope[end]
}

// constant is the curve of what is not known: 1 everywhere.
func constant() *curve {
	s := &curve{from: math.Inf(-1), to: math.Inf(1)}
	s.c[0], s.least = 1, 1
	return s
}

// Fit tells how a characteristic became a polynomial.
type Fit struct {
	Name     string  `col:"characteristic"` // Bl(x), Kms(x), Le(x), Le(i)
	From, To float64 // the measured range, m or A
	Order    int     `col:"order"`
	Misfit   float64 `col:"largest misfit" unit:"%" fmt:"%.2f"` // over the value at rest
	Rest     float64 `col:"rest over small signal" fmt:"%.4f"`  // value at rest over that of the driver's parameters; 0: they have none
}

// fit returns the polynomial of a characteristic over its value at rest. One that is
// a polynomial of order ≤ 6 already is taken as it is, any other is fitted by least
// squares to evenly spaced points of its range.
func fit(name string, c *driver.Characteristic, degree int) (*curve, Fit, error) {
	from, to := c.Range()
	f := Fit{Name: name, From: from, To: to}
	s := &curve{from: from, to: to}
	if own := c.Coefficients(); own != nil && len(own) <= order+1 {
		copy(s.c[:], own)
		f.Order = len(own) - 1
	} else {
		x, y := c.Points(samples)
		p, err := leastSquares(x, y, degree)
		if err != nil {
			return nil, f, fmt.Errorf("largesignal: %s: %w", name, err)
		}
		s.c, f.Order = p, degree
		for k := range x {
			f.Misfit = max(f.Misfit, math.Abs(s.c.at(x[k])-y[k]))
		}
	}
	rest := s.c[0]
	if !(math.Abs(rest) > 0) {
		return nil, f, fmt.Errorf("largesignal: %s is 0 at rest, want another value", name)
	}
	f.Rest = rest
	f.Misfit /= math.Abs(rest)
	s.c = s.c.scaled(1 / rest)
	s.d = s.c.derivative()
	for k, end := range []float64{from, to} {
		s.value[k] = s.c.at(end)
	}
	s.least = 1
	for k := range samples {
		s.least = min(s.least, s.c.at(from+(to-from)*float64(k)/(samples-1)))
		if x := from + (to-from)*float64(k)/(samples-1); name != "Bl(x)" && !(s.c.at(x) > 0) {
			return nil, f, fmt.Errorf("largesignal: %s as a polynomial of order %d is not positive at %g, want a table or polynomial that is smooth over its range", name, f.Order, x)
		}
	}
	return s, f, nil
}

// leastSquares returns the polynomial of a degree through points, solved with the
// abscissa scaled to about ±1.
func leastSquares(x, y []float64, degree int) (p poly, err error) {
	scale := max(math.Abs(x[0]), math.Abs(x[len(x)-1]))
	a := mat.NewDense(len(x), degree+1, nil)
	for i := range x {
		v := 1.0
		for k := range degree + 1 {
			a.Set(i, k, v)
			v *= x[i] / scale
		}
	}
	var c mat.VecDense
	if err := c.SolveVec(a, mat.NewVecDense(len(y), y)); err != nil {
		return p, err
	}
	v := 1.0
	for k := range degree + 1 {
		p[k] = c.AtVec(k) / v
		v *= scale
	}
	return p, nil
}

// runOn lets a curve go on along its slope beyond an end where that slope leads it in
// the direction given (+1 up, −1 down) when moving outward, and holds it elsewhere.
func (s *curve) runOn(direction float64) {
	for k, end := range []float64{s.from, s.to} {
		outward := 1.0
		if k == 0 {
			outward = -1
		}
		if d := s.d.at(end); d*outward*direction > 0 {
			s.slope[k] = d
		}
	}
}
