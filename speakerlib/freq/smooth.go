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
	x, p, sum := make([]float64, n), make([]float64, n), make([]float64, n)
	for i, v := range r.values {
		x[i] = math.Log2(r.grid.hz[i])
		p[i] = real(v)*real(v) + imag(v)*imag(v)
		if i > 0 {
			sum[i] = sum[i-1] + (p[i]+p[i-1])/2*(x[i]-x[i-1])
		}
	}
	// integral from the first point to at, which lies in [x[k], x[k+1]]
	integral := func(k int, at float64) float64 {
		if k >= n-1 {
			return sum[n-1]
		}
		t := (at - x[k]) / (x[k+1] - x[k])
		return sum[k] + (at-x[k])*(p[k]+t*(p[k+1]-p[k])/2)
	}
	c := r.curve("dB")
	lo, hi := 0, 0
	for i := range p {
		half := min(1/(2*perOctave), x[i]-x[0], x[n-1]-x[i])
		if half <= 0 {
			c.values[i] = level.PowerDB(p[i] / (ref * ref))
			continue
		}
		a, b := x[i]-half, x[i]+half
		for lo = min(lo, i); lo > 0 && x[lo] > a; lo-- {
		}
		for lo+1 < n && x[lo+1] <= a {
			lo++
		}
		for hi = max(hi, lo); hi+1 < n && x[hi+1] <= b; hi++ {
		}
		for hi > 0 && x[hi] > b {
			hi--
		}
		c.values[i] = level.PowerDB((integral(hi, b) - integral(lo, a)) / (2 * half) / (ref * ref))
	}
	return c, nil
}
