package tune

import (
	"fmt"
	"math"
	"strings"

	"example.org/loudspeaker/speakerlib/freq"
)

// PolePair is the prototype of second order with a Q: as a high-pass
//
//	s²/(s² + s/Q + 1),  s = jω/ωc
//
// the target of a closed box (R. H. Small, "Closed-Box Loudspeaker Systems, Part I",
// JAES 20, 1972) of the Qtc wanted. It implements analog.Prototype.
type PolePair struct{ Q float64 }

// Poles implements analog.Prototype.
func (p PolePair) Poles() ([]complex128, error) {
	if !(p.Q > 0 && !math.IsInf(p.Q, 0)) {
		return nil, fmt.Errorf("tune: Q of a pole pair is %g, want a finite value > 0", p.Q)
	}
	re := 1 / (2 * p.Q)
	if re < 1 {
		im := math.Sqrt((1 - re) * (1 + re))
		return []complex128{complex(-re, im), complex(-re, -im)}, nil
	}
	far := re + math.Sqrt((re-1)*(re+1))
	return []complex128{complex(-1/far, 0), complex(-far, 0)}, nil
}

// String names it.
func (p PolePair) String() string { return fmt.Sprintf("pole pair of Q %.4g", p.Q) }

// Polynomial is the prototype whose high-pass has a denominator that is given: of
// order n with c₀ + c₁s + … + cₙsⁿ, s = jω/ωc,
//
//	cₙ·sⁿ/(c₀ + c₁s + … + cₙsⁿ)
//
// such as the s⁴ + a₁s³ + a₂s² + a₃s + 1 of an alignment. It implements
// analog.Prototype.
type Polynomial struct {
	c     []float64
	poles []complex128
}

// NewPolynomial returns the prototype with the coefficients of ascending powers, of
// order 1 to [freq.MaxDegree]. All roots must have negative real parts.
func NewPolynomial(c ...float64) (*Polynomial, error) {
	n := len(c) - 1
	if n < 1 || n > freq.MaxDegree {
		return nil, fmt.Errorf("tune: polynomial of a target has %d coefficients, want 2 to %d", len(c), freq.MaxDegree+1)
	}
	for _, v := range c {
		if !(v > 0) || math.IsInf(v, 0) { // what stability asks for at least
			return nil, fmt.Errorf("tune: polynomial of a target is %v of ascending powers, want finite coefficients > 0", c)
		}
	}
	r, _, _, err := roots(freq.NewPoly(c...), math.Pow(c[0]/c[n], 1/float64(n)))
	if err != nil {
		return nil, err
	}
	p := &Polynomial{c: append([]float64(nil), c...)}
	for _, v := range r {
		if !(real(v) < 0) {
			return nil, fmt.Errorf("tune: polynomial of a target is %v of ascending powers, which has the root %.4g, want real parts below 0", c, v)
		}
		p.poles = append(p.poles, 1/v) // of the low-pass
	}
	return p, nil
}

// Poles implements analog.Prototype.
func (p *Polynomial) Poles() ([]complex128, error) { return append([]complex128(nil), p.poles...), nil }

// String names it.
func (p *Polynomial) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "polynomial of order %d:", len(p.c)-1)
	for _, v := range p.c {
		fmt.Fprintf(&b, " %.4g", v)
	}
	return b.String()
}
