package enclosure

import "math"

// roots returns the real roots within lo … hi of the polynomial with the
// coefficients of ascending powers, in ascending order. Between the roots of its
// derivative a polynomial is monotone, so that each piece has one root at most,
// found by halving to the last bit. A root where the sign does not change is not
// found.
func roots(c []float64, lo, hi float64) []float64 {
	for len(c) > 0 && c[len(c)-1] == 0 {
		c = c[:len(c)-1]
	}
	if len(c) < 2 {
		return nil
	}
	d := make([]float64, len(c)-1)
	for k := range d {
		d[k] = float64(k+1) * c[k+1]
	}
	var found []float64
	a := lo
	for _, b := range append(roots(d, lo, hi), hi) {
		if x, ok := bisect(func(x float64) float64 { return horner(c, x) }, a, b); ok && (len(found) == 0 || x > found[len(found)-1]) {
			found = append(found, x)
		}
		a = b
	}
	return found
}

// bisect returns where f changes its sign within a … b, to the last bit, and
// whether it does.
func bisect(f func(float64) float64, a, b float64) (float64, bool) {
	fa, fb := f(a), f(b)
	switch {
	case fa == 0:
		return a, true
	case fb == 0:
		return b, true
	case fa > 0 == (fb > 0):
		return 0, false
	}
	for {
		m := a + (b-a)/2
		if !(m > a && m < b) { // or NaN, from an infinite end
			return m, !math.IsNaN(m)
		}
		switch fm := f(m); {
		case fm == 0:
			return m, true
		case fm > 0 == (fa > 0):
			a = m
		default:
			b = m
		}
	}
}

// bound returns Cauchy's bound of the roots' magnitudes: 1 + max |cₖ/cₙ|.
func bound(c []float64) float64 {
	b := 0.0
	for _, v := range c[:len(c)-1] {
		b = math.Max(b, math.Abs(v/c[len(c)-1]))
	}
	return 1 + b
}

func horner(c []float64, x float64) float64 {
	y := 0.0
	for k := len(c) - 1; k >= 0; k-- {
		y = y*x + c[k]
	}
	return y
}
