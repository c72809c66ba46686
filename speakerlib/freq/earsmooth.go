package freq

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
)

// Constants of the bandwidth of the ear's filter.
const (
	erbAtZero = 24.7 // Hz
	erbSlope  = 4.37 // per kHz
	kilohertz = 1e3  // Hz
)

// ERB returns the equivalent rectangular bandwidth of the ear's filter at a
// frequency, in hertz:
//
//	ERB = 24.7·(4.37·f/kHz + 1)
//
// (B. R. Glasberg and B. C. J. Moore, "Derivation of auditory filter shapes from
// notched-noise data", Hearing Research 47, 1990, eq. 3; formula and number from
// memory). Fitted to young normal ears at moderate levels, within 100 Hz … 10 kHz;
// outside it is the same formula. It panics if the frequency is negative.
func ERB(hz float64) float64 {
	if !(hz >= 0) {
		panic("freq: bandwidth of the ear at a negative frequency")
	}
	return erbAtZero * (erbSlope*hz/kilohertz + 1)
}

// ERBNumber returns how many bandwidths [ERB] lie between 0 and a frequency, the
// integral of df/ERB:
//
//	E = 1000/(24.7·4.37)·ln(4.37·f/kHz + 1)
//
// Glasberg and Moore (1990, eq. 4; from memory) print it as 21.4·log10(…), a factor
// that is rounded up by 0.3 %. It panics if the frequency is negative.
func ERBNumber(hz float64) float64 {
	if !(hz >= 0) {
		panic("freq: bandwidth of the ear at a negative frequency")
	}
	return kilohertz / (erbAtZero * erbSlope) * math.Log1p(erbSlope*hz/kilohertz)
}

// SmoothERB returns the ear-spaced power average of |r| as a level in decibels re
// ref: at each frequency the mean of |r|² over the [ERBNumber] within width/2 to
// both sides. A width of 1 is one bandwidth of the ear's filter: 0.19 octave at
// 1 kHz, 0.16 at 10 kHz and 0.5 at 100 Hz. |r|² is taken as linear over the ERB
// number between the points; at the ends of the grid the window is cut on both
// sides alike. It is an average with a rectangular window, no model of hearing.
func (r Response) SmoothERB(width, ref float64) (Curve, error) {
	if !(width > 0) || math.IsInf(width, 0) {
		return Curve{}, fmt.Errorf("freq: smoothing over %g bandwidths of the ear, want a finite width > 0", width)
	}
	if !(ref > 0) || math.IsInf(ref, 0) {
		return Curve{}, fmt.Errorf("freq: level reference is %g, want finite > 0", ref)
	}
	n := r.Len()
	x, p := make([]float64, n), make([]float64, n)
	for i, v := range r.values {
		x[i] = ERBNumber(r.grid.hz[i])
		p[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	p = windowMeans(x, p, width/2)
	for i := range p {
		p[i] = level.PowerDB(max(0, p[i]) / (ref * ref)) // rounding beside zeros may be below 0
	}
	return NewCurve(r.grid, p, r.label, "dB", r.basis)
}
