// Package twoport has linear networks with two ports in cascade, acoustic,
// mechanical or electrical: chain matrices at one frequency.
//
// A [Matrix] joins the effort p (pressure, force, voltage) and the flow u (volume
// velocity, velocity, current) at both ports,
//
//	p₁ = A·p₂ + B·u₂
//	u₁ = C·p₂ + D·u₂
//
// with u₁ into the first port and u₂ out of the second, so that a cascade is a
// product (E. A. Guillemin, Communication Networks, vol. 2, 1935, chapter 4; from
// memory). All of it holds at one frequency, for e^{+jωt}. A reciprocal network has
// AD − BC = 1; a [Gyrator] has −1.
package twoport

import (
	"math"
	"math/cmplx"
)

// Matrix is the chain matrix of a two-port.
type Matrix struct{ A, B, C, D complex128 }

// Through returns the two-port that is not there: p₁ = p₂, u₁ = u₂.
func Through() Matrix { return Matrix{A: 1, D: 1} }

// Series returns an impedance between the ports: the same flow on both sides.
func Series(z complex128) Matrix { return Matrix{A: 1, B: z, D: 1} }

// Shunt returns an admittance across the ports: the same effort on both sides.
func Shunt(y complex128) Matrix { return Matrix{A: 1, C: y, D: 1} }

// Transformer returns p₁ = n·p₂, u₁ = u₂/n. A piston of area S from a force to a
// pressure is Transformer(S). n is not 0.
func Transformer(n float64) Matrix { return Matrix{A: complex(n, 0), D: complex(1/n, 0)} }

// Gyrator returns p₁ = g·u₂, u₁ = p₂/g, which swaps efforts and flows. A motor
// from voltage and current to force and velocity is Gyrator(Bl). g is not 0.
func Gyrator(g float64) Matrix { return Matrix{B: complex(g, 0), C: complex(1/g, 0)} }

// Line returns a uniform line of characteristic impedance z and of the length
// times propagation constant γl = αl + jβl,
//
//	A = D = cosh γl,  B = z·sinh γl,  C = sinh γl / z
//
// exact for plane waves. Beyond αl = 300 nothing comes through, and the elements
// would overflow: what is lost more is taken as lost 300 neper.
func Line(z, gl complex128) Matrix {
	sh, ch := SinhCosh(gl)
	return Matrix{A: ch, B: z * sh, C: sh / z, D: ch}
}

// SinhCosh returns sinh and cosh of a + jb with one exponential and one pair of
// circular functions. |a| above 300 is taken as 300.
func SinhCosh(v complex128) (sinh, cosh complex128) {
	const most = 300
	sin, cos := math.Sincos(imag(v))
	a := math.Max(-most, math.Min(most, real(v)))
	var sh, ch float64
	if math.Abs(a) < 0.5 { // without the cancellation
		sh = math.Sinh(a)
		ch = math.Sqrt(1 + sh*sh)
	} else {
		e := math.Exp(a)
		sh, ch = (e-1/e)/2, (e+1/e)/2
	}
	return complex(sh*cos, ch*sin), complex(ch*cos, sh*sin)
}

// Mul returns m followed by n.
func (m Matrix) Mul(n Matrix) Matrix {
	return Matrix{
		A: m.A*n.A + m.B*n.C, B: m.A*n.B + m.B*n.D,
		C: m.C*n.A + m.D*n.C, D: m.C*n.B + m.D*n.D,
	}
}

// Cascade returns the two-ports one after the other; none is [Through].
func Cascade(parts ...Matrix) Matrix {
	m := Through()
	for _, p := range parts {
		m = m.Mul(p)
	}
	return m
}

// Det returns AD − BC: 1 if the two-port is reciprocal.
func (m Matrix) Det() complex128 { return m.A*m.D - m.B*m.C }

// Reverse returns the two-port seen from its other side, both flows still from the
// first port to the second:
//
//	[ D B; C A ] / (AD − BC)
//
// It is that of a two-port that has an inverse.
func (m Matrix) Reverse() Matrix {
	d := m.Det()
	return Matrix{A: m.D / d, B: m.B / d, C: m.C / d, D: m.A / d}
}

// Back returns effort and flow at the first port from those at the second.
func (m Matrix) Back(p2, u2 complex128) (p1, u1 complex128) {
	return m.A*p2 + m.B*u2, m.C*p2 + m.D*u2
}

// Impedance returns p₁/u₁ with an impedance z at the second port: (A·z + B)/(C·z + D).
// An infinite z is an open (in acoustics a closed) end.
func (m Matrix) Impedance(z complex128) complex128 {
	if cmplx.IsInf(z) {
		return m.A / m.C
	}
	p, u := m.Back(z, 1)
	return p / u
}
