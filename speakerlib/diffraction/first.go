package diffraction

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// addFirst adds what a receiver gets directly and over one edge:
//
//	H₁ = −(ν/4π) ∫ (β/2)·R·e^{−jk(m+l−R)}/(m·l) dz
//
// by quadrature over each edge of the source's face, as weights at delays. Where a
// zone boundary is near, the peak of β is narrower than the nodes are apart: the
// difference between its integral over η in closed form and its quadrature is then
// added at the delay of the peak, the shortest way over the edge.
func (st *State) addFirst(w *worker, to *samples, face, receiver int) {
	p := st.p
	c := p.setup.Cabinet
	r := p.setup.Receivers[receiver]
	views := p.views[receiver*len(c.sides):][:len(c.sides)]
	perMetre := 1 / p.setup.Air.SpeedOfSound
	direct := p.above(face, r)
	for i := range st.bodies {
		b := &st.bodies[i]
		if direct > 0 {
			amplitude := direct * b.weight
			if !r.far {
				amplitude *= r3.Norm(r3.Sub(r.at, p.setup.Reference)) / r3.Norm(r3.Sub(r.at, b.at))
			}
			to.add(b.delay+p.from(r, b.at)*perMetre, amplitude)
		}
		for k, id := range c.faces[face].sides {
			s, v := &c.sides[id], &views[id]
			if v.seen == 0 {
				continue
			}
			if r.far {
				st.addFar(w, to, b, s, v, b.nodes[k], b.feet[k])
			} else {
				st.addNear(w, to, b, s, v, b.feet[k], r3.Norm(r3.Sub(r.at, p.setup.Reference)))
			}
		}
	}
}

func (w *worker) room(n int) (delay, weight []float64) {
	if cap(w.delay) < n {
		w.delay, w.weight = make([]float64, 2*n), make([]float64, 2*n)
	}
	return w.delay[:n], w.weight[:n]
}

// addFar adds the way over an edge in a direction. There l = R − direction·x, and b is
// the same for all of the edge.
func (st *State) addFar(w *worker, into *samples, b *body, s *side, v *view, nodes []node, from foot) {
	perMetre := 1 / st.p.setup.Air.SpeedOfSound
	delay, weight := w.room(len(nodes))
	scale := -s.nu / (4 * math.Pi) * v.seen * b.weight
	f, grow, shrink := &v.factor, v.grow, 1/v.grow
	early, slope := b.delay-v.along*perMetre, v.cos*perMetre
	for i := range nodes {
		n := &nodes[i]
		c := n.grow*grow + n.shrink*shrink
		weight[i] = scale * n.share * (f.p*c + f.q) / ((c - f.u) * (c - f.v))
		delay[i] = early + n.distance*perMetre - slope*n.z
	}
	into.addAll(delay, weight)
	if !f.near[0] && !f.near[1] {
		return
	}
	sum := 0.0
	for _, x := range weight {
		sum += x
	}
	ends := s.ends(from)
	peak := math.Min(math.Max(from.z+from.r*v.cot, 0), s.length)
	into.add(early+math.Hypot(peak-from.z, from.r)*perMetre-slope*peak, scale*f.integral(ends[0]*v.ends[0], ends[1]*v.ends[1])-sum)
}

// addNear adds the way over an edge to a point at the distance reference from the
// reference point.
func (st *State) addNear(w *worker, into *samples, b *body, s *side, v *view, from foot, reference float64) {
	perMetre := 1 / st.p.setup.Air.SpeedOfSound
	to := v.foot
	w.nodes = s.nodes(w.nodes[:0], from, st.p.perMetre(), w.rules, from, to)
	delay, weight := w.room(len(w.nodes))
	scale := -s.nu / (4 * math.Pi) * v.seen * b.weight
	sum := 0.0
	for i := range w.nodes {
		n := &w.nodes[i]
		d := n.z - to.z
		l := math.Hypot(to.r, d)
		beta := scale * n.share * v.factor.at(n.grow*grow(s.nu, d, to.r, l))
		weight[i] = beta * reference / l
		delay[i] = b.delay + (n.distance+l-reference)*perMetre
		sum += beta * (n.distance + l) / l // dη = (m+l)/(m·l) dz
	}
	into.addAll(delay, weight)
	if !v.factor.near[0] && !v.factor.near[1] {
		return
	}
	ends := s.ends(from)
	peak := math.Min(math.Max(peakNear(from, to), 0), s.length)
	way := math.Hypot(peak-from.z, from.r) + math.Hypot(peak-to.z, to.r)
	into.add(b.delay+(way-reference)*perMetre, (scale*v.factor.integral(ends[0]*v.ends[0], ends[1]*v.ends[1])-sum)*reference/way)
}
