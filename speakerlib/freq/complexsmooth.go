package freq

import (
	"fmt"
	"math"
)

// SmoothComplex returns the fractional-octave average of r itself, not of its
// power: at each frequency f the mean of r·e^{+jωτ} over log frequency from
// f·2^(−1/2n) to f·2^(+1/2n), where n is perOctave, turned back by e^{−jωτ}. τ is
// delay, in seconds, and r·e^{jωτ} is taken as linear over log f between the points;
// at the ends of the grid the window is cut on both sides alike.
//
// Averaging over frequency is a window over time around τ, which is the shorter the
// higher the frequency (P. D. Hatziantoniou and J. N. Mourjopoulos, "Generalized
// fractional-octave smoothing of audio and acoustic responses", J. Audio Eng. Soc.
// 48, 2000; from memory): what arrives by t later is taken down to
// |sin x/x| with x = π·f·t·ln2/n, first to nothing at t = n/(f·ln2) (for windows
// narrow against an octave). So the delay must be the arrival of the direct sound
// ([Response.Excess] shows it), one for all responses of a set; a wrong one takes
// down the high frequencies. The magnitude never exceeds that of
// [Response.SmoothPower].
func (r Response) SmoothComplex(perOctave, delay float64) (Response, error) {
	if !(perOctave > 0) || math.IsInf(perOctave, 0) {
		return Response{}, fmt.Errorf("freq: smoothing to 1/%g octave, want a fraction > 0", perOctave)
	}
	if math.IsNaN(delay) || math.IsInf(delay, 0) {
		return Response{}, fmt.Errorf("freq: complex smoothing around a delay of %g s, want a finite one", delay)
	}
	n := r.Len()
	x, re, im := make([]float64, n), make([]float64, n), make([]float64, n)
	forth := Delay(-delay).ResponseTo(nil, r.grid)
	for i, v := range r.values {
		x[i] = math.Log2(r.grid.hz[i])
		v *= forth[i]
		re[i], im[i] = real(v), imag(v)
	}
	re, im = windowMeans(x, re, 1/(2*perOctave)), windowMeans(x, im, 1/(2*perOctave))
	v := Delay(delay).ResponseTo(nil, r.grid)
	for i := range v {
		v[i] *= complex(re[i], im[i])
	}
	return NewResponse(r.grid, v, r.label, r.basis)
}
