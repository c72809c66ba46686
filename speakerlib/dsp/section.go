package dsp

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
)

// MaxFeedback is the highest order of error feedback.
const MaxFeedback = 2

// Section is a second-order section as it is committed.
type Section struct {
	Design       string // what it was designed as; may be empty
	Structure    Structure
	Coefficients []Coefficient // in the order of Structure.Names
	// InputShift is k of the structures that have the factor 2^k, which scales their
	// states against overflow or noise, in fixed point.
	InputShift int
	// Scale tells that the section has 2^Scale times the gain of its design, which
	// is in its coefficients already: for who reads the program, not for who runs it.
	Scale int
	// Feedback is the order of error feedback, in fixed point: what rounding took away from
	// an accumulator is given back at the next sample (first order: noise times 1 − z⁻¹),
	// or 2·e₁ − e₂ of the last two (second order: (1 − z⁻¹)²), in every sum that drops
	// bits. It takes the noise of poles at low frequencies down by as much as these raise
	// it, for two words of memory and no multiplication a sum. (J. Dattorro 1988, from
	// memory.)
	Feedback int
}

// newSection rounds a section. The factor 2^scale goes into the taps.
func newSection(b digital.Biquad, design string, s Structure, a Arithmetic, split bool, scale, inputShift, feedback int) (Section, error) {
	return holder{a: a, split: split}.section(b, design, s, scale, inputShift, feedback)
}

func (h holder) section(b digital.Biquad, design string, s Structure, scale, inputShift, feedback int) (Section, error) {
	a := h.a
	out := Section{Design: design, Structure: s, InputShift: inputShift, Scale: scale, Feedback: feedback}
	if !s.takesShift() || !a.fixed() {
		out.InputShift = 0
	}
	if !a.fixed() {
		out.Feedback = 0
	}
	values, err := s.values(b, math.Ldexp(1, scale))
	if err != nil {
		return Section{}, err
	}
	names := s.Names()
	if names[0] == "b0" {
		n, err := h.numerator([3]float64(values))
		if err != nil {
			return Section{}, err
		}
		out.Coefficients = n
	}
	for i := len(out.Coefficients); i < len(values); i++ {
		c, err := h.one(names[i], values[i])
		if err != nil {
			return Section{}, err
		}
		out.Coefficients = append(out.Coefficients, c)
	}
	q := out.Biquad()
	if q.B0 == 0 && q.B1 == 0 && q.B2 == 0 && (b.B0 != 0 || b.B1 != 0 || b.B2 != 0) {
		return Section{}, fmt.Errorf("numerator of %.3g, %.3g, %.3g is 0 when rounded to %v for the %v, scaled by 2^%d, want a step below the largest", b.B0, b.B1, b.B2, a.Coefficient, s, scale)
	}
	if err := q.Check(); err != nil {
		return Section{}, fmt.Errorf("rounded to %v for the %v: %w", a.Coefficient, s, err)
	}
	return out, nil
}

// values returns the coefficients of a structure, taps times k.
func (s Structure) values(b digital.Biquad, k float64) ([]float64, error) {
	z := zerosOf(b.B0, b.B1, b.B2)
	r1, r2 := b.B1-b.B0*b.A1, b.B2-b.B0*b.A2
	switch s {
	case DirectI, DirectII, TransposedI, TransposedII:
		return []float64{k * b.B0, k * b.B1, k * b.B2, b.A1, b.A2}, nil
	case Coupled:
		// Poles d ± √(u·l): u = −l of a conjugate pair, u = l of a real one.
		d, disc := -b.A1/2, b.A1*b.A1/4-b.A2
		l := math.Sqrt(math.Abs(disc))
		// Of a double pole what is left of disc is rounding, some 2⁻⁵².
		if l < math.Ldexp(1, -20) {
			return nil, fmt.Errorf("coupled form of a double pole at %g (a1 = %g, a2 = %g): want two poles that are apart", d, b.A1, b.A2)
		}
		u := math.Copysign(l, disc)
		return []float64{d, u, l, k * b.B0, k * r1, k * (r2 + r1*d) / l}, nil
	case StateVariable:
		// Stable sections have 1 + a1 + a2 > 0.
		g2 := 1 + b.A1 + b.A2
		g := math.Sqrt(g2)
		band, low := (b.B0-b.B2)/g, (b.B0+b.B1+b.B2)/g2
		if z.circle {
			band = 0
		}
		if z.dc {
			low = 0
		}
		return []float64{g, (1 - b.A2) / g, k * b.B0, k * band, k * low}, nil
	case Lattice:
		k1, k2 := b.A1/(1+b.A2), b.A2
		v2 := b.B2
		v1 := b.B1 - v2*b.A1
		return []float64{k1, k2, k * (b.B0 - v1*k1 - v2*k2), k * v1, k * v2}, nil
	}
	return nil, fmt.Errorf("structure is %v, want one of %v", s, Structures())
}

// Biquad returns the section as the coefficients of a direct form, of its rounded
// coefficients, 2^Scale included. It is exact for the direct forms; for the others
// float64 keeps about 2⁻⁵² of b0, b1, b2, a1 and a2, that is 1e-10 of the response
// of a section at 20 Hz and 96 kHz.
func (s Section) Biquad() digital.Biquad {
	c := func(i int) float64 { return s.Coefficients[i].Float() }
	switch s.Structure {
	case DirectI, DirectII, TransposedI, TransposedII:
		return digital.Biquad{B0: c(0), B1: c(1), B2: c(2), A1: c(3), A2: c(4)}
	case Coupled:
		d, u, l := c(0), c(1), c(2)
		a1, a2 := -2*d, d*d-u*l
		c0, c1, c2 := c(3), c(4), c(5)
		return digital.Biquad{B0: c0, B1: c0*a1 + c1, B2: c0*a2 - c1*d + c2*l, A1: a1, A2: a2}
	case StateVariable:
		g, q := c(0), c(1)
		high, band, low := c(2), c(3), c(4)
		return digital.Biquad{B0: high, B1: low*g*g + band*g - 2*high, B2: high - band*g, A1: g*q + g*g - 2, A2: 1 - g*q}
	case Lattice:
		k1, k2 := c(0), c(1)
		v0, v1, v2 := c(2), c(3), c(4)
		a1 := k1 * (1 + k2)
		return digital.Biquad{B0: v0 + v1*k1 + v2*k2, B1: v1 + v2*a1, B2: v2, A1: a1, A2: k2}
	}
	panic("dsp: coefficients of a section without a structure")
}

// Validate reports a section that the arithmetic does not have, or that is
// unstable.
func (s Section) Validate(a Arithmetic) error {
	names := s.Structure.Names()
	if names == nil {
		return fmt.Errorf("dsp: structure is %v, want one of %v", s.Structure, Structures())
	}
	if len(s.Coefficients) != len(names) {
		return fmt.Errorf("dsp: %v has %d coefficients, want %d: %v", s.Structure, len(s.Coefficients), len(names), names)
	}
	for i, c := range s.Coefficients {
		if err := c.validate(a); err != nil {
			return fmt.Errorf("dsp: coefficient %s %w", names[i], err)
		}
	}
	if s.InputShift != 0 && !(s.Structure.takesShift() && a.fixed()) || s.InputShift < -MaxExponent || s.InputShift > MaxExponent {
		return fmt.Errorf("dsp: %v in %v has an input shift of %d, want −%d to %d where the structure has the factor 2^k, in fixed point, else 0", s.Structure, a.Signal, s.InputShift, MaxExponent, MaxExponent)
	}
	if s.Feedback < 0 || s.Feedback > MaxFeedback || s.Feedback > 0 && !a.fixed() {
		return fmt.Errorf("dsp: %v in %v has error feedback of order %d, want 0, or up to %d in fixed point", s.Structure, a.Signal, s.Feedback, MaxFeedback)
	}
	if err := s.Biquad().Check(); err != nil {
		return fmt.Errorf("dsp: %w", err)
	}
	if a.fixed() {
		f := s.Structure.form()
		for _, e := range f.sums {
			if err := s.align(e).validate(a); err != nil {
				return fmt.Errorf("dsp: sum %s of the %v %w", f.variables[e.dst], s.Structure, err)
			}
		}
	}
	return nil
}

// short returns by how many bits the accumulator is too narrow for the section's sums to
// saturate: 0 where they do, or are to wrap.
func (s Section) short(a Arithmetic) int {
	worst := 0
	if a.fixed() && a.Overflow == Saturate {
		for _, r := range s.Network(a).Rows {
			worst = max(worst, r.short(a))
		}
	}
	return worst
}
