package radiation

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/internal/gauss"
)

// Ring is a flat ring in an infinite baffle that moves as one piece: a ring radiator,
// or a cone around something that stands still.
type Ring struct {
	Outer, Inner float64 // radii, m; an inner one of 0 is a piston
}

// Validate reports radii of no ring, and an outer one above [MaxRadius].
func (r Ring) Validate() error {
	if a, _ := r.radii(); math.IsNaN(a) {
		return fmt.Errorf("radiation: a ring from %g to %g m, want 0 ≤ inner < outer ≤ %g m", r.Inner, r.Outer, MaxRadius)
	}
	return nil
}

// radii are those of a ring that can be, and else no numbers.
func (r Ring) radii() (outer, inner float64) {
	if !(r.Inner >= 0 && r.Outer > r.Inner && r.Outer <= MaxRadius) {
		return math.NaN(), math.NaN()
	}
	return r.Outer, r.Inner
}

// Area returns π(a²−b²), m²; NaN of a ring that [Ring.Validate] refuses.
func (r Ring) Area() float64 {
	a, b := r.radii()
	return math.Pi * (a*a - b*b)
}

// Directivity returns the far-field pressure at an angle off the axis re that of a
// point source: the difference of two pistons, by their areas. Exact; for a thin ring it
// becomes J₀(ka·sin θ).
func (r Ring) Directivity(hz, angle float64, m air.Medium) float64 {
	s := wavenumber(hz, m) * math.Sin(turned(angle))
	a, b := r.radii()
	return (a*a*jinc(s*a) - b*b*jinc(s*b)) / (a*a - b*b)
}

// Pressure returns the pressure at a distance z ≥ 0 in front of the baffle and x off the
// axis, per m/s, in Pa·s/m: the difference of two pistons, as good as [Piston.Pressure].
func (r Ring) Pressure(hz, z, x float64, m air.Medium) complex128 {
	a, b := r.radii()
	p := Piston{a}.Pressure(hz, z, x, m)
	if b > 0 {
		p -= Piston{b}.Pressure(hz, z, x, m)
	}
	return p
}

// Elements returns the ring as point sources; see [Piston.Elements].
func (r Ring) Elements(centre, axis r3.Vec, rings int) ([]Element, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	return ringElements(r.Inner, r.Outer, centre, axis, rings, func(float64) float64 { return 0 })
}

// Dome is a spherical cap in a baffle that moves along its axis as one piece: a dome, or
// with a negative height a cone's hollow, by its rim.
type Dome struct {
	Radius float64 // of the rim, m
	Height float64 // of the apex above the baffle, m; negative inwards
}

// Validate reports a cap that is deeper than half a sphere, and a radius that is not positive
// or above [MaxRadius].
func (d Dome) Validate() error {
	if !(d.Radius > 0 && d.Radius <= MaxRadius && math.Abs(d.Height) <= d.Radius) {
		return fmt.Errorf("radiation: a dome %g m high on a radius of %g m, want a radius > 0 and at most %g m, and a height of at most the radius", d.Height, d.Radius, MaxRadius)
	}
	return nil
}

// height is that of the surface at a radius.
func (d Dome) height(r float64) float64 {
	if d.Height == 0 {
		return 0
	}
	h := math.Abs(d.Height)
	sphere := (d.Radius*d.Radius + h*h) / (2 * h)
	return math.Copysign(h-r*r/(sphere+math.Sqrt(sphere-r)*math.Sqrt(sphere+r)), d.Height)
}

// Directivity returns the far-field pressure at an angle off the axis, re that of a
// point source at the centre of the rim:
//
//	D = (2/a²) ∫₀^a J₀(kr·sin θ)·e^{jk·h(r)·cos θ}·r dr
//
// Every part of the surface, which moves along the axis and so counts by its projected
// area, radiates as if it were in the baffle, from its own depth. That neglects what
// the surface itself scatters: an approximation for kh below about 1 (h: the height) and
// in front, exact as h → 0. It shows how a dome loses on its axis what arrives at
// different times. It is NaN beyond k·(radius + height) = 1e5.
func (d Dome) Directivity(hz, angle float64, m air.Medium) complex128 {
	k := wavenumber(hz, m)
	sin, cos := math.Sincos(turned(angle))
	if d.Validate() != nil || !(k*(d.Radius+math.Abs(d.Height)) <= mostTurn) {
		return cmplx.NaN()
	}
	n := 24 + int(2*k*(d.Radius+math.Abs(d.Height)))
	x, w := make([]float64, n), make([]float64, n)
	gauss.Legendre(x, w, 0, 1)
	var sum complex128
	for i, u := range x { // u = r²/a²
		r := d.Radius * math.Sqrt(u)
		sum += complex(w[i]*math.J0(k*r*sin), 0) * cmplx.Exp(complex(0, k*d.height(r)*cos))
	}
	return sum
}

// Elements returns the dome as point sources in the plane of the rim, each ahead or
// late by its height over the speed of sound: exact for [Dome.Directivity] on the axis,
// where domes are heard, and by the factor 1/cos θ too much off it.
func (d Dome) Elements(centre, axis r3.Vec, rings int, m air.Medium) ([]Element, error) {
	if err := d.Validate(); err != nil {
		return nil, err
	}
	if err := m.Validate(); err != nil {
		return nil, err
	}
	return ringElements(0, d.Radius, centre, axis, rings, func(r float64) float64 { return -d.height(r) / m.SpeedOfSound })
}

// ringElements puts point sources on rings between two radii, with the outer one for a rim.
func ringElements(inner, outer float64, centre, axis r3.Vec, rings int, delay func(r float64) float64) ([]Element, error) {
	if rings < 1 || rings > 64 {
		return nil, fmt.Errorf("radiation: %d rings of elements, want 1 … 64", rings)
	}
	if s := r3.Norm(axis); !(s > 0) || math.IsInf(s, 0) || !finite(centre) {
		return nil, fmt.Errorf("radiation: elements around %v with the axis %v, want finite vectors and an axis that is not 0", centre, axis)
	}
	right, up := across(r3.Unit(axis))
	x, w := make([]float64, rings), make([]float64, rings)
	gauss.Legendre(x, w, inner*inner, outer*outer)
	around := 4 * rings
	var e []Element
	for i := range x {
		r := math.Sqrt(x[i])
		for k := range around {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(around))
			at := r3.Add(centre, r3.Add(r3.Scale(r*cos, right), r3.Scale(r*sin, up)))
			rim := Rim{Centre: r3.Sub(centre, at), Radius: outer}
			e = append(e, Element{At: at, Weight: w[i] / (outer*outer - inner*inner) / float64(around), Delay: delay(r), Rim: rim})
		}
	}
	return e, nil
}

func finite(v r3.Vec) bool {
	s := v.X + v.Y + v.Z
	return !math.IsNaN(s - s)
}

// across returns two unit vectors normal to an axis and to each other; for +z they are
// x and y.
func across(axis r3.Vec) (right, up r3.Vec) {
	up = r3.Vec{Y: 1}
	if math.Abs(axis.Y) > 0.9 {
		up = r3.Vec{Z: -1}
	}
	right = r3.Unit(r3.Cross(up, axis))
	return right, r3.Cross(axis, right)
}

// Rectangle is a flat rectangular piston in an infinite baffle: a ribbon, or the mouth
// of a slot.
type Rectangle struct {
	Width, Height float64 // m
}

// Validate reports sides that are not positive, or above [MaxSide].
func (r Rectangle) Validate() error {
	if w, _ := r.sides(); math.IsNaN(w) {
		return fmt.Errorf("radiation: a rectangle of %g × %g m, want values > 0 and at most %g m", r.Width, r.Height, MaxSide)
	}
	return nil
}

// sides are those of a rectangle that can be, and else no numbers.
func (r Rectangle) sides() (width, height float64) {
	if !(r.Width > 0 && r.Height > 0 && r.Width <= MaxSide && r.Height <= MaxSide) {
		return math.NaN(), math.NaN()
	}
	return r.Width, r.Height
}

// Area returns the area, m²; NaN of a rectangle that [Rectangle.Validate] refuses.
func (r Rectangle) Area() float64 {
	w, h := r.sides()
	return w * h
}

// Directivity returns the far-field pressure in a direction re that of a point source:
// sin(x)/x · sin(y)/y with x = (k·width/2)·sin α and y = (k·height/2)·sin β, where sin α and
// sin β are the direction's components along width and height, whose squares add up to 1 at
// most: beyond, it is NaN. Exact.
func (r Rectangle) Directivity(hz, sinAcross, sinUp float64, m air.Medium) float64 {
	if !(sinAcross*sinAcross+sinUp*sinUp <= 1+1e-9) {
		return math.NaN()
	}
	k := wavenumber(hz, m)
	w, h := r.sides()
	return sinc(k*w/2*sinAcross) * sinc(k*h/2*sinUp)
}

func sinc(x float64) float64 {
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/6
	}
	return math.Sin(x) / x
}

// Elements returns the rectangle as point sources around a centre: Gauss's rule in
// both directions, the width along the horizontal.
func (r Rectangle) Elements(centre, axis r3.Vec, wide, high int) ([]Element, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	if wide < 1 || high < 1 || wide*high > 4096 {
		return nil, fmt.Errorf("radiation: %d × %d elements, want at least one in each direction and 4096 in all", wide, high)
	}
	if s := r3.Norm(axis); !(s > 0) || math.IsInf(s, 0) || !finite(centre) {
		return nil, fmt.Errorf("radiation: elements around %v with the axis %v, want finite vectors and an axis that is not 0", centre, axis)
	}
	right, up := across(r3.Unit(axis))
	x, wx := make([]float64, wide), make([]float64, wide)
	y, wy := make([]float64, high), make([]float64, high)
	gauss.Legendre(x, wx, -r.Width/2, r.Width/2)
	gauss.Legendre(y, wy, -r.Height/2, r.Height/2)
	var e []Element
	for i := range x {
		for j := range y {
			at := r3.Add(centre, r3.Add(r3.Scale(x[i], right), r3.Scale(y[j], up)))
			rim := Rim{Centre: r3.Sub(centre, at), Across: r3.Scale(r.Width/2, right), Up: r3.Scale(r.Height/2, up)}
			e = append(e, Element{At: at, Weight: wx[i] * wy[j] / r.Area(), Rim: rim})
		}
	}
	return e, nil
}
