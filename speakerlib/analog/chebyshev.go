package analog

import (
	"fmt"
	"math"
)

// ChebyshevI is the prototype with equal ripple in the pass band, made of the
// Chebyshev polynomial Tₙ:
//
//	|H(jω)|² = 1/(1 + ε²·Tₙ²(ω)),  ε² = Ripple² − 1
//	pₖ = −sinh μ·sin θₖ ± j·cosh μ·cos θₖ,  μ = asinh(1/ε)/n,  θₖ = π·(2k−1)/(2n)
//
// Its largest magnitude is 1, and its corner the edge of the pass band, where
// the magnitude falls below 1/Ripple for good. Ripple is an amplitude ratio:
// level.Ratio(0.5) is 0.5 dB. For a corner at another level see [LowpassThrough].
// (A. I. Zverev, "Handbook of Filter Synthesis", 1967, ch. 2; from memory.)
type ChebyshevI struct {
	Order  int
	Ripple float64
}

// ChebyshevII is the prototype with a maximally flat pass band and equal ripple in
// the stop band, the inverse Chebyshev filter:
//
//	|H(jω)|² = 1/(1 + (Stop² − 1)/Tₙ²(1/ω))
//
// Its poles are the inverses of those of [ChebyshevI] with ε² = 1/(Stop² − 1), and
// it has zeros at ±j/cos θₖ. Its corner is the edge of the stop band, from which
// on the magnitude is at most 1/Stop; half the power it has lower,
// at 1/cosh(acosh(√(Stop²−1))/n). Stop is an amplitude ratio: level.Ratio(60) is
// 60 dB.
type ChebyshevII struct {
	Order int
	Stop  float64
}

// beyondUnity returns √(r² − 1) for a ratio r above 1.
func beyondUnity(r float64) float64 { return math.Sqrt((r - 1) * (r + 1)) }

func checkRatio(what, name string, r float64) error {
	// Below the one ε is not exact to ten digits, above the other not finite
	// when squared.
	if !(r >= 1+1e-6 && r <= 1e15) {
		return fmt.Errorf("analog: %s of %s is the ratio %g, want 1.000001 to 1e15", name, what, r)
	}
	return nil
}

// angle returns sine and cosine of π·(2k+1)/(2n), the cosine as the sine of what
// is missing to π/2, so that it keeps its digits where it is small.
func angle(k, n int) (sin, cos float64) {
	return math.Sin(math.Pi * float64(2*k+1) / float64(2*n)), math.Sin(math.Pi * float64(n-1-2*k) / float64(2*n))
}

// chebyshevPoles returns the poles for an ε, those of the highest Q first.
func chebyshevPoles(n int, epsilon float64) []complex128 {
	mu := math.Asinh(1/epsilon) / float64(n)
	sh, ch := math.Sinh(mu), math.Cosh(mu)
	var p []complex128
	for k := range n / 2 {
		sin, cos := angle(k, n)
		p = append(p, both(complex(-sh*sin, ch*cos))...)
	}
	if n%2 == 1 {
		p = append(p, complex(-sh, 0))
	}
	return p
}

// Poles implements [Prototype].
func (c ChebyshevI) Poles() ([]complex128, error) {
	if err := checkOrder("Chebyshev I", c.Order); err != nil {
		return nil, err
	}
	if err := checkRatio("Chebyshev I", "ripple", c.Ripple); err != nil {
		return nil, err
	}
	return chebyshevPoles(c.Order, beyondUnity(c.Ripple)), nil
}

// Zeros implements [ZeroedPrototype]: there are none.
func (c ChebyshevI) Zeros() ([]complex128, error) { return nil, nil }

// DC implements [ZeroedPrototype]: the bottom of the ripple for an even order.
func (c ChebyshevI) DC() float64 {
	if c.Order%2 == 0 {
		return 1 / c.Ripple
	}
	return 1
}

// Poles implements [Prototype].
func (c ChebyshevII) Poles() ([]complex128, error) {
	if err := checkOrder("Chebyshev II", c.Order); err != nil {
		return nil, err
	}
	if err := checkRatio("Chebyshev II", "stop-band loss", c.Stop); err != nil {
		return nil, err
	}
	p := chebyshevPoles(c.Order, 1/beyondUnity(c.Stop))
	for i, z := range p {
		p[i] = 1 / z
		if imag(z) == 0 {
			p[i] = complex(1/real(z), 0)
		}
	}
	// The inverse turns the pairs upside down.
	for i := 0; i+1 < len(p); i += 2 {
		p[i], p[i+1] = p[i+1], p[i]
	}
	return p, nil
}

// Zeros implements [ZeroedPrototype].
func (c ChebyshevII) Zeros() ([]complex128, error) {
	var z []complex128
	for k := range c.Order / 2 {
		_, cos := angle(k, c.Order)
		z = append(z, both(complex(0, 1/cos))...)
	}
	return z, nil
}

// DC implements [ZeroedPrototype]: unity.
func (c ChebyshevII) DC() float64 { return 1 }

// String names it.
func (c ChebyshevI) String() string {
	return fmt.Sprintf("Chebyshev I order %d, ripple %s", c.Order, decibels(c.Ripple))
}

// String names it.
func (c ChebyshevII) String() string {
	return fmt.Sprintf("Chebyshev II order %d, stop band %s", c.Order, decibels(c.Stop))
}

// span implements spanned.
func (c ChebyshevI) span() (pass, stop float64) { return 1 / c.Ripple, 0 }

// span implements spanned.
func (c ChebyshevII) span() (pass, stop float64) { return 1, 1 / c.Stop }
