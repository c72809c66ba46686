package diffraction

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// mesh has points of quadrature on all edges, for paths over more than one of them.
type mesh struct {
	at     [][]r3.Vec  // by edge
	weight [][]float64 // by edge, m
	z      [][]float64 // by side: along it from its start, the points in the order of the edge
}

// newMesh puts Gauss–Legendre points on every edge, whose own clustering at the ends is
// what the corners need.
func newMesh(c *Cabinet, points func(edge int, length float64) int, rules *rules) *mesh {
	m := &mesh{at: make([][]r3.Vec, c.edges), weight: make([][]float64, c.edges), z: make([][]float64, len(c.sides))}
	for i := range c.sides {
		s := &c.sides[i]
		if m.at[s.edge] == nil {
			g := rules.of(points(s.edge, s.length))
			for k, x := range g.x {
				m.at[s.edge] = append(m.at[s.edge], s.point(s.length*(1+x)/2))
				m.weight[s.edge] = append(m.weight[s.edge], s.length/2*g.w[k])
			}
		}
		for _, p := range m.at[s.edge] {
			z, _, _ := s.place(p)
			m.z[i] = append(m.z[i], z)
		}
	}
	return m
}

// along is what a path along a face finds at an edge that it leaves over the face
// itself or over the face beyond the edge: half of β for θS = 0 and θR = 0 or θw,
//
//	±2·sin νπ/(cosh νη ∓ cos νπ) = over/(C − limit),  C = 2·cosh νη
//
// With a source near the edge its peak is narrow, as at a zone boundary.
type along struct{ over, limit, cot, nu float64 }

func (s *side) along(beyond bool) along {
	a := s.nu * math.Pi
	if beyond {
		a += math.Pi
	}
	sin, cos := math.Sincos(a)
	return along{4 * sin, 2 * cos, sin / (1 - cos), s.nu}
}

// integral returns ∫ β/2 dη between two values of e^{νη}, in closed form as of a factor.
func (a along) integral(from, to float64) float64 {
	return 4 / a.nu * (math.Atan(a.cot*(to-1)/(to+1)) - math.Atan(a.cot*(from-1)/(from+1)))
}

func (a along) at(grow float64) float64 { return a.over / (grow + 1/grow - a.limit) }

// entries returns how many pairs of ways there are, over all points, with those of ways and
// samples of fans.
func (m *mesh) entries(c *Cabinet) int {
	sum := 0
	for i := range c.sides {
		s := &c.sides[i]
		if i > s.twin {
			continue
		}
		ways := -2 * len(m.at[s.edge])
		for _, f := range []int{s.face, c.sides[s.twin].face} {
			for _, k := range c.faces[f].sides {
				ways += len(m.at[c.sides[k].edge])
			}
		}
		sum += len(m.at[s.edge]) * ways * (ways + 2*newFan(s.nu).count)
	}
	return sum
}

// widths returns, by edge, how far the nearest edge is that shares a face but no
// corner with it.
func (c *Cabinet) widths() []float64 {
	w := make([]float64, c.edges)
	for i := range w {
		w[i] = math.Inf(1)
	}
	for i := range c.sides {
		s := &c.sides[i]
		end := s.point(s.length)
		for _, k := range c.faces[s.face].sides {
			o := &c.sides[k]
			from, to := o.p, o.point(o.length)
			if k == i || r3.Norm(r3.Sub(to, s.p)) < flat*c.size || r3.Norm(r3.Sub(from, end)) < flat*c.size {
				continue
			}
			_, a, _ := s.place(from)
			_, b, _ := s.place(to)
			w[s.edge] = math.Min(w[s.edge], math.Min(a, b))
		}
	}
	return w
}

// tooNear is the distance of a source from an edge below which the points on it are too
// far apart for the source's peak.
func tooNear(length float64, points int) float64 { return 4 * length / float64(points) }
