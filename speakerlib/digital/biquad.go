package digital

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Biquad is a second-order section with a0 = 1:
//
//	H(z) = (b0 + b1·z⁻¹ + b2·z⁻²) / (1 + a1·z⁻¹ + a2·z⁻²)
//
// Its coefficients are meant for one sample rate, which it does not know: see
// [Given] and [Cascade].
type Biquad struct{ B0, B1, B2, A1, A2 float64 }

// Check reports coefficients that are not finite, and poles on or outside the
// unit circle, with their radius.
func (b Biquad) Check() error {
	for _, c := range [...]struct {
		name  string
		value float64
	}{{"b0", b.B0}, {"b1", b.B1}, {"b2", b.B2}, {"a1", b.A1}, {"a2", b.A2}} {
		if math.IsNaN(c.value) || math.IsInf(c.value, 0) {
			return fmt.Errorf("digital: coefficient %s is %g, want a finite value", c.name, c.value)
		}
	}
	// The triangle of stability of a second-order denominator; and within it a last bit
	// from its edge the radius may still round to 1.
	if !(math.Abs(b.A2) < 1) || !(math.Abs(b.A1) < 1+b.A2) || !(b.PoleRadius() < 1) {
		return fmt.Errorf("digital: section with a1 = %g, a2 = %g is unstable: largest pole radius is 1 %+.3g, want < 1", b.A1, b.A2, b.PoleRadius()-1)
	}
	return nil
}

// Poles returns the two poles: conjugate, or real with the larger magnitude
// first. A first-order section has its second pole at 0.
func (b Biquad) Poles() [2]complex128 {
	p, _ := quadratic(1, b.A1, b.A2)
	return p
}

// Zeros returns the zeros in z: two, one if b0 is 0 (the other is at infinity),
// or none. A first-order section has its second zero at 0.
func (b Biquad) Zeros() []complex128 {
	z, n := quadratic(b.B0, b.B1, b.B2)
	return append([]complex128(nil), z[:n]...)
}

// DC returns the gain at direct current, (b0 + b1 + b2)/(1 + a1 + a2).
func (b Biquad) DC() float64 { return (b.B0 + b.B1 + b.B2) / (1 + b.A1 + b.A2) }

// PoleRadius returns the magnitude of the pole that is farthest out.
func (b Biquad) PoleRadius() float64 {
	p := b.Poles()
	return max(cmplx.Abs(p[0]), cmplx.Abs(p[1]))
}

// quadratic returns the n roots of a·z² + b·z + c, without cancellation.
func quadratic(a, b, c float64) (roots [2]complex128, n int) {
	if a == 0 {
		if b == 0 {
			return roots, 0
		}
		roots[0] = complex(-c/b, 0)
		return roots, 1
	}
	d := b*b - 4*a*c
	if d < 0 {
		roots[0] = complex(-b/(2*a), math.Sqrt(-d)/(2*math.Abs(a)))
		roots[1] = cmplx.Conj(roots[0])
		return roots, 2
	}
	q := -(b + math.Copysign(math.Sqrt(d), b)) / 2
	if q == 0 {
		return roots, 2
	}
	roots[0], roots[1] = complex(q/a, 0), complex(c/q, 0)
	return roots, 2
}

// At returns H at a frequency in hertz; sampleRate in hertz.
func (b Biquad) At(hz, sampleRate float64) complex128 {
	s, c := math.Sincos(math.Pi * hz / sampleRate)
	u, sin := 2*s*s, 2*s*c
	num, den := b.num(), b.den()
	return num.at(u, sin) / den.at(u, sin)
}

// linear is a numerator or a denominator times e^{jΩ}: c0 − c1·u + j·c2·sin Ω.
type linear struct{ c0, c1, c2 float64 }

func (b Biquad) num() linear { return linear{b.B0 + b.B1 + b.B2, b.B0 + b.B2, b.B0 - b.B2} }
func (b Biquad) den() linear { return linear{1 + b.A1 + b.A2, 1 + b.A2, 1 - b.A2} }

func (l linear) at(u, sin float64) complex128 { return complex(l.c0-l.c1*u, l.c2*sin) }

// slope returns dφ/dΩ of the factor: with F = c0 − c1·u + j·c2·s, du/dΩ = s and
// ds/dΩ = 1 − u it is Im(F′/F) = c2·(c0 + (c1−c0)·u)/|F|². Where F is 0 the
// phase jumps and the value is taken as 0.
func (l linear) slope(u float64) float64 {
	re := l.c0 - l.c1*u
	p := re*re + l.c2*l.c2*u*(2-u)
	if p == 0 {
		return 0
	}
	return l.c2 * (l.c0 + (l.c1-l.c0)*u) / p
}

// GroupDelay returns −dφ/dω in seconds at a frequency in hertz, from the closed
// form. At a zero on the unit circle, where the phase jumps, it is the delay of
// what is left.
func (b Biquad) GroupDelay(hz, sampleRate float64) float64 {
	s := math.Sin(math.Pi * hz / sampleRate)
	u := 2 * s * s
	return (b.den().slope(u) - b.num().slope(u)) / sampleRate
}
