package tune

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Acoustic is what the low end of a woofer in its box shall be.
type Acoustic struct {
	Target     *analog.Filter // a high-pass
	Subsonic   *analog.Filter // a high-pass that it shall have besides; nil: none
	SampleRate float64        // of the filter, Hz
}

// Equaliser is the filter that makes a target of a woofer in a box.
type Equaliser struct {
	Analog      freq.Series      // section by section, in s; unity at high frequencies
	Cascade     *digital.Cascade // the same in z
	Sensitivity float64          // pressure over target on the plateau, Pa/V in half space at 1 m
	// Protection is how steeply the filter falls towards direct current, in orders of
	// 6.02 dB an octave. With 0 it does not fall: below its tuning nothing holds the
	// cone of a vented box but the drive's own fall.
	Protection int
	DC         float64 // gain at direct current, an amplitude ratio; 0 with a Protection
	Exact      bool    // whether nothing was left out; see Acoustic.For
}

// For finds the filter F = T/B that takes the high-pass B(s) of a woofer in its box,
// with all losses and the source's resistance, to the target T(s), subsonic filter
// included: the poles of B become zeros of F, and its zeros poles. For a closed box
// that is the relocation of one resonance ([digital.Relocate]); for a vented one of
// both, and a leak or a resistance of the port moves real roots besides.
//
// What the coil does above is left as it is: with the poles p of the circuit that are
// not the box's own (those of the largest magnitude), the result is exactly
//
//	P(s)·F(s) = Sensitivity·T(s)/Π(1 − s/p)
//
// and for a coil of more than an inductance its zeros besides. With a coil that is no
// ratio of polynomials, or a suspension that changes with frequency, the box's roots
// are those without a coil and with the compliance at Fs; the result then is not the
// target exactly, Exact is false, and what it is the response says.
//
// The target must fall as steeply as the box at least: a lower order would ask for a
// gain without end towards direct current, and is refused. A closed box is of order
// 2, with a leak 3; a vented one of order 4, with a resistance of the port 3. Orders beyond the box's
// protect the cone. Nothing here looks at excursion, air and heat, which a lower
// corner multiplies: [limits.Ceiling.Demand] does.
//
// In z each factor is prewarped to its own frequency, as in [digital.Relocate]; what
// remains of the warping is of the order of 6·(π·f/SampleRate)² dB.
func (a Acoustic) For(m enclosure.Mounted) (*Equaliser, error) {
	if a.Target == nil {
		return nil, fmt.Errorf("tune: acoustic target is nil, want a high-pass")
	}
	for _, f := range []*analog.Filter{a.Target, a.Subsonic} {
		if f == nil {
			continue
		}
		if _, ok := f.Band().(analog.Highpass); !ok {
			return nil, fmt.Errorf("tune: acoustic target is a %v, want a high-pass", f)
		}
	}
	b, err := boxRoots(m)
	if err != nil {
		return nil, err
	}
	zeros, poles := b.poles, b.zeros
	gain, atZero := 1.0, 0
	for _, f := range []*analog.Filter{a.Target, a.Subsonic} {
		if f == nil {
			continue
		}
		gain *= f.Gain()
		poles = append(poles, f.Poles()...)
		for _, z := range f.Zeros() {
			if z == 0 {
				atZero++
			} else {
				zeros = append(zeros, z)
			}
		}
	}
	protection := atZero - b.order
	if protection < 0 {
		return nil, fmt.Errorf("tune: target falls with order %d, want at least %d as the box", atZero, b.order)
	}
	for range protection {
		zeros = append(zeros, 0)
	}
	if len(zeros) != len(poles) { // the box's and the target's numbers are equal each
		return nil, fmt.Errorf("tune: target has %d zeros and %d poles, want as many", len(zeros), len(poles))
	}
	e := &Equaliser{Sensitivity: b.plateau / gain, Protection: protection, DC: 1, Exact: b.exact}
	num, den := factors(zeros), factors(poles)
	var sections []digital.Section
	for i := range num {
		e.Analog = append(e.Analog, &freq.PolyRatio{Num: num[i].poly(), Den: den[i].poly()})
		e.DC *= num[i].at0() / den[i].at0()
		s, err := section(num[i], den[i], a.SampleRate)
		if err != nil {
			return nil, err
		}
		sections = append(sections, s)
	}
	if e.Cascade, err = digital.NewCascade(a.SampleRate, sections...); err != nil {
		return nil, err
	}
	return e, nil
}

// Boost returns the most that the filter gives over a grid, in dB, and where.
func (e *Equaliser) Boost(g *freq.Grid) (dB, hz float64) {
	most := 0.0
	for i, v := range e.Analog.ResponseTo(nil, g) {
		if x := cmplx.Abs(v); x > most {
			most, hz = x, g.At(i)
		}
	}
	return level.DB(most), hz
}

// factor is s² + c1·s + c0, or with first s + c0. The roots of a pair are at f hertz
// with q; q is 0 for s².
type factor struct {
	first  bool
	c1, c0 float64
}

func (f factor) hz() float64 {
	if f.first {
		return f.c0 / (2 * math.Pi)
	}
	return math.Sqrt(f.c0) / (2 * math.Pi)
}

func (f factor) at0() float64 { return f.c0 }

func (f factor) poly() freq.Poly {
	if f.first {
		return freq.NewPoly(f.c0, 1)
	}
	return freq.NewPoly(f.c0, f.c1, 1)
}

// z returns the coefficients of ascending powers of z⁻¹ of the factor, prewarped to
// its own frequency.
func (f factor) z(rate float64) [3]float64 {
	n := math.Tan(math.Pi * f.hz() / rate)
	if f.first {
		return [3]float64{1 + n, n - 1, 0}
	}
	d := f.c1 / (2 * rate) // s² + c1·s without a frequency of its own
	if f.c0 > 0 {
		d = f.c1 / math.Sqrt(f.c0) * n
	}
	return [3]float64{1 + d + n*n, 2 * (n*n - 1), 1 - d + n*n}
}

func (f factor) String() string {
	switch {
	case f.c0 == 0:
		return "direct current"
	case f.first:
		return fmt.Sprintf("%.6g Hz", f.hz())
	default:
		return fmt.Sprintf("%.6g Hz, Q %.5g", f.hz(), math.Sqrt(f.c0)/f.c1)
	}
}

func section(num, den factor, rate float64) (digital.Section, error) {
	for _, f := range []factor{num, den} {
		if !(f.hz() < rate/2) {
			return nil, fmt.Errorf("tune: a root of the filter is at %g Hz, want < %g Hz, half the sample rate", f.hz(), rate/2)
		}
	}
	b, a := num.z(rate), den.z(rate)
	c := digital.Biquad{B0: b[0] / a[0], B1: b[1] / a[0], B2: b[2] / a[0], A1: a[1] / a[0], A2: a[2] / a[0]}
	design := fmt.Sprintf("poles moved from %v to %v", num, den)
	if num.c0 == 0 && num.c1 == 0 {
		design = fmt.Sprintf("high-pass %v", den)
	}
	return digital.Given{SampleRate: rate, Coefficients: c, Design: design}, nil
}
