package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
)

// The Qtc of closed boxes by the shape of G(s) = s²/(s² + s/Qtc + 1), s = jω/ωc.
// Any other Qtc > 0 is an alignment too; [ChebyshevQtc] has that of a ripple.
const (
	CriticallyDamped  = 0.5            // a double real pole
	ClosedBessel      = 1 / sqrt3      // maximally flat delay of the low-pass prototype
	ClosedButterworth = 1 / math.Sqrt2 // maximally flat magnitude

	sqrt3 = 1.73205080756887729352744634150587236694280525381038
)

// ChebyshevQtc returns the Qtc above 1/√2 whose response rises to the ripple, in
// dB, above its level at high frequencies: with r = 10^(ripple/20) from
//
//	r = Q²/√(Q²−1/4)  ⇒  Q² = (r² + r·√(r²−1))/2
//
// The ripple is 0 or more; 0 is the Butterworth.
func ChebyshevQtc(rippleDB float64) (float64, error) {
	if !(rippleDB >= 0 && rippleDB <= 100) {
		return 0, fmt.Errorf("enclosure: ripple of a closed box is %g dB, want 0 to 100", rippleDB)
	}
	r := level.Ratio(rippleDB)
	return math.Sqrt((r*r + r*math.Sqrt((r-1)*(r+1))) / 2), nil
}

// ClosedAlignment is a closed box for a driver.
type ClosedAlignment struct {
	Driver  SmallSignal
	Qtc, Fc float64 // of the driver in the box; Fc in Hz
	Vb      float64 // net volume, m³
	Alpha   float64 // Vas/Vb
	F3      float64 // half-power frequency, Hz
	Peak    float64 // the most above the level at high frequencies, dB
	PeakAt  float64 // Hz; +Inf if nothing is above that level
}

// Box returns the box.
func (a ClosedAlignment) Box() Closed { return Closed{Vb: a.Vb} }

// CutOff returns the frequency, Hz, below which the response stays more than a
// positive number of dB under its level at high frequencies.
func (a ClosedAlignment) CutOff(dB float64) (float64, error) {
	if !(dB > 0 && dB <= 1000) {
		return 0, fmt.Errorf("enclosure: cut-off is asked for at %g dB down, want > 0 and at most 1000", dB)
	}
	hz := a.Fc * cutOff(a.Qtc, level.PowerRatio(dB))
	if !positive(hz) {
		return 0, fmt.Errorf("enclosure: cut-off %g dB down at Qtc %g is %g Hz, want a finite value > 0", dB, a.Qtc, hz)
	}
	return hz, nil
}

// cutOff solves |G|⁻² = y² + (1/Q²−2)·y + 1 = power with y = 1/x² for x > 0.
func cutOff(q, power float64) float64 {
	b := (1/(q*q) - 2) / 2
	r := math.Sqrt(b*b + power - 1)
	if b > 0 { // (√(b²+p−1) − b) without its cancellation
		return math.Sqrt((r + b) / (power - 1))
	}
	return 1 / math.Sqrt(r-b)
}

// AlignClosed returns the closed box in which a driver has the Qtc. With
// α = Vas/Vb (R. H. Small, "Closed-Box Loudspeaker Systems, Part I", JAES 20,
// 1972; equation numbers not checked)
//
//	Qtc/Qt = fc/fs = √(1+α)
//
// without losses of the box and without the coil's inductance. A box only raises
// Q, so that a Qtc not above the driver's Qt is an error.
func AlignClosed(qtc float64, s SmallSignal) (ClosedAlignment, error) {
	if err := s.validate(); err != nil {
		return ClosedAlignment{}, err
	}
	if !(qtc > 0) || math.IsInf(qtc, 0) {
		return ClosedAlignment{}, fmt.Errorf("enclosure: Qtc is %g, want a finite value > 0", qtc)
	}
	if qtc <= s.Qt {
		return ClosedAlignment{}, fmt.Errorf("enclosure: Qt is %.4g, want less than the Qtc of %.4g: a box only raises it", s.Qt, qtc)
	}
	ratio := qtc / s.Qt
	a := ClosedAlignment{Driver: s, Qtc: qtc, Fc: s.Fs * ratio, Alpha: (ratio - 1) * (ratio + 1), PeakAt: math.Inf(1)}
	a.Vb = s.Vas / a.Alpha
	a.F3 = a.Fc * cutOff(qtc, 2)
	if !positive(a.Vb, a.Fc, a.F3) || math.IsInf(qtc*qtc, 0) {
		return ClosedAlignment{}, fmt.Errorf("enclosure: a box for Fs %g Hz, Qt %g and Vas %g m³ would have %g m³ and fc %g Hz, want finite values > 0", s.Fs, s.Qt, s.Vas, a.Vb, a.Fc)
	}
	if v := 1 - 1/(2*qtc*qtc); v > 0 && qtc > ClosedButterworth {
		a.PeakAt = a.Fc / math.Sqrt(v)
		a.Peak = level.DB(qtc * qtc / math.Sqrt(qtc*qtc-0.25))
	}
	return a, nil
}

// Resonance returns the frequency, Hz, and the Q of the pair of poles of a driver
// in a closed box (fc and Qtc), or in an infinite baffle (fs and Qt), fed through
// the source's resistance and without the coil's inductance. Without losses or
// with absorption alone these are those of R. H. Small ("Closed-Box Loudspeaker
// Systems, Part I", JAES 20, 1972):
//
//	fc = fs·√(1+Vas/Vb),  1/Qtc = (1/Qms+1/Qes')/√(1+α) + the absorption's share
//
// A leak adds a third, real pole near 0 Hz; what is returned is the other two,
// from the roots of the circuit's own polynomial. With a suspension that changes
// with frequency they are those of the constant one that [driver.Params.At] has at
// the resonance itself. A vented box is an error.
func (m Mounted) Resonance() (hz, q float64, err error) {
	if m.Driver.Suspension == nil {
		return m.resonance()
	}
	if err := m.Driver.Validate(); err != nil {
		return 0, 0, err
	}
	hz = m.Driver.Fs()
	const most = 200 // each round with logarithmic creep brings two digits and more
	for range most {
		constant := m
		if constant.Driver, err = m.Driver.At(hz); err != nil {
			return 0, 0, err
		}
		last := hz
		if hz, q, err = constant.resonance(); err != nil || math.Abs(hz-last) <= 1e-14*hz {
			return hz, q, err
		}
	}
	return 0, 0, fmt.Errorf("enclosure: the resonance with this suspension is not found in %d rounds, the last at %g Hz", most, hz)
}

func (m Mounted) resonance() (hz, q float64, err error) {
	switch m.Box.(type) {
	case Closed, InfiniteBaffle, nil: // circuit tells of nil
	default:
		return 0, 0, fmt.Errorf("enclosure: box is a %T, want Closed or InfiniteBaffle: others have more than one resonance", m.Box)
	}
	circuit, err := m.circuit()
	if err != nil {
		return 0, 0, err
	}
	c := circuit.mech.Scale(circuit.dc).Add(circuit.back).Coefficients()
	for len(c) > 0 && c[0] == 0 {
		c = c[1:]
	}
	if len(c) < 3 {
		return 0, 0, beyond()
	}
	w := 2 * math.Pi * m.Driver.Fs()
	for k, unit := 0, 1.0; k < len(c); k, unit = k+1, unit*w {
		c[k] *= unit
	}
	if len(c) == 4 {
		r := roots(c, -bound(c), 0)
		if len(r) == 0 {
			return 0, 0, beyond()
		}
		p := r[len(r)-1] // the leak's
		c = []float64{c[1] + p*(c[2]+p*c[3]), c[2] + p*c[3], c[3]}
	}
	hz, q = m.Driver.Fs()*math.Sqrt(c[0]/c[2]), math.Sqrt(c[0]*c[2])/c[1]
	if !positive(hz, q) {
		return 0, 0, beyond()
	}
	return hz, q, nil
}
