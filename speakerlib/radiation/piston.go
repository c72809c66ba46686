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

// Validate reports a radius that is not finite and positive.
func (p Piston) Validate() error {
	if !(p.Radius > 0) || math.IsInf(p.Radius, 0) {
		return fmt.Errorf("radiation: a piston with a radius of %g m, want a finite value > 0", p.Radius)
	}
	return nil
}

// PistonOf returns the piston of an area, such as Sd.
func PistonOf(area float64) Piston { return Piston{math.Sqrt(area / math.Pi)} }

// Area returns πa², m².
func (p Piston) Area() float64 { return math.Pi * p.Radius * p.Radius }

// mostTurn is the largest product of wavenumber and size at which sums whose number of terms
// rises with it are still made.
const mostTurn = 1e5

// wavenumber is no number in air that is none, such as the zero value.
func wavenumber(hz float64, m air.Medium) float64 {
	if !(m.SpeedOfSound > 0) {
		return math.NaN()
	}
	return 2 * math.Pi * hz / m.SpeedOfSound
}

// Impedance returns the mechanical radiation impedance of one side, force over
// velocity, in N·s/m:
//
//	Z = ρc·πa²·(R₁ + jX₁),  R₁ = 1 − J₁(2ka)/ka,  X₁ = H₁(2ka)/ka
//
// with Bessel's and Struve's functions (Lord Rayleigh, The Theory of Sound, § 302; L.
// Beranek and T. Mellow, Acoustics, 2012, section 13.7; section from memory). Exact.
// Divided by (πa²)² it is the acoustic impedance in Pa·s/m³.
func (p Piston) Impedance(hz float64, m air.Medium) complex128 {
	r, x := pistonImpedance(wavenumber(hz, m) * p.Radius)
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
	return jinc(wavenumber(hz, m) * p.Radius * math.Sin(angle))
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
	ka := wavenumber(hz, m) * p.Radius
	r, _ := pistonImpedance(ka)
	return ka * ka / r
}

// OnAxis returns the pressure on the axis at a distance z from the piston, per m/s of
// its velocity, in Pa·s/m:
//
//	p/v = ρc·(e^{−jkz} − e^{−jk√(z²+a²)})
//
// Exact at any distance.
func (p Piston) OnAxis(hz, z float64, m air.Medium) complex128 {
	k := wavenumber(hz, m)
	far := math.Hypot(z, p.Radius)
	// 2j·sin(k(R−z)/2)·e^{−jk(R+z)/2}, without cancellation at low frequencies
	half := k * (p.Radius * p.Radius / (far + z)) / 2
	return complex(m.Impedance(), 0) * complex(0, 2*math.Sin(half)) * cmplx.Exp(complex(0, -k*(far+z)/2))
}

// Pressure returns the pressure at a distance z in front of the baffle and x off the
// axis, per m/s of the piston's velocity, in Pa·s/m: near field and far.
//
//	p/v = (ρc/2π) ∮ (e^{−jkz} − e^{−jkR})·(a² − ax·cos φ)/ρ² dφ,  ρ² = a² + x² − 2ax·cos φ,  R² = z² + ρ²
//
// the integral of Rayleigh (§ 278) with its integral over the distance done in closed
// form, which leaves one around the rim (A. Schoch, Akustische Zeitschrift 6, 1941).
// The quadrature is good to 1e-9 of ρc; within a fiftieth of a radius of the rim itself 1e-6
// remain, within a five-hundredth 2e-3. It is NaN beyond ka = 1e5.
func (p Piston) Pressure(hz, z, x float64, m air.Medium) complex128 {
	a, k := p.Radius, wavenumber(hz, m)
	z, x = math.Abs(z), math.Abs(x)
	if !(math.Abs(k*a) <= mostTurn) || math.IsNaN(x) {
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
