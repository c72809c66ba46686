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
	fans    []float32 // at every point: from its ways to the samples of its fans
	samples int       // of all fans
	leaves  []float64 // by way, of the one back: νa at the point that it leaves
}

// line is an edge with its points. All of them have the same ways in the same order,
// from the points whose places beside the edge are the feet.
type line struct {
	side        int
	first, last int // its points
	feet        []foot
	ends        [][2]float64 // e^{νa} of each at both ends of the edge
	coarse      float64      // how near a source is too near for the points
	legs        []leg        // its feet, edge by edge
	fan         fan          // of its points
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
	fan         int       // the first sample of its fans
	fanMatrix   int       // where what leads to them begins
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
		l.fan = newFan(s.nu)
	}
	index := map[wayKey]int32{}
	var keys []wayKey
	entries, fans := 0, 0
	for i := range n.points {
		p := &n.points[i]
		p.first, p.matrix = len(n.ways), entries
		p.fan, p.fanMatrix = n.samples, fans
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
				if l := &n.lines[s.edge]; p.index == 0 {
					l.legs = append(l.legs, n.newLeg(l, p.side, other, len(m.at[e])))
				}
				for k, at := range m.at[e] {
					z, x, y := s.place(at)
					way := r3.Norm(r3.Sub(at, p.at))
					u := turn(s.nu, m.z[p.side][p.index]-z, math.Hypot(x, y), way)
					n.leaves = append(n.leaves, u)
					p.grow = append(p.grow, math.Exp(u))
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
		f := 2 * n.lines[s.edge].fan.count
		n.samples, fans = n.samples+f, fans+f*(p.last-p.first)
	}
	n.back = make([]int32, len(n.ways))
	for w, k := range keys {
		n.back[w] = index[wayKey{k.to, k.from, k.face}]
	}
	n.matrix, n.fans = make([]float32, entries), make([]float32, fans)
	for i := range n.points {
		p := &n.points[i]
		n.fill(p)
		n.fillFan(p, n.lines[c.sides[p.side].edge].fan)
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
