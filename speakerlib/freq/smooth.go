package freq

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
)

// SmoothPower returns the fractional-octave power average of |r| as a level in
// decibels re ref: at each frequency f the mean of |r|² over log frequency from
// f·2^(−1/2n) to f·2^(+1/2n), where n is perOctave (12 for a twelfth octave).
// |r|² is taken as linear over log f between the points; the integral is then
// exact. Near the ends of the grid the window is cut on both sides alike, so
// that a sloping response is not biased, and at the very ends it is the point
// itself.
func (r Response) SmoothPower(perOctave, ref float64) (Curve, error) {
	if !(perOctave > 0) || math.IsInf(perOctave, 0) {
		return Curve{}, fmt.Errorf("freq: smoothing to 1/%g octave, want a fraction > 0", perOctave)
	}
	if !(ref > 0) {
		return Curve{}, fmt.Errorf("freq: level reference is %g, want > 0", ref)
	}
	n := r.Len()
	x, p := make([]float64, n), make([]float64, n)
	for i, v := range r.values {
		x[i] = math.Log2(r.grid.hz[i])
		p[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	c := r.curve("dB")
	lo := 0
	for i := range p {
		half := min(1/(2*perOctave), x[i]-x[0], x[n-1]-x[i])
		if x[i]-half == x[i]+half { // float64 does not tell the window from the point
			c.values[i] = level.PowerDB(p[i] / (ref * ref))
			continue
		}
		a, b := x[i]-half, x[i]+half
		for lo > 0 && x[lo] > a {
			lo--
		}
		for x[lo+1] <= a {
			lo++
		}
		// The pieces of the window are added up afresh: differences of a running
		// sum would lose the precision of a level far below the rest.
		var sum float64
		for k := lo; k+1 < n && x[k] < b; k++ {
			from, to := max(a, x[k]), min(b, x[k+1])
			if from >= to { // points so close that their logarithms are one
				continue
			}
			slope := (p[k+1] - p[k]) / (x[k+1] - x[k])
			sum += (to - from) * (p[k] + slope*((from+to)/2-x[k]))
		}
		c.values[i] = level.PowerDB(max(0, sum/(b-a)) / (ref * ref)) // rounding beside zeros may be below 0
	}
	return NewCurve(c.grid, c.values, c.label, c.unit, c.basis)
}
