package diffraction

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/spatial/r3"
)

// The sound that has passed more than two edges is the solution of an integral equation
// between pairs of points on edges (A. Asheim and P. Svensson, J. Acoust. Soc. Am. 133,
// 2013): with Q(i→j) what goes from point i of one edge along a face to point j of
// another,
//
//	Q(i→j) = Q₀(i→j) + Σₖ Q(k→i)·e^{−jkm}/m · (−ν·w/4π)·(β/2)(k, i, j)
//
// where Q₀ has come from the source over i alone, and k runs over the points that share
// a face with i. The series of its powers are the orders of diffraction. β does not
// depend on frequency, and at each point it is a symmetric matrix over the ways that
// end there.

// network holds the ways between the points of a mesh.
type network struct {
	cabinet *Cabinet
	mesh    *mesh
	points  []meshPoint
	ways    []float64 // m of every way
	back    []int32   // the same way in the other direction
	matrix  []float32 // at every point: (−ν·w/4π)·(β/2), ways by ways
	most    int       // ways at one point
	lines   []line    // by edge
}

// line is an edge with its points. All of them have the same ways in the same order,
// from the points whose places beside the edge are the feet.
type line struct {
	side        int
	first, last int // its points
	feet        []foot
	ends        [][2]float64 // e^{νa} of each at both ends of the edge
	coarse      float64      // how near a source is too near for the points
}

// meshPoint is a point of an edge with the ways that end there.
type meshPoint struct {
	at          r3.Vec
	side        int // of the two sides of its edge, the one along which it is counted
	index       int // on its edge
	weight      float64
	first, last int       // its ways
	matrix      int       // where its matrix begins
	split       int       // the first way over the twin's face
	grow        []float64 // e^{νa} of each way, along side
}

// wayKey names a way by its ends and the face it lies in.
type wayKey struct{ from, to, face int }

func newNetwork(c *Cabinet, m *mesh) *network {
	n := &network{cabinet: c, mesh: m}
	n.lines = make([]line, c.edges)
	for i := range c.sides {
		s := &c.sides[i]
		if i > s.twin {
			continue
		}
		l := &n.lines[s.edge]
		l.side, l.first = i, len(n.points)
		for k, at := range m.at[s.edge] {
			n.points = append(n.points, meshPoint{at: at, side: i, index: k, weight: m.weight[s.edge][k]})
		}
		l.last = len(n.points)
		l.coarse = tooNear(s.length, l.last-l.first)
	}
	index := map[wayKey]int32{}
	var keys []wayKey
	entries := 0
	for i := range n.points {
		p := &n.points[i]
		p.first, p.matrix = len(n.ways), entries
		s := &c.sides[p.side]
		for _, from := range []int{p.side, s.twin} {
			if from == s.twin {
				p.split = len(n.ways)
			}
			f := c.sides[from].face
			for _, other := range c.faces[f].sides {
				if other == from {
					continue
				}
				e := c.sides[other].edge
				for k, at := range m.at[e] {
					z, x, y := s.place(at)
					way := r3.Norm(r3.Sub(at, p.at))
					p.grow = append(p.grow, grow(s.nu, m.z[p.side][p.index]-z, math.Hypot(x, y), way))
					if p.index == 0 {
						f := foot{z, math.Hypot(x, y)}
						l := &n.lines[s.edge]
						l.feet, l.ends = append(l.feet, f), append(l.ends, s.ends(f))
					}
					key := wayKey{n.lines[e].first + k, i, f}
					index[key] = int32(len(n.ways))
					keys = append(keys, key)
					n.ways = append(n.ways, way)
				}
			}
		}
		p.last = len(n.ways)
		n.most = max(n.most, p.last-p.first)
		entries += (p.last - p.first) * (p.last - p.first)
	}
	n.back = make([]int32, len(n.ways))
	for w, k := range keys {
		n.back[w] = index[wayKey{k.to, k.from, k.face}]
	}
	n.matrix = make([]float32, entries)
	for i := range n.points {
		n.fill(&n.points[i])
	}
	return n
}

// fill computes the matrix of a point.
func (n *network) fill(p *meshPoint) {
	s := &n.cabinet.sides[p.side]
	same, beyond := s.along(false), s.along(true)
	scale := -s.nu * p.weight / (4 * math.Pi)
	count := p.last - p.first
	for a := range count {
		row := n.matrix[p.matrix+a*count:][:count]
		for b := range row {
			t := same
			if (a < p.split-p.first) != (b < p.split-p.first) {
				t = beyond
			}
			row[b] = float32(scale * t.at(p.grow[a]*p.grow[b]))
		}
	}
}

// beside returns the point before a place on an edge and the shares of it and the next.
func (n *network) beside(l *line, z float64) (int, [2]float64) {
	at := n.mesh.z[l.side]
	i := sort.SearchFloat64s(at, z) - 1
	switch {
	case i < 0:
		return 0, [2]float64{1, 0}
	case i >= len(at)-1:
		return len(at) - 1, [2]float64{1, 0}
	}
	share := (z - at[i]) / (at[i+1] - at[i])
	return i, [2]float64{1 - share, share}
}

// see returns (−ν·w/4π)·(β/2)·R/l of every way for a receiver.
func (n *network) see(p *Plan, r int) []float32 {
	c := n.cabinet
	to := p.setup.Receivers[r]
	views := p.views[r*len(c.sides):][:len(c.sides)]
	row := make([]float32, len(n.ways))
	for i := range n.points {
		q := &n.points[i]
		s := &c.sides[q.side]
		scale := -s.nu * q.weight / (4 * math.Pi)
		for _, id := range []int{q.side, s.twin} {
			v := &views[id]
			if v.seen == 0 {
				continue
			}
			e, from, upto := v.grow, q.first, q.split
			if id != q.side {
				from, upto = q.split, q.last
			}
			factor := scale * v.seen
			if !to.far {
				d := n.mesh.z[id][q.index] - v.foot.z
				l := math.Hypot(d, v.foot.r)
				e = grow(s.nu, d, v.foot.r, l)
				factor *= r3.Norm(r3.Sub(to.at, p.setup.Reference)) / l
			}
			for a := from; a < upto; a++ {
				g := q.grow[a-q.first]
				if id != q.side {
					g = 1 / g // the twin runs the other way
				}
				row[a] = float32(factor * v.factor.at(g*e))
			}
		}
	}
	for i := range n.lines {
		n.correctView(&n.lines[i], p, r, row)
	}
	return row
}

// correctView is correct for the way to a receiver.
func (n *network) correctView(line *line, p *Plan, r int, row []float32) {
	c := n.cabinet
	s := &c.sides[line.side]
	to := p.setup.Receivers[r]
	points := n.points[line.first:line.last]
	split := points[0].split - points[0].first
	reference := r3.Norm(r3.Sub(to.at, p.setup.Reference))
	for a, from := range line.feet {
		id, flip := line.side, 1.0
		if a >= split {
			id, flip = s.twin, -1
		}
		v := &p.views[r*len(c.sides)+id]
		if v.seen == 0 || !v.factor.near[0] && !v.factor.near[1] && (to.far || v.foot.r > line.coarse) {
			continue
		}
		cot := v.cot * flip // along the side of the line
		foot := v.foot
		if flip < 0 {
			foot.z = s.length - foot.z
		}
		peak := from.z + from.r*cot
		if !to.far {
			peak = peakNear(from, foot)
		}
		ends, last := s.ends(from), v.ends
		if flip < 0 { // from the other end, where the other way is up
			last = [2]float64{1 / last[1], 1 / last[0]}
		}
		missed := -s.nu / (4 * math.Pi) * v.seen * v.factor.integral(ends[0]*last[0], ends[1]*last[1])
		perEta := func(p *meshPoint) float64 { // from a value of the row to the integrand over η
			if to.far {
				return 1 / n.ways[p.first+a]
			}
			l := math.Hypot(n.mesh.z[line.side][p.index]-foot.z, foot.r)
			return (1/n.ways[p.first+a] + 1/l) * l / reference
		}
		for i := range points {
			missed -= float64(row[points[i].first+a]) * perEta(&points[i])
		}
		i, share := n.beside(line, peak)
		for k, part := range share {
			q := &points[min(i+k, len(points)-1)]
			row[q.first+a] += float32(missed * part / perEta(q))
		}
	}
}
