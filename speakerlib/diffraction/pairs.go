package diffraction

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"
)

// pairs holds the ways from the edges of a source's face to other edges: along the
// face itself, or along the face beyond the first edge. In a convex body these are all
// ways over two edges, and nothing hides any part of one.
type pairs struct {
	cabinet *Cabinet
	mesh    *mesh
	faces   []facePairs
}

// facePairs are the pairs for sources in one face, made when first asked for.
type facePairs struct {
	once   sync.Once
	groups []pairGroup
}

// pairGroup holds the pairs of points of two edges, row by row.
type pairGroup struct {
	first, second int       // sides: of the source's face, and of the face of the way
	points        int       // of the second edge
	leave         along     // how the first edge is left
	rows          []pairRow // by point of the first edge
	feet          []foot    // of the points of the second edge beside the first
	ends          [][2]float64
	columns
}

// pairRow has the points of the second edge as seen from a point of the first.
type pairRow struct {
	foot foot       // of the point of the first edge beside the second
	ends [2]float64 // e^{νa} of the second edge at its ends
	columns
}

// columns are what pairs have, row after row, so that several rows are one list.
type columns struct {
	way          []float64 // between the points, m
	grow         []float64 // e^{νb} of the first edge
	next, shrink []float64 // e^{νa} and e^{−νa} of the second
	share        []float64 // weight of the second point over the way
}

func (c *columns) cut(from, to int) columns {
	return columns{c.way[from:to], c.grow[from:to], c.next[from:to], c.shrink[from:to], c.share[from:to]}
}

func newPairs(c *Cabinet, perMetre float64, r *rules) (*pairs, error) {
	// Edges side by side need points in proportion to their distance.
	widths := c.widths()
	points := func(edge int, length float64) int {
		return 8 + int(math.Ceil(length*math.Max(perMetre, 5/widths[edge])))
	}
	for f := range c.faces {
		if n := c.pairsOf(f, points); !(n <= mostPairs) {
			return nil, fmt.Errorf("diffraction: paths over two edges from face %d are %.3g pairs of points, want at most %.2g: lower frequencies, fewer facets or a larger radius", f, n, float64(mostPairs))
		}
	}
	return &pairs{cabinet: c, mesh: newMesh(c, points, r), faces: make([]facePairs, len(c.faces))}, nil
}

// mostPairs is how many pairs of points a face may have: a gigabyte.
const mostPairs = 25e6

// pairsOf returns how many pairs the sources in a face have.
func (c *Cabinet) pairsOf(face int, points func(edge int, length float64) int) float64 {
	n := func(s int) float64 { return float64(points(c.sides[s].edge, c.sides[s].length)) }
	sum := 0.0
	for _, first := range c.faces[face].sides {
		for _, start := range []int{first, c.sides[first].twin} {
			for _, second := range c.faces[c.sides[start].face].sides {
				if second != start {
					sum += n(first) * n(second)
				}
			}
		}
	}
	return sum
}

func (p *pairs) of(face int) []pairGroup {
	f := &p.faces[face]
	f.once.Do(func() {
		c := p.cabinet
		for _, first := range c.faces[face].sides {
			twin := c.sides[first].twin
			for _, start := range []int{first, twin} {
				for _, second := range c.faces[c.sides[start].face].sides {
					if second != start {
						f.groups = append(f.groups, p.group(first, second, start == twin))
					}
				}
			}
		}
	})
	return f.groups
}

func (p *pairs) group(first, second int, beyond bool) pairGroup {
	s1, s2 := &p.cabinet.sides[first], &p.cabinet.sides[second]
	from, to := p.mesh.at[s1.edge], p.mesh.at[s2.edge]
	all := make([]float64, 5*len(from)*len(to))
	column := func() []float64 {
		c := all[:len(from)*len(to)]
		all = all[len(c):]
		return c
	}
	g := pairGroup{first: first, second: second, points: len(to), leave: s1.along(beyond)}
	g.columns = columns{column(), column(), column(), column(), column()}
	for _, b := range to {
		z, x, y := s1.place(b)
		f := foot{z, math.Hypot(x, y)}
		g.feet, g.ends = append(g.feet, f), append(g.ends, s1.ends(f))
	}
	for i, a := range from {
		z, x, _ := s2.place(a)
		row := pairRow{foot{z, x}, s2.ends(foot{z, x}), g.cut(i*len(to), (i+1)*len(to))}
		for j, b := range to {
			row.way[j] = r3.Norm(r3.Sub(b, a))
			row.grow[j] = grow(s1.nu, p.mesh.z[first][i]-g.feet[j].z, g.feet[j].r, row.way[j])
			row.next[j] = grow(s2.nu, p.mesh.z[second][j]-z, x, row.way[j])
			row.shrink[j] = 1 / row.next[j]
			row.share[j] = p.mesh.weight[s2.edge][j] / row.way[j]
		}
		g.rows = append(g.rows, row)
	}
	return g
}
