// Package search finds the maximum of a function of one variable.
package search

import "math"

// ratio is the part of an interval that a step of the golden section keeps.
const ratio = 1 / math.Phi

// Golden returns where a function with one maximum within a … b is largest, and
// its value there, by golden sections (J. Kiefer, "Sequential minimax search for a
// maximum", Proc. Amer. Math. Soc. 4, 1953): each step keeps 0.618 of the interval
// and costs one evaluation. It ends when the interval is no longer than tolerance,
// or when float64 does not divide it any further, and returns the best point that
// it has evaluated, which lies within the last interval.
//
// At a smooth maximum the value changes with the square of the distance, so that
// about 1e-8 of the place is all that float64 resolves. Of several maxima it finds
// one: whoever has several brackets the highest first. NaN counts as −Inf. It
// panics if the interval is reversed or not finite.
func Golden(f func(float64) float64, a, b, tolerance float64) (at, value float64) {
	if !(a <= b) || math.IsInf(a, 0) || math.IsInf(b, 0) {
		panic("search: interval is reversed or not finite")
	}
	at, value = a, math.Inf(-1)
	try := func(x float64) float64 {
		y := f(x)
		if math.IsNaN(y) {
			y = math.Inf(-1)
		}
		if y > value {
			at, value = x, y
		}
		return y
	}
	c, d := b-ratio*(b-a), a+ratio*(b-a)
	fc, fd := try(c), try(d)
	for a < c && c < d && d < b {
		left := fc > fd
		if left {
			b, d, fd = d, c, fc
			c = b - ratio*(b-a)
		} else {
			a, c, fc = c, d, fd
			d = a + ratio*(b-a)
		}
		if b-a <= tolerance {
			break
		}
		if left {
			fc = try(c)
		} else {
			fd = try(d)
		}
	}
	return at, value
}
