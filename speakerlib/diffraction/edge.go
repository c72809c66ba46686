package diffraction

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/spatial/r3"
)

// node is a point of quadrature on an edge, seen from a source at the distance m.
// With η = a + b, where a = asinh((z−zS)/rS) belongs to the source and
// b = asinh((z−zR)/rR) to the receiver, e^{νη} is a product, and cosh νη needs no
// transcendental function per pair.
type node struct {
	at       r3.Vec
	z        float64 // along the edge, m
	weight   float64 // of the quadrature, m
	distance float64 // m(z), m
	grow     float64 // e^{νa}
}

// factor is β for a source on a face of the wedge, θS = 0, as a function of
// C = 2·cosh νη. The four terms of β are two pairs then; half of their sum is
//
//	sin ν(π+θ)/(cosh νη − cos ν(π+θ)) + sin ν(π−θ)/(cosh νη − cos ν(π−θ)) = (p·C + q)/((C − u)(C − v))
//
// with one division.
type factor struct {
	p, q, u, v float64
	near       [2]bool    // whether a term is so narrow that quadrature may miss it
	half       [2]float64 // ν(π±θ)/2, the second without cancellation
	nu         float64
}

// narrow is the angle νφ below which the peak of a term is integrated in closed form
// as well.
const narrow = 0.7

// newFactor takes the receiver's place beside the edge: x along the source's face
// away from the edge, y out of the face.
func newFactor(nu, x, y float64) factor {
	theta := math.Atan2(y, x)
	if theta < 0 {
		theta += 2 * math.Pi
	}
	plus, minus := nu*(math.Pi+theta), nu*math.Atan2(y, -x)
	f := factor{nu: nu, half: [2]float64{plus / 2, minus / 2}}
	s1, c1 := math.Sincos(plus)
	s2, c2 := math.Sincos(minus)
	if math.Abs(minus) < 1e-7 { // on the boundary the term is odd, and all of it in closed form
		s2, c2 = 0, -1
	}
	if math.Abs(plus-2*math.Pi) < 1e-7 {
		s1, c1 = 0, -1
	}
	f.u, f.v = 2*c1, 2*c2
	f.p = 2 * (s1 + s2)
	f.q = -2 * (s1*f.v + s2*f.u)
	f.near = [2]bool{math.Abs(plus-2*math.Pi) < narrow, math.Abs(minus) < narrow}
	return f
}

// at returns the half of β for e^{νη}.
func (f *factor) at(grow float64) float64 {
	c := grow + 1/grow
	return (f.p*c + f.q) / ((c - f.u) * (c - f.v))
}

// integral returns ∫ β/2 dη from η1 to η2 of both terms, in closed form:
//
//	∫ sin a/(cosh νη − cos a) dη = (2/ν)·atan(cot(a/2)·tanh(νη/2))
func (f *factor) integral(eta1, eta2 float64) float64 {
	sum := 0.0
	for _, half := range f.half {
		sum += primitive(half, f.nu, eta2) - primitive(half, f.nu, eta1)
	}
	return sum
}

func primitive(half, nu, eta float64) float64 {
	sin, cos := math.Sincos(half)
	t := math.Tanh(nu * eta / 2)
	if sin == 0 { // on the boundary: the mean of both sides
		return 0
	}
	if math.Abs(math.Remainder(half, math.Pi)) < 1e-13 {
		return 0
	}
	return 2 / nu * math.Atan2(cos*t*math.Copysign(1, sin), math.Abs(sin))
}

// place returns where a point is in the frame of a side: along the edge, along the
// face away from the edge, and out of the face.
func (s *side) place(p r3.Vec) (z, x, y float64) {
	d := r3.Sub(p, s.p)
	return r3.Dot(d, s.e), r3.Dot(d, s.t), r3.Dot(d, s.n)
}

// point returns the point of the edge at z.
func (s *side) point(z float64) r3.Vec { return r3.Add(s.p, r3.Scale(z, s.e)) }

// rule is a rule of quadrature on −1 … 1.
type rule struct{ x, w []float64 }

// rules keeps Gauss–Legendre rules by their order.
type rules map[int]rule

func (r rules) of(n int) rule {
	g, ok := r[n]
	if !ok {
		g = rule{make([]float64, n), make([]float64, n)}
		quad.Legendre{}.FixedLocations(g.x, g.w, -1, 1)
		r[n] = g
	}
	return g
}

// nodes appends the nodes of an edge for a source at zS along it and r away from it,
// in panels that grow away from the source, each with enough points for its part of
// the wavelength.
func (s *side) nodes(dst []node, zS, r float64, perMetre float64, rules rules) []node {
	cut := s.panels(zS, r)
	for i := range len(cut) - 1 {
		a, b := cut[i], cut[i+1]
		g := rules.of(8 + int(math.Ceil((b-a)*perMetre)))
		for k, x := range g.x {
			z := (a + b + (b-a)*x) / 2
			d := z - zS
			m := math.Hypot(r, d)
			dst = append(dst, node{at: s.point(z), z: z, weight: (b - a) / 2 * g.w[k], distance: m, grow: grow(s.nu, d, r, m)})
		}
	}
	return dst
}

// grow returns e^{νa}, a = asinh(d/r), m = hypot(d, r), without cancellation.
func grow(nu, d, r, m float64) float64 {
	if d >= 0 {
		return math.Exp(nu * math.Log((m+d)/r))
	}
	return math.Exp(-nu * math.Log((m-d)/r))
}

// panels returns the ends of the panels of an edge: at ±2, ±8, ±32 … distances of the
// source from its foot.
func (s *side) panels(zS, r float64) []float64 {
	cut := []float64{0}
	var grid []float64
	for d := 2 * r; d < 2*(s.length+math.Abs(zS)); d *= 4 {
		grid = append(grid, d)
	}
	add := func(z float64) {
		if last := cut[len(cut)-1]; z > last+0.3*r && z < s.length-0.3*r {
			cut = append(cut, z)
		}
	}
	for i := len(grid) - 1; i >= 0; i-- {
		add(zS - grid[i])
	}
	for _, d := range grid {
		add(zS + d)
	}
	return append(cut, s.length)
}
