package radiation

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/air"
)

// CapMotion is how a cap on a sphere moves.
type CapMotion int

// The motions.
const (
	// Radial: every part of the cap moves outwards alike, as a breathing skin.
	Radial CapMotion = iota
	// Axial: the cap moves along its axis as one piece, as a dome.
	Axial
)

// SphereCap is a vibrating cap on a rigid sphere: a driver in a round cabinet, and the
// one cabinet whose diffraction is known in closed form.
type SphereCap struct {
	Radius    float64   // of the sphere, m
	HalfAngle float64   // of the cap, rad; 0 is a point source
	Motion    CapMotion // of a cap that is no point
}

// Validate reports a sphere or a cap that cannot be.
func (s SphereCap) Validate() error {
	switch {
	case !(s.Radius > 0 && s.Radius <= MaxRadius):
		return fmt.Errorf("radiation: a sphere with a radius of %g m, want a value > 0 and at most %g m", s.Radius, MaxRadius)
	case !(s.HalfAngle >= 0 && s.HalfAngle <= math.Pi/2):
		return fmt.Errorf("radiation: a cap of %g rad to its rim, want 0 … π/2", s.HalfAngle)
	case s.Motion != Radial && s.Motion != Axial:
		return fmt.Errorf("radiation: motion %d of a cap, want Radial or Axial", s.Motion)
	}
	return nil
}

// Directivity returns the far-field pressure at an angle from the cap's axis re that of
// a point source of the same volume velocity in the free field (full space, not half) at
// the centre of the sphere:
//
//	D = (1/(ka)²) Σ (2n+1)·gₙ·jⁿ⁻¹·Pₙ(cos θ)/hₙ⁽²⁾′(ka)
//
// with gₙ = 1 for a point, (Pₙ₋₁(cos α) − Pₙ₊₁(cos α))/((2n+1)(1 − cos α)) for a radial cap,
// and the mean of Pₙ·cos θ over the cap for an axial one (P. M. Morse and K. U. Ingard,
// Theoretical Acoustics, 1968, section 7.2; section from memory). The series ends
// where its terms are below 1e-14. Exact; e^{jka·cos θ} more in phase than re a source at
// the pole. It is NaN beyond ka = 1e5.
func (s SphereCap) Directivity(hz, angle float64, m air.Medium) complex128 {
	ka, mu := wavenumber(hz, m)*s.Radius, math.Cos(turned(angle))
	switch {
	case s.Validate() != nil || !(ka <= mostTurn) || math.IsNaN(mu):
		return cmplx.NaN()
	case ka == 0:
		return 1
	}
	most := int(ka+12*math.Cbrt(ka)) + 30
	g := s.legendre(most)
	// hₙ⁽²⁾ = jₙ − j·yₙ upwards: where jₙ would lose its digits, yₙ is all of it.
	sin, cos := math.Sincos(ka)
	h0, h1 := complex(sin, cos)/complex(ka, 0), complex(sin/ka-cos, cos/ka+sin)/complex(ka, 0)
	p0, p1 := 1.0, mu
	turn := complex(0, -1) // jⁿ⁻¹
	var sum complex128
	for n := range most {
		// hₙ′ = n·hₙ/x − hₙ₊₁
		dh := complex(float64(n)/ka, 0)*h0 - h1
		term := complex(float64(2*n+1)*g[n]*p0, 0) * turn / dh
		if cmplx.IsNaN(term) || cmplx.IsInf(dh) {
			break // hₙ is beyond the range of numbers, and the term below it
		}
		sum += term
		h0, h1 = h1, complex(float64(2*n+3)/ka, 0)*h1-h0
		p0, p1 = p1, (float64(2*n+3)*mu*p1-float64(n+1)*p0)/float64(n+2)
		turn *= complex(0, 1)
	}
	return sum / complex(ka*ka, 0)
}

// legendre returns the means gₙ of Pₙ over the cap, weighted by its motion.
func (s SphereCap) legendre(most int) []float64 {
	g := make([]float64, most)
	if s.HalfAngle == 0 {
		for n := range g {
			g[n] = 1
		}
		return g
	}
	// As polynomials of t = sin²(α/2), Pₙ = Σ (−n)ₖ(n+1)ₖ/(k!)²·tᵏ, where the differences
	// below would cancel.
	t := math.Pow(math.Sin(s.HalfAngle/2), 2)
	series := func(n int) float64 { // mean of Pₙ over the area of the cap
		sum, term := 1.0, 1.0
		for k := 1; math.Abs(term) > 1e-17; k++ {
			term *= float64(k-1-n) * float64(n+k) / float64(k*k) * t
			sum += term / float64(k+1)
		}
		return sum
	}
	x := math.Cos(s.HalfAngle)
	p := make([]float64, most+3)
	p[0], p[1] = 1, x
	for n := 2; n < len(p); n++ {
		p[n] = (float64(2*n-1)*x*p[n-1] - float64(n-1)*p[n-2]) / float64(n)
	}
	// ∫ₓ¹ Pₙ = (Pₙ₋₁ − Pₙ₊₁)/(2n+1)
	area := func(n int) float64 { // over 1 − x
		if float64(n*(n+1))*t < 1 {
			return series(n)
		}
		return (p[n-1] - p[n+1]) / float64(2*n+1) / (2 * t)
	}
	for n := range g {
		switch {
		case s.Motion == Radial:
			g[n] = area(n)
		case n == 0:
			g[n] = 1
		default: // μPₙ = ((n+1)Pₙ₊₁ + nPₙ₋₁)/(2n+1), over ∫μ = (1−x)(1+x)/2
			g[n] = (float64(n+1)*area(n+1) + float64(n)*area(n-1)) / float64(2*n+1) / ((1 + x) / 2)
		}
	}
	return g
}
