package diffraction

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/internal/gauss"
)

// node is a point of quadrature on an edge, seen from a source at the distance m.
// With η = a + b, where a = asinh((z−zS)/rS) belongs to the source and
// b = asinh((z−zR)/rR) to the receiver, e^{νη} is a product, and cosh νη needs no
// transcendental function per pair.
type node struct {
	z            float64 // along the edge, m
	distance     float64 // m(z), m
	share        float64 // weight of the quadrature over m
	grow, shrink float64 // e^{νa}, e^{−νa}
}

// factor is β for a source on a face of the wedge, θS = 0, as a function of
// C = 2·cosh νη. The four terms of β are two pairs then; half of their sum is
//
//	sin ν(π+θ)/(cosh νη − cos ν(π+θ)) + sin ν(π−θ)/(cosh νη − cos ν(π−θ)) = (p·C + q)/((C − u)(C − v))
//
// with one division.
//
// Within soft of a zone boundary, u and v are those at soft: the peak, which no points
// would see, is blunt, with the tails of the true one. What it lacks is added in closed form.
type factor struct {
	quotient
	sharp quotient   // without soft
	near  [2]bool    // whether a term is so narrow that quadrature may miss it
	gap   float64    // angle to the nearer zone boundary, rad
	cot   [2]float64 // cot(ν(π±θ)/2), the second without cancellation; 0 on the boundary
	nu    float64
}

// quotient is (p·C + q)/((C − u)(C − v)).
type quotient struct{ p, q, u, v float64 }

func newQuotient(s1, c1, s2, c2 float64) quotient {
	return quotient{2 * (s1 + s2), -4 * (s1*c2 + s2*c1), 2 * c1, 2 * c2}
}

// soft is the angle νφ below which a peak is blunt: as sharp as it is, it would be a very
// large weight on a point that happens to be there, and the digits of all others lost.
const soft = 0.03

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
	f := factor{nu: nu, cot: [2]float64{cotHalf(plus), cotHalf(minus)}}
	s1, c1 := math.Sincos(plus)
	s2, c2 := math.Sincos(minus)
	f.sharp = newQuotient(s1, c1, s2, c2)
	toPlus, toMinus := math.Abs(plus-2*math.Pi), math.Abs(minus)
	f.quotient = newQuotient(s1, math.Cos(math.Max(toPlus, soft)), s2, math.Cos(math.Max(toMinus, soft)))
	f.gap = math.Min(toPlus, toMinus) / nu
	f.near = [2]bool{toPlus < narrow, toMinus < narrow}
	return f
}

// at returns the half of β for e^{νη}.
func (f *quotient) at(grow float64) float64 {
	c := grow + 1/grow
	return (f.p*c + f.q) / ((c - f.u) * (c - f.v))
}

// cotHalf returns cot(a/2), and 0 on a boundary, where the mean of both sides is.
func cotHalf(a float64) float64 {
	if math.Abs(math.Remainder(a, 2*math.Pi)) < 2e-13 {
		return 0
	}
	return 1 / math.Tan(a/2)
}

// integral returns ∫ β/2 dη of both terms from e^{νη₁} to e^{νη₂}, in closed form:
//
//	∫ sin a/(cosh νη − cos a) dη = (2/ν)·atan(cot(a/2)·tanh(νη/2))
func (f *factor) integral(from, to float64) float64 {
	t1, t2 := (from-1)/(from+1), (to-1)/(to+1) // tanh(νη/2)
	return 2 / f.nu * (math.Atan(f.cot[0]*t2) - math.Atan(f.cot[0]*t1) + math.Atan(f.cot[1]*t2) - math.Atan(f.cot[1]*t1))
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

// rules keeps Gauss–Legendre rules by their order, and room for the ends of panels.
type rules struct {
	byOrder map[int]rule
	cut     []float64
}

func newRules() *rules { return &rules{byOrder: map[int]rule{}} }

func (r *rules) of(n int) rule {
	g, ok := r.byOrder[n]
	if !ok {
		g = rule{make([]float64, n), make([]float64, n)}
		gauss.Legendre(g.x, g.w, -1, 1)
		r.byOrder[n] = g
	}
	return g
}

// foot is the place of a source or receiver beside an edge: along it and away from it.
type foot struct{ z, r float64 }

// nodes appends the nodes of an edge for a source beside it, in panels that grow away
// from the given feet, each with points enough for its part of the wavelength.
func (s *side) nodes(dst []node, source foot, perMetre float64, rules *rules, feet ...foot) []node {
	cut := s.panels(rules.cut[:0], feet)
	rules.cut = cut
	for i := range len(cut) - 1 {
		a, b := cut[i], cut[i+1]
		g := rules.of(8 + int(math.Ceil((b-a)*perMetre)))
		for k, x := range g.x {
			z := (a + b + (b-a)*x) / 2
			d := z - source.z
			m := math.Hypot(source.r, d)
			e := grow(s.nu, d, source.r, m)
			dst = append(dst, node{z: z, distance: m, share: (b - a) / 2 * g.w[k] / m, grow: e, shrink: 1 / e})
		}
	}
	return dst
}

// grow returns e^{νa}, a = asinh(d/r), m = hypot(d, r), without cancellation.
func grow(nu, d, r, m float64) float64 { return math.Exp(turn(nu, d, r, m)) }

// turn returns νa.
func turn(nu, d, r, m float64) float64 {
	if d >= 0 {
		return nu * math.Log((m+d)/r)
	}
	return -nu * math.Log((m-d)/r)
}

// panels returns the ends of the panels of an edge: at ±2, ±8, ±32 … distances of each
// foot from it. It appends to cut, which is empty.
func (s *side) panels(cut []float64, feet []foot) []float64 {
	cut = append(cut, 0, s.length)
	for _, f := range feet {
		for d := 2 * f.r; d < s.length+math.Abs(f.z); d *= 4 {
			for _, z := range [2]float64{f.z - d, f.z + d} {
				k, found := slices.BinarySearch(cut, z)
				if !found && k > 0 && k < len(cut) && math.Min(z-cut[k-1], cut[k]-z) > 0.15*d {
					cut = slices.Insert(cut, k, z)
				}
			}
		}
	}
	return cut
}

// ends returns e^{νa} at both ends of an edge for a foot beside it, a = asinh((z−foot)/r).
func (s *side) ends(f foot) [2]float64 {
	at := func(z float64) float64 { return grow(s.nu, z-f.z, f.r, math.Hypot(z-f.z, f.r)) }
	return [2]float64{at(0), at(s.length)}
}

// peakNear returns where η is 0: where the shortest way from one foot to another
// crosses the edge, or its continuation.
func peakNear(from, to foot) float64 { return (from.z*to.r + to.z*from.r) / (from.r + to.r) }
