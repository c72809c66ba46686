package analog

import (
	"cmp"
	"fmt"
	"math"
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
