package enclosure

import (
	"fmt"
	"math"
)

// BandpassAlignment is a symmetric bandpass of fourth order for a driver.
type BandpassAlignment struct {
	Driver    SmallSignal
	S, Q      float64 // as asked for
	F0        float64 // centre, tuning of the front and resonance in the rear chamber, Hz
	Qtc       float64 // of the driver in the rear chamber
	Rear      float64 // net volume of the rear chamber, m³
	Front     float64 // net volume of the front chamber, m³
	Gain      float64 // pressure at F0 over that of the driver's passband in an infinite baffle, a ratio
	Low, High float64 // half-power frequencies re F0, Hz
}

// AlignBandpass returns the bandpass of fourth order whose response is that of a
// low-pass of second order, mirrored about F0: with x = jf/F0 + F0/(jf), without losses
// of the box and without the coil's inductance,
//
//	p/p∞ = 1/(x² + x·S/Q + S²)
//
// when the driver in the rear chamber has its fc at the tuning of the front one and
//
//	Qtc = Q/S,  S² = Vas/((1+α)·Vf),  1 + α = (Qtc/Qt)²,  Vr = Vas/α
//
// p∞ is the pressure of the driver where its mass controls it in an infinite baffle, so that
// the gain at F0 is 1/S²: a wide band (S above 1) costs sensitivity. Q = 1/√2 is maximally flat, with the
// half-power points at F0·(√(S²+4) ± S)/2; a higher Q makes two humps. The form is
// that of Geddes and Fincham (see [Bandpass4]; from memory), derived from the circuit.
//
// A Qtc not above the driver's Qt is an error, since a chamber only raises it.
func AlignBandpass(s, q float64, d SmallSignal) (BandpassAlignment, error) {
	if err := d.validate(); err != nil {
		return BandpassAlignment{}, err
	}
	if !positive(s, q) || s > 100 || q > 100 {
		return BandpassAlignment{}, fmt.Errorf("enclosure: bandpass of S %g and Q %g, want values > 0 and at most 100", s, q)
	}
	qtc := q / s
	if qtc <= d.Qt {
		return BandpassAlignment{}, fmt.Errorf("enclosure: Qt is %.4g, want less than the Qtc of %.4g of this bandpass: a chamber only raises it", d.Qt, qtc)
	}
	ratio := qtc / d.Qt
	a := BandpassAlignment{Driver: d, S: s, Q: q, Qtc: qtc, F0: d.Fs * ratio, Gain: 1 / (s * s)}
	a.Rear = d.Vas / ((ratio - 1) * (ratio + 1))
	a.Front = d.Vas / (ratio * ratio * s * s)
	// |p|² = 1/((S²−y²)² + (y·S/Q)²) with x = jy; half of its value at F0
	k := 1/(q*q) - 2
	y := s * math.Sqrt((math.Sqrt(k*k+4)-k)/2)
	a.High = a.F0 * (math.Sqrt(y*y+4) + y) / 2
	a.Low = a.F0 * a.F0 / a.High
	if !positive(a.Rear, a.Front, a.Low, a.High) {
		return BandpassAlignment{}, beyond()
	}
	return a, nil
}
