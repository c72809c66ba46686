package radiation

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/air"
)

// Piston is a flat round piston in an infinite rigid baffle: a cone below its breakup,
// or the mouth of a round vent.
type Piston struct {
	Radius float64 // a, m
}

// Validate reports a radius that is not positive, or above [MaxRadius].
func (p Piston) Validate() error {
	if math.IsNaN(p.radius()) {
		return fmt.Errorf("radiation: a piston with a radius of %g m, want a value > 0 and at most %g m", p.Radius, MaxRadius)
	}
	return nil
}

// radius is that of a piston that can be, and else no number.
func (p Piston) radius() float64 {
	if !(p.Radius > 0 && p.Radius <= MaxRadius) {
		return math.NaN()
	}
	return p.Radius
}

// PistonOf returns the piston of an area in m², such as Sd. One of an area that is not positive
// or above π m², such as 138 for 138 cm², [Piston.Validate] refuses.
func PistonOf(area float64) Piston { return Piston{math.Sqrt(area / math.Pi)} }

// Area returns πa², m²; NaN of a piston that [Piston.Validate] refuses.
func (p Piston) Area() float64 { return math.Pi * p.radius() * p.radius() }

// Impedance returns the mechanical radiation impedance of one side, force over
// velocity, in N·s/m:
//
//	Z = ρc·πa²·(R₁ + jX₁),  R₁ = 1 − J₁(2ka)/ka,  X₁ = H₁(2ka)/ka
//
// with Bessel's and Struve's functions (Lord Rayleigh, The Theory of Sound, § 302; L.
// Beranek and T. Mellow, Acoustics, 2012, section 13.7; section from memory). Exact.
// Divided by (πa²)² it is the acoustic impedance in Pa·s/m³.
func (p Piston) Impedance(hz float64, m air.Medium) complex128 {
	r, x := pistonImpedance(wavenumber(hz, m) * p.radius())
	return complex(m.Impedance()*p.Area(), 0) * complex(r, x)
}

func pistonImpedance(ka float64) (r, x float64) {
	if ka < 1e-3 { // to within 1e-7 of themselves
		return ka * ka / 2, 8 * ka / (3 * math.Pi)
	}
	return 1 - math.J1(2*ka)/ka, struveH1(2*ka) / ka
}

// Directivity returns the far-field pressure at an angle off the axis, re that of a
// point source in the baffle:
//
//	D = 2·J₁(x)/x,  x = ka·sin θ
//
// Exact.
func (p Piston) Directivity(hz, angle float64, m air.Medium) float64 {
	return jinc(wavenumber(hz, m) * p.radius() * math.Sin(turned(angle)))
}

func jinc(x float64) float64 {
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/8
	}
	return 2 * math.J1(x) / x
}

// DirectivityFactor returns Q, the intensity on the axis over the mean intensity of
// the same power radiated into full space:
//
//	Q = (ka)²/(1 − J₁(2ka)/ka)
//
// which goes to 2 at low frequencies, because the baffle leaves half of the space.
func (p Piston) DirectivityFactor(hz float64, m air.Medium) float64 {
	ka := wavenumber(hz, m) * p.radius()
	if ka == 0 {
		return 2
	}
	r, _ := pistonImpedance(ka)
	return ka * ka / r
}

// OnAxis returns the pressure on the axis at a distance z ≥ 0 from the piston, per m/s of
// its velocity, in Pa·s/m:
//
//	p/v = ρc·(e^{−jkz} − e^{−jk√(z²+a²)})
//
// Exact at any distance.
func (p Piston) OnAxis(hz, z float64, m air.Medium) complex128 {
	if !inFront(z, 0) {
		return cmplx.NaN()
	}
	k := wavenumber(hz, m)
	far := math.Hypot(z, p.radius())
	// 2j·sin(k(R−z)/2)·e^{−jk(R+z)/2}, without cancellation at low frequencies
	half := k * (p.Radius * p.Radius / (far + z)) / 2
	return complex(m.Impedance(), 0) * complex(0, 2*math.Sin(half)) * cmplx.Exp(complex(0, -k*(far+z)/2))
}

// Pressure returns the pressure at a distance z ≥ 0 in front of the baffle and x off the
// axis, per m/s of the piston's velocity, in Pa·s/m: near field and far.
//
//	p/v = (ρc/2π) ∮ (e^{−jkz} − e^{−jkR})·(a² − ax·cos φ)/ρ² dφ,  ρ² = a² + x² − 2ax·cos φ,  R² = z² + ρ²
//
// the integral of Rayleigh (§ 278) with its integral over the distance done in closed
// form, which leaves one around the rim (A. Schoch, Akustische Zeitschrift 6, 1941).
// The quadrature is good to 1e-9 of ρc; within a fiftieth of a radius of the rim itself 1e-6
// remain, within a five-hundredth 2e-3. It is NaN beyond ka = 1e5.
func (p Piston) Pressure(hz, z, x float64, m air.Medium) complex128 {
	a, k := p.radius(), wavenumber(hz, m)
	x = math.Abs(x)
	if !(k*a <= mostTurn) || !inFront(z, x) {
		return cmplx.NaN()
	}
	n := 256 + 4*int(math.Ceil(k*math.Min(a, x)))
	var sum complex128
	for i := range n {
		_, cos := math.Sincos(math.Pi * (float64(i) + 0.5) / float64(n))
		rho2 := (a-x)*(a-x) + 2*a*x*(1-cos)
		path := math.Sqrt(z*z + rho2)
		half := k * rho2 / (path + z) / 2
		sum += complex(0, 2*math.Sin(half)) * cmplx.Exp(complex(0, -k*(path+z)/2)) * complex((a*a-a*x*cos)/rho2, 0)
	}
	return sum * complex(m.Impedance()/float64(n), 0)
}

// Elements returns the piston as point sources around a centre, in the plane that the
// axis is normal to: rings by Gauss's rule in r², each of 4·rings points. The directivity
// of n rings is within 1e-3 of the piston's up to ka·sin θ = 3.5·n − 4.
func (p Piston) Elements(centre, axis r3.Vec, rings int) ([]Element, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	return ringElements(0, p.Radius, centre, axis, rings, func(float64) float64 { return 0 })
}
