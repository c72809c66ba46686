package diffraction

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/air"
)

// Wedge is an infinite rigid wedge, by the angle that the air fills: 3π/2 at a right
// edge, 2π at the edge of a half plane.
type Wedge struct {
	Open float64 // θw, rad
}

// Cylindrical is a point beside an edge: its distance from it, the angle from the
// first face through the air, and the place along the edge.
type Cylindrical struct {
	Radius float64 // m
	Angle  float64 // rad
	Z      float64 // m
}

// Validate reports an angle of no wedge: it must be above π (an inner corner
// reflects more than once, which is not told here) and at most 2π.
func (w Wedge) Validate() error {
	if !(w.Open > math.Pi && w.Open <= 2*math.Pi) {
		return fmt.Errorf("diffraction: a wedge with an open angle of %g rad, want above π up to 2π", w.Open)
	}
	return nil
}

// Diffracted returns the part of the sound of a monopole, free field e^{−jkr}/r, that
// the edge diffracts:
//
//	p = −(ν/2π) ∫₀^∞ β(η)·e^{−jkL}/L dη,  L² = rS² + rR² + 2·rS·rR·cosh η + (zR−zS)²
//	β = Σ sin(νφ)/(cosh νη − cos νφ),  φ = π±θS±θR,  ν = π/θw
//
// It is exact: the solution of M. A. Biot and I. Tolstoy (J. Acoust. Soc. Am. 29,
// 1957) in the form of P. Svensson, R. Fred and J. Vanderkooy (J. Acoust. Soc. Am.
// 106, 1999), with the place along the edge replaced by the auxiliary variable η of
// that paper, for which dz/(m·l) = dη/(m+l). The path of integration is bent into
// the complex plane, where the integrand does not oscillate; the error is below 1e-10
// of the free field. On a zone boundary, where β has no limit, it is the mean of
// both sides.
func (w Wedge) Diffracted(source, receiver Cylindrical, hz float64, m air.Medium) (complex128, error) {
	if err := w.check(source, receiver, hz, m); err != nil {
		return 0, err
	}
	nu := math.Pi / w.Open
	var sin, versine [4]float64
	for i, phi := range phis(source.Angle, receiver.Angle) {
		a := math.Remainder(nu*phi, 2*math.Pi)
		if math.Abs(a) < 1e-13 {
			continue // on a boundary the term is odd
		}
		half := math.Sin(a / 2)
		sin[i], versine[i] = math.Sin(a), 2*half*half
	}
	k := 2 * math.Pi * hz / m.SpeedOfSound
	rr := 2 * source.Radius * receiver.Radius
	l0 := source.Radius*source.Radius + receiver.Radius*receiver.Radius + (receiver.Z-source.Z)*(receiver.Z-source.Z)
	const step = 1.0 / 32
	var sum complex128
	for s := -46.0; s < 5.6; s += step {
		x := math.Exp(s) // alike at every scale, so that a zone boundary may be near
		const bend = 1.2
		th := math.Tanh(x)
		eta, slope := complex(x, -bend*th), complex(1, -bend*(1-th*th))
		l := cmplx.Sqrt(complex(l0, 0) + complex(rr, 0)*cmplx.Cosh(eta))
		sh := cmplx.Sinh(complex(nu/2, 0) * eta)
		var beta complex128
		for i := range sin {
			// cosh νη − cos νφ = 2·sinh²(νη/2) + 2·sin²(νφ/2)
			if sin[i] != 0 {
				beta += complex(sin[i], 0) / (2*sh*sh + complex(versine[i], 0))
			}
		}
		sum += beta * cmplx.Exp(complex(0, -k)*l) / l * slope * complex(x*step, 0)
	}
	return complex(-nu/(2*math.Pi), 0) * sum, nil
}

// phis are the four angles of β.
func phis(s, r float64) [4]float64 {
	return [4]float64{math.Pi + s + r, math.Pi + s - r, math.Pi - s + r, math.Pi - s - r}
}

// Geometric returns what arrives without diffraction: the direct sound and the
// reflections of both faces, each where it is seen, and half of it on the boundary
// where it ends. The whole field is the sum with [Wedge.Diffracted]. A source on a face
// coincides with its reflection, and counts twice.
func (w Wedge) Geometric(source, receiver Cylindrical, hz float64, m air.Medium) (complex128, error) {
	if err := w.check(source, receiver, hz, m); err != nil {
		return 0, err
	}
	k := 2 * math.Pi * hz / m.SpeedOfSound
	var sum complex128
	for _, angle := range []float64{
		receiver.Angle - source.Angle, receiver.Angle + source.Angle, 2*w.Open - receiver.Angle - source.Angle,
	} {
		r := math.Hypot(receiver.Z-source.Z, math.Sqrt(source.Radius*source.Radius+receiver.Radius*receiver.Radius-2*source.Radius*receiver.Radius*math.Cos(angle)))
		seen := 1.0
		switch d := math.Pi - math.Abs(angle); {
		case math.Abs(d) < 1e-12:
			seen = 0.5
		case d < 0:
			continue
		}
		if r == 0 {
			return 0, fmt.Errorf("diffraction: the receiver is at the source, want some distance")
		}
		sum += complex(seen/r, 0) * cmplx.Exp(complex(0, -k*r))
	}
	return sum, nil
}

// mostPeriods is how many wavelengths a way over the edge may be long, so that its phase keeps
// its digits.
const mostPeriods = 1e8

func (w Wedge) check(source, receiver Cylindrical, hz float64, m air.Medium) error {
	if err := w.Validate(); err != nil {
		return err
	}
	if err := m.Validate(); err != nil {
		return err
	}
	if !(hz >= 0) || math.IsInf(hz, 0) {
		return fmt.Errorf("diffraction: frequency is %g Hz, want a finite value ≥ 0", hz)
	}
	for i, p := range []Cylindrical{source, receiver} {
		name := [...]string{"source", "receiver"}[i]
		if !(p.Radius >= 1e-9 && p.Radius <= 1e6) || !(math.Abs(p.Z) <= 1e6) {
			return fmt.Errorf("diffraction: the %s is %g m from the edge at z = %g m, want it off the edge by 1e-9 … 1e6 m and at −1e6 … 1e6 m", name, p.Radius, p.Z)
		}
		if !(p.Angle >= 0 && p.Angle <= w.Open) {
			return fmt.Errorf("diffraction: the %s is at an angle of %g rad, want 0 … %g rad: elsewhere is the inside of the wedge", name, p.Angle, w.Open)
		}
	}
	if n := (source.Radius + receiver.Radius + math.Abs(source.Z-receiver.Z)) * hz / m.SpeedOfSound; !(n <= mostPeriods) {
		return fmt.Errorf("diffraction: at %g Hz the way over the edge is %.3g wavelengths long, want at most %g", hz, n, float64(mostPeriods))
	}
	return nil
}
