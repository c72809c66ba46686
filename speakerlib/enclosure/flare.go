package enclosure

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"example.org/loudspeaker/speakerlib/air"
)

// Flare is one or more equal round vents whose mouths open by a quarter of a circle,
// of the radius r, from the throat's radius a to a + r. Its acoustic mass is that of
// plane waves along it,
//
//	Map = ρ/n·∫dx/S(x) + ρ·(e₁/(a+r₁) + e₂/(a+r₂))/(nπ)
//
// with the end corrections at the mouths. Surfaces of equal pressure that are planes
// make the first part a lower bound (Rayleigh, Theory of Sound, § 305; from memory), by
// some percent of the flares' share where they open fast: the ends are the place to put what a measured tuning says.
type Flare struct {
	Diameter               float64 // of the throat, m
	Length                 float64 // over all, both flares included, m
	InnerFlare, OuterFlare float64 // radii r₁, r₂ of the flares, m; 0 is a sharp end
	Inner, Outer           End     // of the mouths, as multiples of their radii
	Count                  int     // 1 or more
}

// Validate implements [Port].
func (f Flare) Validate() error {
	switch {
	case f.Count < 1:
		return fmt.Errorf("enclosure: %d flared vents, want at least 1", f.Count)
	case !positive(f.Diameter, 1/f.Area()):
		return fmt.Errorf("enclosure: flared vent diameter is %g m, want a finite value > 0", f.Diameter)
	case !(f.InnerFlare >= 0 && f.InnerFlare <= 10*f.Diameter && f.OuterFlare >= 0 && f.OuterFlare <= 10*f.Diameter):
		return fmt.Errorf("enclosure: flares have radii of %g and %g m, want 0 to 10 diameters of %g m", f.InnerFlare, f.OuterFlare, f.Diameter)
	case !(f.Length >= f.shortest()*(1-1e-12)) || math.IsInf(f.Length, 0):
		return fmt.Errorf("enclosure: flared vent is %g m long, want at least the %g m of its flares", f.Length, f.shortest())
	case !(f.Inner >= 0 && f.Inner <= 2 && f.Outer >= 0 && f.Outer <= 2):
		return fmt.Errorf("enclosure: end corrections of the flared vent are %g and %g radii, want 0 to 2", float64(f.Inner), float64(f.Outer))
	case !(f.Mass(air.Medium{Density: 1, SpeedOfSound: 1}) > 0):
		return fmt.Errorf("enclosure: flared vent of length 0 without end corrections has no mass")
	}
	return nil
}

// opens integrates of(R)·dx over a flare of radius r, from the angle lo to hi: 0 at
// the throat, π/2 at the mouth.
func (f Flare) opens(r, lo, hi float64, of func(radius float64) float64) float64 {
	if r == 0 {
		return 0
	}
	a := f.Diameter / 2
	return quad.Fixed(func(phi float64) float64 {
		cos := math.Cos(phi)
		return of(a+r*(1-cos)) * r * cos
	}, lo, hi, 24, quad.Legendre{}, 0)
}

func perArea(radius float64) float64 { return 1 / (math.Pi * radius * radius) }

func (f Flare) straight() float64 { return math.Max(0, f.Length-f.shortest()) }

// Area implements [Port]: that of the throat.
func (f Flare) Area() float64 { return float64(f.Count) * math.Pi / 4 * f.Diameter * f.Diameter }

// Mass implements [Tube].
func (f Flare) Mass(m air.Medium) float64 {
	sum := f.straight() * perArea(f.Diameter/2)
	for _, r := range []float64{f.InnerFlare, f.OuterFlare} {
		sum += f.opens(r, 0, math.Pi/2, perArea)
	}
	inner, outer := f.ends(m)
	return m.Density*sum/float64(f.Count) + inner + outer
}

// Tuning returns the resonance with a net volume, Hz.
func (f Flare) Tuning(vb float64, m air.Medium) float64 { return tuning(f, vb, m) }

// Displaced implements [Tube]: the outer flare, too, is taken to stand in the box.
func (f Flare) Displaced(wall float64) float64 {
	disc := func(radius float64) float64 { return math.Pi * (radius + wall) * (radius + wall) }
	v := f.straight() * disc(f.Diameter/2)
	for _, r := range []float64{f.InnerFlare, f.OuterFlare} {
		v += f.opens(r, 0, math.Pi/2, disc)
	}
	return float64(f.Count) * v
}

// Loss is as [Vent.Loss] at the speed in the throat, with the smaller flare as the
// edge.
func (f Flare) Loss(hz, speed float64, m air.Medium) float64 {
	return jetLoss(hz, speed, math.Min(f.InnerFlare, f.OuterFlare), f.Diameter) * m.Density * speed / f.Area()
}

func (f Flare) way(m air.Medium, _ bool) way { return lump{mass: f.Mass(m)} }

func (f Flare) opening(outside bool) opening {
	return opening{area: f.Area(), outside: outside, loss: f.Loss}
}

func (f Flare) length() float64           { return f.Length }
func (f Flare) shortest() float64         { return f.InnerFlare + f.OuterFlare }
func (f Flare) withLength(l float64) Tube { f.Length = l; return f }

// slices returns the flares as steps that have the mass of their piece each.
func (f Flare) slices() []slice {
	const steps = 5
	var out []slice
	flare := func(r float64, k int) {
		lo, hi := float64(k)*math.Pi/2/steps, float64(k+1)*math.Pi/2/steps
		l := r * (math.Sin(hi) - math.Sin(lo))
		area := l / f.opens(r, lo, hi, perArea)
		out = append(out, slice{duct{width: math.Sqrt(area / math.Pi)}, l, float64(f.Count) * area})
	}
	if f.InnerFlare > 0 {
		for k := steps - 1; k >= 0; k-- {
			flare(f.InnerFlare, k)
		}
	}
	if s := f.straight(); s > 0 {
		out = append(out, slice{duct{width: f.Diameter / 2}, s, f.Area()})
	}
	if f.OuterFlare > 0 {
		for k := range steps {
			flare(f.OuterFlare, k)
		}
	}
	return out
}

func (f Flare) ends(m air.Medium) (inner, outer float64) {
	k := m.Density / (math.Pi * float64(f.Count))
	return k * float64(f.Inner) / (f.Diameter/2 + f.InnerFlare), k * float64(f.Outer) / (f.Diameter/2 + f.OuterFlare)
}
