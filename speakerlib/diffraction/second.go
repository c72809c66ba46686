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
	longest float64 // bound of source – first edge – second edge, m
	faces   []facePairs
}

// facePairs are the pairs for sources in one face, made when first asked for.
type facePairs struct {
	once   sync.Once
	groups []pairGroup
}

// pairGroup holds the pairs of points of two edges, point of the second by point of
// the first.
type pairGroup struct {
	first, second int       // sides: of the source's face, and of the face of the way
	leave         along     // how the first edge is left
	rows          []pairRow // by point of the first edge
	feet          []foot    // of the points of the second edge beside the first
	ends          [][2]float64
}

// pairRow has the points of the second edge as seen from a point of the first.
type pairRow struct {
	foot         foot       // of the point of the first edge beside the second
	ends         [2]float64 // e^{νa} of the second edge at its ends
	way          []float64  // between the points, m
	grow         []float64  // e^{νb} of the first edge
	next, shrink []float64  // e^{νa} and e^{−νa} of the second
	share        []float64  // weight of the second point over the way
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
	return &pairs{cabinet: c, mesh: newMesh(c, points, r), longest: 2 * c.size, faces: make([]facePairs, len(c.faces))}, nil
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
	g := pairGroup{first: first, second: second, leave: s1.along(beyond)}
	for _, b := range p.mesh.at[s2.edge] {
		z, x, y := s1.place(b)
		f := foot{z, math.Hypot(x, y)}
		g.feet, g.ends = append(g.feet, f), append(g.ends, s1.ends(f))
	}
	for i, a := range p.mesh.at[s1.edge] {
		z, x, _ := s2.place(a)
		row := pairRow{foot: foot{z, x}, ends: s2.ends(foot{z, x})}
		for j, b := range p.mesh.at[s2.edge] {
			way := r3.Norm(r3.Sub(b, a))
			row.way = append(row.way, way)
			row.grow = append(row.grow, grow(s1.nu, p.mesh.z[first][i]-g.feet[j].z, g.feet[j].r, way))
			e := grow(s2.nu, p.mesh.z[second][j]-z, x, way)
			row.next, row.shrink = append(row.next, e), append(row.shrink, 1/e)
			row.share = append(row.share, p.mesh.weight[s2.edge][j]/way)
		}
		g.rows = append(g.rows, row)
	}
	return g
}

// addSecond adds what some receivers get over two edges:
//
//	H₂ = (ν₁ν₂/16π²) ∬ (β₁/2)(β₂/2)·R·e^{−jk(m₁+m₁₂+l−R)}/(m₁·m₁₂·l) dz₂ dz₁
//
// The factor ½ of the way along a face (its sound would else be counted with its
// reflection) and the doubling of a source on it are both in there. Zone boundaries of
// the second edge are treated as those of the first order, point by point of the
// first edge.
func (st *State) addSecond(w *worker, face, from, to int) {
	p := st.p
	c := p.setup.Cabinet
	slow := 1 / p.setup.Air.SpeedOfSound
	for gi := range p.pairs.of(face) {
		g := &p.pairs.of(face)[gi]
		s1, s2 := &c.sides[g.first], &c.sides[g.second]
		seen := false
		for r := from; r < to; r++ {
			seen = seen || p.views[r*len(c.sides)+g.second].seen > 0
		}
		if !seen {
			continue
		}
		z1 := p.pairs.mesh.z[g.first]
		for bi := range st.bodies {
			b := &st.bodies[bi]
			zs, xs, _ := s1.place(b.at)
			near := xs < tooNear(s1.length, len(g.rows))
			missed := w.missedRoom(len(g.feet))
			if near {
				ends := s1.ends(foot{zs, xs})
				for j := range missed {
					missed[j] = g.leave.integral(ends[0]*g.ends[j][0], ends[1]*g.ends[j][1])
				}
			}
			strength := s1.nu * s2.nu / (16 * math.Pi * math.Pi) * b.weight
			for i := range g.rows {
				row := &g.rows[i]
				d := z1[i] - zs
				m := math.Hypot(d, xs)
				start := grow(s1.nu, d, xs, m)
				weight := p.pairs.mesh.weight[s1.edge][i]
				scale := strength * weight / m
				early := b.delay + m*slow
				fixed, delays := w.fixedRoom(len(row.way))
				for j, way := range row.way {
					beta := g.leave.at(start * row.grow[j])
					fixed[j] = scale * beta * row.share[j]
					delays[j] = early + way*slow
					if near {
						missed[j] -= beta * weight * (1/m + 1/way)
					}
				}
				st.addRow(w, g, row, &origin{i, start, scale, early}, from, to)
			}
			if near {
				st.addMissed(w, g, b, foot{zs, xs}, strength, missed, from, to)
			}
		}
	}
}

// addMissed adds what the points of the first edge miss of a source near it: for every
// point of the second edge the difference to the integral over η in closed form, at the
// length of the shortest way, seen from the nearest point of the first.
func (st *State) addMissed(w *worker, g *pairGroup, b *body, source foot, strength float64, missed []float64, from, to int) {
	p := st.p
	s1, s2 := &p.setup.Cabinet.sides[g.first], &p.setup.Cabinet.sides[g.second]
	slow := 1 / p.setup.Air.SpeedOfSound
	z1 := p.pairs.mesh.z[g.first]
	for i := range g.rows {
		row := &g.rows[i]
		fixed, delays := w.fixedRoom(len(missed))
		any := false
		for j, f := range g.feet {
			peak := math.Min(math.Max(peakNear(source, f), 0), s1.length)
			way := math.Hypot(peak-source.z, source.r) + math.Hypot(peak-f.z, f.r)
			fixed[j], delays[j] = 0, b.delay+way*slow
			if part := share(z1, i, peak); part > 0 {
				fixed[j] = part * strength * missed[j] * p.pairs.mesh.weight[s2.edge][j] / way
				any = true
			}
		}
		if any {
			st.addRow(w, g, row, nil, from, to)
		}
	}
}

// share returns how much of something at z belongs to point i, of points that rise or
// fall: by linear interpolation, and all of it to the first or last beyond them.
func share(points []float64, i int, z float64) float64 {
	near := func(k int) float64 { // of the side of neighbour k
		if k < 0 || k >= len(points) {
			return 1
		}
		return 1 - (z-points[i])/(points[k]-points[i])
	}
	before, after := near(i-1), near(i+1)
	return math.Max(0, math.Min(1, math.Min(before, after)))
}

// origin is what a row's weights are made of: the point of the first edge, e^{νa} of the
// source there, and the strength and delay so far.
type origin struct {
	point               int
	start, scale, early float64
}

// addRow adds a row of pairs to receivers, with the weights and delays that are fixed;
// nil if they are not those of the row's own point.
func (st *State) addRow(w *worker, g *pairGroup, row *pairRow, o *origin, from, to int) {
	p := st.p
	sides := len(p.setup.Cabinet.sides)
	s2 := &p.setup.Cabinet.sides[g.second]
	z2 := p.pairs.mesh.z[g.second]
	slow := 1 / p.setup.Air.SpeedOfSound
	for r := from; r < to; r++ {
		v := &p.views[r*sides+g.second]
		if v.seen == 0 {
			continue
		}
		var sum float64 // of β over η
		if p.setup.Receivers[r].far {
			sum = w.secondFar(r-from, v, row, z2, slow)
		} else {
			sum = w.secondNear(r-from, s2, v, row, z2, slow, r3.Norm(r3.Sub(p.setup.Receivers[r].at, p.setup.Reference)))
		}
		if v.factor.near[0] || v.factor.near[1] || !p.setup.Receivers[r].far && v.foot.r < tooNear(s2.length, len(z2)) {
			missed := v.factor.integral(row.ends[0]*v.ends[0], row.ends[1]*v.ends[1]) - sum
			st.addPeak(w, r, r-from, g, row, o, missed*v.seen)
		}
	}
}

func (w *worker) missedRoom(n int) []float64 {
	if cap(w.missed) < n {
		w.missed = make([]float64, 2*n)
	}
	return w.missed[:n]
}

func (w *worker) fixedRoom(n int) (weight, delay []float64) {
	if cap(w.fixed) < n {
		w.fixed, w.fixedDelay = make([]float64, 2*n), make([]float64, 2*n)
	}
	w.fixed, w.fixedDelay = w.fixed[:n], w.fixedDelay[:n]
	return w.fixed, w.fixedDelay
}

// secondFar adds a row of pairs in a direction, and returns the sum of β/2 over η if a
// peak may be missed. It is samples.addAll with the weights made on the way: this
// loop is most of the second order.
func (w *worker) secondFar(lane int, v *view, row *pairRow, z2 []float64, slow float64) (sum float64) {
	to, f := &w.samples[lane], &v.factor
	table, g := kernelTable(), to.g
	perSecond, first := to.rows()
	first -= v.along * slow * perSecond
	slope := v.cos * slow * perSecond
	grow, shrink := v.grow, 1/v.grow
	p, q, u1, u2 := f.p*v.seen, f.q*v.seen, f.u, f.v
	n := len(row.way)
	fixed, delay := w.fixed[:n], w.fixedDelay[:n]
	next, back, z := row.next[:n], row.shrink[:n], z2[:n]
	for j, c := range next {
		c = c*grow + back[j]*shrink
		x := fixed[j] * (p*c + q) / ((c - u1) * (c - u2))
		at := uint(int(delay[j]*perSecond - slope*z[j] + first))
		t := &table[kernelRows-at%kernelRows]
		s := (*[spread]float64)(g[at/kernelRows:])
		s[0] += x * t[0]
		s[1] += x * t[1]
		s[2] += x * t[2]
		s[3] += x * t[3]
		s[4] += x * t[4]
		s[5] += x * t[5]
	}
	if f.near[0] || f.near[1] {
		share := row.share[:n]
		for j, c := range next {
			c = c*grow + back[j]*shrink
			sum += share[j] * (f.p*c + f.q) / ((c - u1) * (c - u2))
		}
	}
	return sum
}

// secondNear adds a row of pairs to a point, and returns the sum of β/2 over η.
func (w *worker) secondNear(lane int, s2 *side, v *view, row *pairRow, z2 []float64, slow, reference float64) (sum float64) {
	delay, weight := w.room(len(row.way))
	for j := range weight {
		d := z2[j] - v.foot.z
		l := math.Hypot(d, v.foot.r)
		beta := v.factor.at(row.next[j] * grow(s2.nu, d, v.foot.r, l))
		weight[j] = w.fixed[j] * v.seen * beta * reference / l
		sum += row.share[j] * (row.way[j] + l) / l * beta
		delay[j] = w.fixedDelay[j] + (l-reference)*slow
	}
	w.samples[lane].addAll(delay, weight)
	return sum
}

// addPeak adds what quadrature over the second edge has missed of the peak at a zone
// boundary, where the way from the point of the first edge is shortest. What arrives there
// is computed if the row has an origin, and else interpolated between the points beside it.
func (st *State) addPeak(w *worker, r, lane int, g *pairGroup, row *pairRow, o *origin, missed float64) {
	p := st.p
	s2 := &p.setup.Cabinet.sides[g.second]
	v := &p.views[r*len(p.setup.Cabinet.sides)+g.second]
	to := p.setup.Receivers[r]
	peak := row.foot.z + row.foot.r*v.cot
	if !to.far {
		peak = peakNear(row.foot, v.foot)
	}
	peak = math.Min(math.Max(peak, 0), s2.length)
	way := math.Hypot(peak-row.foot.z, row.foot.r)
	at := s2.point(peak)
	var size, early float64
	if o != nil {
		s1 := &p.setup.Cabinet.sides[g.first]
		z, x, y := s1.place(at)
		// In the corner of both edges e^{νη} is infinite, and β nothing.
		size = o.scale * g.leave.at(o.start*grow(s1.nu, p.pairs.mesh.z[g.first][o.point]-z, math.Hypot(x, y), way))
		early = o.early
	} else {
		z2 := p.pairs.mesh.z[g.second]
		for j := range z2 {
			if part := share(z2, j, peak); part > 0 {
				size += part * w.fixed[j] / row.share[j]
				early += part * (w.fixedDelay[j] - row.way[j]/p.setup.Air.SpeedOfSound)
			}
		}
	}
	late := p.from(to, at)
	missed *= size
	if !to.far {
		reference := r3.Norm(r3.Sub(to.at, p.setup.Reference))
		missed *= reference / (way + late + reference)
	}
	w.peakDelay[0], w.peakWeight[0] = early+(way+late)/p.setup.Air.SpeedOfSound, missed
	w.samples[lane].addAll(w.peakDelay[:], w.peakWeight[:])
}
