package analog

import (
	"cmp"
	"fmt"
	"math"
	"math/big"
	"math/cmplx"
	"slices"
)

// MaxOrder is the highest order that [Design] accepts.
const MaxOrder = 24

// Prototype is a low-pass with its corner at 1 rad/s: all-pole with unity gain at
// direct current, unless it is a [ZeroedPrototype].
type Prototype interface {
	fmt.Stringer
	// Poles returns the poles, with conjugates next to each other, or an error
	// if the order is not allowed.
	Poles() ([]complex128, error)
}

// ZeroedPrototype is a prototype with finite zeros, or with another gain than
// unity at direct current (as a pass band with ripple of even order has).
type ZeroedPrototype interface {
	Prototype
	// Zeros returns the finite zeros in conjugate pairs, with conjugates next to
	// each other; at most as many as there are poles in pairs.
	Zeros() ([]complex128, error)
	// DC returns the gain at direct current, an amplitude ratio > 0.
	DC() float64
}

// unitsOf returns the poles of a prototype one by one or pair by pair, each pair
// of zeros with the pair of poles that is nearest to it, the zero that is lowest
// (with the pole of the highest Q) first; and the gain at direct current.
func unitsOf(p Prototype) (units []unit, dc float64, err error) {
	poles, err := p.Poles()
	if err != nil {
		return nil, 0, err
	}
	if len(poles) == 0 {
		return nil, 0, fmt.Errorf("analog: %v has no poles", p)
	}
	for i := 0; i < len(poles); i++ {
		z := poles[i]
		if !(real(z) < 0) || cmplx.IsInf(z) {
			return nil, 0, fmt.Errorf("analog: %v has the pole %g, want all in the left half plane", p, z)
		}
		u := unit{pole: z, pair: imag(z) != 0}
		if u.pair {
			if i+1 == len(poles) || poles[i+1] != cmplx.Conj(z) {
				return nil, 0, fmt.Errorf("analog: %v has the pole %g without its conjugate beside it", p, z)
			}
			i++
		}
		units = append(units, u)
	}
	zp, ok := p.(ZeroedPrototype)
	if !ok {
		return units, 1, nil
	}
	if dc = zp.DC(); !(dc > 0) || math.IsInf(dc, 0) {
		return nil, 0, fmt.Errorf("analog: %v has a gain of %g at direct current, want a finite ratio > 0", p, dc)
	}
	zeros, err := zp.Zeros()
	if err != nil {
		return nil, 0, err
	}
	var upper []complex128
	for i := 0; i < len(zeros); i += 2 {
		z := zeros[i]
		if i+1 == len(zeros) || zeros[i+1] != cmplx.Conj(z) || imag(z) == 0 || cmplx.IsNaN(z) || cmplx.IsInf(z) {
			return nil, 0, fmt.Errorf("analog: %v has the zero %g, want finite conjugate pairs beside each other", p, z)
		}
		upper = append(upper, complex(real(z), math.Abs(imag(z))))
	}
	slices.SortStableFunc(upper, func(a, b complex128) int { return cmp.Compare(cmplx.Abs(a), cmplx.Abs(b)) })
	for _, z := range upper {
		best := -1
		for i, u := range units {
			if u.pair && !u.zeroed && (best < 0 || cmplx.Abs(z-above(u.pole)) < cmplx.Abs(z-above(units[best].pole))) {
				best = i
			}
		}
		if best < 0 {
			return nil, 0, fmt.Errorf("analog: %v has %d pairs of zeros, more than pairs of poles", p, len(upper))
		}
		units[best].zero, units[best].zeroed = z, true
	}
	return units, dc, nil
}

// above returns z or its conjugate, whichever is not below the real axis.
func above(z complex128) complex128 { return complex(real(z), math.Abs(imag(z))) }

func checkOrder(what string, n int) error {
	if n < 1 || n > MaxOrder {
		return fmt.Errorf("analog: order of %s is %d, want 1 to %d", what, n, MaxOrder)
	}
	return nil
}

// Butterworth is the prototype of an order with a maximally flat magnitude:
//
//	|H(jω)|² = 1/(1 + ω²ⁿ),  pₖ = exp(jπ·(2k+n−1)/(2n)), k = 1 … n
//
// −3.01 dB at its corner. S. Butterworth, "On the Theory of Filter Amplifiers",
// Experimental Wireless 7 (1930).
type Butterworth int

// Poles implements [Prototype].
func (n Butterworth) Poles() ([]complex128, error) {
	if err := checkOrder("Butterworth", int(n)); err != nil {
		return nil, err
	}
	var p []complex128
	for k := range int(n) / 2 {
		sin, cos := math.Sincos(math.Pi * float64(2*k+1) / float64(2*n))
		p = append(p, complex(-sin, cos), complex(-sin, -cos))
	}
	if n%2 == 1 {
		p = append(p, -1)
	}
	return p, nil
}

// String names it.
func (n Butterworth) String() string { return fmt.Sprintf("Butterworth order %d", int(n)) }

// LinkwitzRiley is the prototype of an even order that is a Butterworth of half
// the order twice: −6.02 dB at its corner, and low-pass plus high-pass of the
// same corner sum to an all-pass (with one of them inverted for orders 2, 6,
// 10 …). Its low-pass and high-pass are in phase, or opposed, at all
// frequencies. S. H. Linkwitz, "Active Crossover Networks for Noncoincident
// Drivers", JAES 24 (1976).
type LinkwitzRiley int

// Poles implements [Prototype].
func (n LinkwitzRiley) Poles() ([]complex128, error) {
	if err := checkOrder("Linkwitz–Riley", int(n)); err != nil {
		return nil, err
	}
	if n%2 != 0 {
		return nil, fmt.Errorf("analog: order of Linkwitz–Riley is %d, want an even one: it is a Butterworth of half the order twice", int(n))
	}
	half, err := Butterworth(n / 2).Poles()
	if err != nil {
		return nil, err
	}
	var p []complex128
	for i := 0; i < len(half); i++ {
		if imag(half[i]) == 0 {
			p = append(p, half[i], half[i])
			continue
		}
		p = append(p, half[i], half[i+1], half[i], half[i+1])
		i++
	}
	return p, nil
}

// String names it.
func (n LinkwitzRiley) String() string { return fmt.Sprintf("Linkwitz–Riley order %d", int(n)) }

// Opposed reports whether low-pass and high-pass of this order and corner are in
// opposite phase, so that one must be inverted for them to sum to an all-pass.
func (n LinkwitzRiley) Opposed() bool { return n%4 == 2 }

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

// aberth improves approximate roots of a polynomial, all at once, by the
// iteration of Aberth and Ehrlich; newton returns P/P′.
func aberth(p []complex128, newton func(z complex128) complex128) {
	for range 200 {
		var worst float64
		for i, z := range p {
			step := newton(z)
			var repel complex128
			for j, q := range p {
				if j != i {
					repel += 1 / (z - q)
				}
			}
			d := step / (1 - step*repel)
			p[i] -= d
			worst = math.Max(worst, cmplx.Abs(d)/cmplx.Abs(p[i]))
		}
		if worst < 1e-15 {
			break
		}
	}
}

// byHeight sorts by |Im|, the largest first and a real one last.
func byHeight(p []complex128) {
	slices.SortFunc(p, func(a, b complex128) int { return cmp.Compare(math.Abs(imag(b)), math.Abs(imag(a))) })
}

// exact evaluates a polynomial with integer coefficients, those of ascending
// powers, in arithmetic of 256 bits.
type exact struct{ c []*big.Float }

const exactBits = 256

// newExact returns θₙ.
func newExact(n int) exact {
	// c[k] = (2n−k)!/(2ⁿ⁻ᵏ·k!·(n−k)!), from c[n] = 1 downward:
	// c[k−1]/c[k] = (2n−k+1)·k/(2·(n−k+1)).
	c := make([]*big.Float, n+1)
	v := big.NewInt(1)
	for k := n; ; k-- {
		c[k] = new(big.Float).SetPrec(exactBits).SetInt(v)
		if k == 0 {
			return exact{c}
		}
		v.Mul(v, big.NewInt(int64(2*n-k+1)*int64(k)))
		v.Quo(v, big.NewInt(int64(2*(n-k+1))))
	}
}

// polish improves a root by Newton's method.
func (e exact) polish(z complex128) complex128 {
	for range 6 {
		f, d := e.at(z)
		step := f / d
		z -= step
		if cmplx.Abs(step) < 1e-17*cmplx.Abs(z) {
			break
		}
	}
	return z
}

// at returns the polynomial and its derivative at z, by Horner's scheme.
func (e exact) at(z complex128) (f, df complex128) {
	num := func() *big.Float { return new(big.Float).SetPrec(exactBits) }
	x, y := num().SetFloat64(real(z)), num().SetFloat64(imag(z))
	times := func(re, im *big.Float) (*big.Float, *big.Float) {
		a := num().Sub(num().Mul(re, x), num().Mul(im, y))
		return a, num().Add(num().Mul(re, y), num().Mul(im, x))
	}
	re, im, dre, dim := num(), num(), num(), num()
	for k := len(e.c) - 1; k >= 0; k-- {
		dre, dim = times(dre, dim)
		dre.Add(dre, re)
		dim.Add(dim, im)
		re, im = times(re, im)
		re.Add(re, e.c[k])
	}
	number := func(re, im *big.Float) complex128 {
		a, _ := re.Float64()
		b, _ := im.Float64()
		return complex(a, b)
	}
	return number(re, im), number(dre, dim)
}

// halfPower returns the ω at which Π|jω−pₖ|² is twice Π|pₖ|², by bisection on a
// function that grows with ω.
func halfPower(p []complex128) float64 {
	excess := func(w float64) float64 {
		sum := -math.Ln2
		for _, z := range p {
			sum += 2 * math.Log(cmplx.Abs(complex(0, w)-z)/cmplx.Abs(z))
		}
		return sum
	}
	lo, hi := 0.0, 1.0
	for excess(hi) < 0 {
		lo, hi = hi, 2*hi
	}
	for range 200 {
		mid := (lo + hi) / 2
		if mid <= lo || mid >= hi {
			break
		}
		if excess(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
