package measure

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// SphereStep is the step from half to full space of a small source in the front of a
// rigid sphere, on its axis far away:
//
//	H = e^{−jka}/(2j·(ka)²) · Σ (2n+1)·jⁿ / h_n′(ka)
//
// h_n is the spherical Hankel function of the second kind, a the radius, and the
// reference is the same source in an infinite wall, with both at the same distance
// from the front (P. M. Morse and K. U. Ingard, Theoretical Acoustics, 1968,
// section 7.2; from memory). It goes from 1/2 to 1 without the ripple of edges:
// −5.3 dB at ka = 0.5, −3.0 dB at 1, −1.6 dB at 2, −0.6 dB at 5.
//
// For the sphere it is exact. For a cabinet, taken as the sphere of its volume, it is
// an estimate without a free parameter, for where the cabinet is small against the
// wavelength: the edges of a box make ripple that a sphere has not. The gain that a
// join of two calibrated parts still needs ([Join]) tells how far it is off there.
type SphereStep struct{ radius, speed float64 }

// largestSphere is the largest ka, since the terms of the sum grow with it.
const largestSphere = 1000

// NewSphereStep returns the step of a sphere of a radius in metres.
func NewSphereStep(radius float64, m air.Medium) (*SphereStep, error) {
	if !(radius > 0) || math.IsInf(radius, 0) || !(m.SpeedOfSound > 0) {
		return nil, fmt.Errorf("measure: step of a sphere of radius %g m at %g m/s, want both finite and > 0", radius, m.SpeedOfSound)
	}
	return &SphereStep{radius, m.SpeedOfSound}, nil
}

// SphereOfVolume returns the radius in metres of the sphere of a volume in m³,
// (3V/4π)^(1/3). It panics if the volume is not positive.
func SphereOfVolume(volume float64) float64 {
	if !(volume > 0) {
		panic("measure: sphere of a volume that is not positive")
	}
	return math.Cbrt(3 * volume / (4 * math.Pi))
}

// CheckGrid implements [freq.Sampled]: it refuses frequencies of ka above 1000.
func (s *SphereStep) CheckGrid(g *freq.Grid) error {
	if ka := g.Omega()[g.Len()-1] / s.speed * s.radius; !(ka <= largestSphere) {
		return fmt.Errorf("measure: step of a sphere of radius %g m at %g Hz, ka = %.3g, want at most %d", s.radius, g.Last(), ka, largestSphere)
	}
	return nil
}

// ResponseTo implements [freq.Transfer].
func (s *SphereStep) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	if s.CheckGrid(g) != nil {
		panic("measure: step of a sphere at a frequency that is too high: ask CheckGrid")
	}
	dst = freq.Dst(dst, g.Len())
	for i, w := range g.Omega() {
		dst[i] = sphere(w / s.speed * s.radius)
	}
	return dst
}

func sphere(ka float64) complex128 {
	x := complex(ka, 0)
	before := cmplx.Rect(1/ka, -ka) // h of order −1
	h := before * 1i
	var sum complex128
	turn := complex(1, 0) // jⁿ
	for n := 0.0; ; n++ {
		term := complex(2*n+1, 0) * turn / (before - complex(n+1, 0)/x*h)
		sum += term
		// Beyond n = ka the terms fall without end.
		if n > ka && cmplx.Abs(term) < 1e-17*cmplx.Abs(sum) {
			return cmplx.Rect(1, -ka) / (2i * x * x) * sum
		}
		before, h = h, complex(2*n+1, 0)/x*h-before
		turn *= 1i
	}
}
