package enclosure

import (
	"errors"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/twoport"
)

// Pipe is a vent as a line with the losses of viscosity and heat at its wall and the
// radiation of its outer mouth, so that its pipe resonances are there: near
// n·c/(2·(L+ends)) it lets the inside of the box out. Far below the first it is the
// air mass of the tube.
//
// The ends are the masses that the tube states; the outer mouth has besides them
// the radiation resistance of a piston in a wall (half space),
//
//	R = ρc/S · (1 − J₁(2ka)/(ka))
//
// of the radius a of all vents' area together, since they radiate as one at low
// frequencies. The air of the tube moves in plane waves: below 0.29·c/a for a
// round one. The mouth radiates into the same half space as the cone; the path
// between them is not in it.
type Pipe struct {
	Of Tube // Vent, Slot or Flare
}

// Tube is a vent whose length is what tunes it: [Vent], [Slot] or [Flare].
type Tube interface {
	Port
	// Mass returns the acoustic mass of all of them together, kg/m⁴.
	Mass(m air.Medium) float64
	// Displaced returns the volume that they take from the box, m³, with a wall of
	// the thickness given.
	Displaced(wall float64) float64
	length() float64
	shortest() float64 // the length that it cannot be without
	withLength(l float64) Tube
	slices() []slice
	ends(m air.Medium) (inner, outer float64) // masses, kg/m⁴
}

// slice is a piece of uniform duct, from the inside out.
type slice struct {
	duct   duct
	length float64 // m
	area   float64 // of all vents, m²
}

// Validate implements [Port].
func (p Pipe) Validate() error {
	if p.Of == nil {
		return errors.New("enclosure: pipe is of no tube, want a Vent, a Slot or a Flare")
	}
	return p.Of.Validate()
}

// Area implements [Port].
func (p Pipe) Area() float64 { return p.Of.Area() }

func (p Pipe) opening(outside bool) opening { return p.Of.opening(outside) }

func (p Pipe) way(m air.Medium, outside bool) way {
	w := &pipe{air: m, slices: p.Of.slices(), stiffness: m.Stiffness()}
	w.inner, w.outer = p.Of.ends(m)
	if outside {
		mouth := p.Of.Area()
		if n := len(w.slices); n > 0 {
			mouth = w.slices[n-1].area
		}
		w.radiates, w.radius = m.Impedance()/mouth, math.Sqrt(mouth/math.Pi)
	}
	return w
}

type pipe struct {
	air              air.Medium
	stiffness        float64
	slices           []slice
	inner, outer     float64 // masses of the ends, kg/m⁴
	radiates, radius float64 // ρc/S and a of the mouth; 0: into a chamber
}

func (p *pipe) matrix(hz float64) twoport.Matrix {
	w := 2 * math.Pi * hz
	m := twoport.Series(complex(0, w*p.inner))
	for _, s := range p.slices {
		z, y := s.duct.line(hz, p.air.Density, p.stiffness, s.area)
		gamma := cmplx.Sqrt(z * y)
		m = m.Mul(twoport.Line(z/gamma, gamma*complex(s.length, 0)))
	}
	end := complex(0, w*p.outer)
	if p.radiates > 0 {
		end += complex(p.radiates*pistonResistance(w*p.radius/p.air.SpeedOfSound), 0)
	}
	return m.Mul(twoport.Series(end))
}

// pistonResistance returns 1 − J₁(2x)/x.
func pistonResistance(x float64) float64 {
	if x < 0.05 {
		x2 := x * x
		return x2 / 2 * (1 - x2/6*(1-x2/12))
	}
	return 1 - math.J1(2*x)/x
}

func (v Vent) length() float64           { return v.Length }
func (v Vent) shortest() float64         { return 0 }
func (v Vent) withLength(l float64) Tube { v.Length = l; return v }

func (v Vent) slices() []slice {
	if v.Length == 0 {
		return nil
	}
	return []slice{{duct{width: v.Diameter / 2}, v.Length, v.Area()}}
}

func (v Vent) ends(m air.Medium) (inner, outer float64) {
	k := m.Density * v.Diameter / 2 / v.Area()
	return k * float64(v.Inner), k * float64(v.Outer)
}
