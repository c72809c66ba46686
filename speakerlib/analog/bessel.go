package analog

import (
	"fmt"
	"math"
	"math/cmplx"
)

// BesselNorm says what of a Bessel filter is 1 at its corner of 1 rad/s.
type BesselNorm int

const (
	// ByDelay: the group delay at direct current is 1 s.
	ByDelay BesselNorm = iota
	// ByPhase: the constant term is 1, so that the asymptotes of pass band and
	// stop band meet at 1 rad/s, and low-pass and high-pass are mirror images.
	ByPhase
	// ByMagnitude: half the power, −3.01 dB, at 1 rad/s.
	ByMagnitude
)

// String says it in words.
func (b BesselNorm) String() string {
	switch b {
	case ByDelay:
		return "unit delay"
	case ByPhase:
		return "phase"
	case ByMagnitude:
		return "-3 dB"
	}
	return fmt.Sprintf("BesselNorm(%d)", int(b))
}

// BesselThomson is the prototype with a maximally flat group delay, made by
// [Bessel]:
//
//	H(s) = θₙ(0)/θₙ(s),  θₙ(s) = Σ (2n−k)!/(2ⁿ⁻ᵏ·k!·(n−k)!)·sᵏ
//
// W. E. Thomson, "Delay Networks having Maximally Flat Frequency
// Characteristics", Proc. IEE 96 III (1949).
type BesselThomson struct {
	Order int
	Norm  BesselNorm
}

// Bessel returns the Bessel prototype of an order and normalisation.
func Bessel(order int, norm BesselNorm) BesselThomson { return BesselThomson{order, norm} }

// String names it.
func (b BesselThomson) String() string {
	return fmt.Sprintf("Bessel order %d (%v)", b.Order, b.Norm)
}

// Poles implements [Prototype].
func (b BesselThomson) Poles() ([]complex128, error) {
	if err := checkOrder("Bessel", b.Order); err != nil {
		return nil, err
	}
	p := besselPoles(b.Order)
	scale := 1.0
	switch b.Norm {
	case ByDelay:
	case ByPhase:
		// The product of the poles to 1: in logarithms, since θₙ(0) grows fast.
		var sum float64
		for _, z := range p {
			sum += math.Log(cmplx.Abs(z))
		}
		scale = math.Exp(-sum / float64(b.Order))
	case ByMagnitude:
		scale = 1 / halfPower(p)
	default:
		return nil, fmt.Errorf("analog: normalisation of Bessel is %v, want ByDelay, ByPhase or ByMagnitude", b.Norm)
	}
	for i := range p {
		p[i] *= complex(scale, 0)
	}
	return p, nil
}

// besselPoles returns the roots of θₙ: by the iteration of Aberth and Ehrlich in
// float64, with the polynomial and its derivative from the recurrences
//
//	θₙ = (2n−1)·θₙ₋₁ + s²·θₙ₋₂,  θₙ′ = θₙ − s·θₙ₋₁
//
// then by Newton's with θₙ evaluated in long arithmetic: in float64 the terms
// cancel (11 digits at order 12, all but 6 at order 20).
func besselPoles(n int) []complex128 {
	if n == 1 {
		return []complex128{-1}
	}
	p := make([]complex128, n)
	for k := range p { // a start on an arc where the roots lie
		a := math.Pi * (0.5 + (float64(k)+0.5)/float64(n))
		p[k] = cmplx.Rect(float64(n), a)
	}
	aberth(p, func(z complex128) complex128 {
		before, theta := complex(1, 0), z+1
		for k := 2; k <= n; k++ {
			before, theta = theta, complex(float64(2*k-1), 0)*theta+z*z*before
		}
		return theta / (theta - z*before)
	})
	byHeight(p)
	theta := newExact(n)
	out := make([]complex128, 0, n)
	for _, z := range p {
		if imag(z) > 1e-2 {
			z = theta.polish(z)
			out = append(out, z, cmplx.Conj(z))
		}
	}
	if n%2 == 1 {
		out = append(out, theta.polish(complex(real(p[n-1]), 0)))
	}
	return out
}
