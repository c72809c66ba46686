package diffraction

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// sight is a receiver that sees the second edge of a group of pairs, with what all pairs
// of the group have in common.
type sight struct {
	lane      int
	to        Receiver
	v         *view
	reference float64   // of a point: distance from the reference point, m
	reach     float64   // rows this near to the edge have a peak that quadrature may miss, m
	shift     []float64 // by point of the edge, for several rows: from delays to places in the window
	// The view's factor, as much of it as is seen, and of a direction e^{νb} and e^{−νb}.
	p, q, u1, u2, far, back float64
	// Of a point, as shift: e^{νb}, R over the distance l, and 1/l.
	grow, ratio, inverse []float64
}

// look finds the receivers of a block that see the second edge of a group.
func (w *worker) look(p *Plan, g *pairGroup, from, to int) {
	w.sights = w.sights[:0]
	c := p.setup.Cabinet
	s2, z2 := &c.sides[g.second], p.pairs.mesh.z[g.second]
	coarse := tooNear(s2.length, len(z2))
	perSecond, first := w.samples[0].cells()
	perMetre := perSecond / p.setup.Air.SpeedOfSound
	for r := from; r < to; r++ {
		v := &p.views[r*len(c.sides)+g.second]
		if v.seen == 0 {
			continue
		}
		if len(w.sights) == cap(w.sights) {
			w.sights = append(w.sights, sight{})
		} else {
			w.sights = w.sights[:len(w.sights)+1]
		}
		s := &w.sights[len(w.sights)-1]
		s.lane, s.to, s.v, s.reach = r-from, p.setup.Receivers[r], v, 0
		s.p, s.q, s.u1, s.u2 = v.factor.p*v.seen, v.factor.q*v.seen, v.factor.u, v.factor.v
		switch f := &v.factor; {
		case f.gap*f.nu < soft:
			s.reach = math.Inf(1)
		case f.near[0] || f.near[1]:
			s.reach = coarse / f.gap
		}
		s.shift = sized(s.shift, together*len(z2))
		if s.to.far {
			s.far, s.back = v.grow, 1/v.grow
			for j, z := range z2 {
				s.shift[j] = first - (v.along+v.cos*z)*perMetre
			}
			repeat(s.shift, len(z2))
			continue
		}
		if v.foot.r < coarse {
			s.reach = math.Inf(1)
		}
		s.reference = r3.Norm(r3.Sub(s.to.at, p.setup.Reference))
		s.grow, s.ratio = sized(s.grow, together*len(z2)), sized(s.ratio, together*len(z2))
		s.inverse = sized(s.inverse, len(z2))
		for j, z := range z2 {
			d := z - v.foot.z
			l := math.Hypot(d, v.foot.r)
			s.shift[j] = first + (l-s.reference)*perMetre
			s.grow[j], s.ratio[j], s.inverse[j] = grow(s2.nu, d, v.foot.r, l), s.reference/l, 1/l
		}
		repeat(s.shift, len(z2))
		repeat(s.grow, len(z2))
		repeat(s.ratio, len(z2))
	}
}

// repeat fills a list with its first n values.
func repeat(list []float64, n int) {
	for k := n; k < len(list); k += n {
		copy(list[k:], list[:n])
	}
}

// together is how many rows are added to a receiver at once: their samples overlap, and are
// still at hand.
const together = 4

// mayMiss reports whether quadrature over the second edge may miss a peak of β. It is as
// narrow as the nearer of both ends, times the angle to the zone boundary.
func (s *sight) mayMiss(row *pairRow) bool {
	r := row.foot.r
	if !s.to.far {
		r *= s.v.foot.r / (r + s.v.foot.r)
	}
	return r < s.reach
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
	groups := st.p.pairs.of(face)
	for i := range groups {
		g := &groups[i]
		if w.look(st.p, g, from, to); len(w.sights) == 0 {
			continue
		}
		for k := range st.bodies {
			st.addPairs(w, g, &st.bodies[k])
		}
	}
}

// addPairs adds the ways of an element of the source over the pairs of a group.
func (st *State) addPairs(w *worker, g *pairGroup, b *body) {
	p := st.p
	s1, s2 := &p.setup.Cabinet.sides[g.first], &p.setup.Cabinet.sides[g.second]
	z1, weights := p.pairs.mesh.z[g.first], p.pairs.mesh.weight[s1.edge]
	zs, xs, _ := s1.place(b.at)
	source := foot{zs, xs}
	perSecond, _ := w.samples[0].cells()
	slow := 1 / p.setup.Air.SpeedOfSound
	near := xs < tooNear(s1.length, len(g.rows))
	w.missed = sized(w.missed, len(g.feet))
	if near {
		ends := s1.ends(source)
		for j := range w.missed {
			w.missed[j] = g.leave.integral(ends[0]*g.ends[j][0], ends[1]*g.ends[j][1])
		}
	}
	strength := s1.nu * s2.nu / (16 * math.Pi * math.Pi) * b.weight
	for from := 0; from < len(g.rows); from += together {
		to := min(from+together, len(g.rows))
		w.fixedRoom((to - from) * g.points)
		for i := from; i < to; i++ {
			d := z1[i] - zs
			m := math.Hypot(d, xs)
			o := &w.origins[i-from]
			*o = origin{i, grow(s1.nu, d, xs, m), strength * weights[i] / m, b.delay + m*slow}
			w.leave(g, i, i-from, o, perSecond, slow)
			if near {
				for j, way := range g.rows[i].way {
					w.missed[j] -= g.leave.at(o.start*g.rows[i].grow[j]) * weights[i] * (1/m + 1/way)
				}
			}
		}
		st.addRows(w, g, from, to, w.origins[:])
	}
	if near {
		st.addMissed(w, g, b, source, strength)
	}
}

func (w *worker) fixedRoom(n int) {
	w.fixed, w.fixedDelay = sized(w.fixed, n), sized(w.fixedDelay, n)
}

// leave computes what leaves a point of the first edge for those of the second, and when
// it is there, in fine samples. It is the given one of the rows that are added together.
func (w *worker) leave(g *pairGroup, i, at int, o *origin, perSecond, slow float64) {
	row, n := &g.rows[i], g.points
	fixed, delay, share, way := w.fixed[at*n:][:n], w.fixedDelay[at*n:][:n], row.share[:n], row.way[:n]
	scale, limit, early := o.scale*g.leave.over, g.leave.limit, o.early*perSecond
	slow *= perSecond
	for j, e := range row.grow[:n] {
		e *= o.start
		fixed[j] = scale * share[j] * e / (e*(e-limit) + 1) // along.at with one division
		delay[j] = early + way[j]*slow
	}
}

// addMissed adds what the points of the first edge miss of a source near it: for every
// point of the second edge the difference to the integral over η in closed form, at the
// length of the shortest way, seen from the nearest point of the first.
func (st *State) addMissed(w *worker, g *pairGroup, b *body, source foot, strength float64) {
	p := st.p
	s1, s2 := &p.setup.Cabinet.sides[g.first], &p.setup.Cabinet.sides[g.second]
	perSecond, _ := w.samples[0].cells()
	z1 := p.pairs.mesh.z[g.first]
	w.fixedRoom(g.points)
	for i := range g.rows {
		any := false
		for j, f := range g.feet {
			peak := math.Min(math.Max(peakNear(source, f), 0), s1.length)
			way := math.Hypot(peak-source.z, source.r) + math.Hypot(peak-f.z, f.r)
			w.fixed[j], w.fixedDelay[j] = 0, (b.delay+way/p.setup.Air.SpeedOfSound)*perSecond
			if part := share(z1, i, peak); part > 0 {
				w.fixed[j] = part * strength * w.missed[j] * p.pairs.mesh.weight[s2.edge][j] / way
				any = true
			}
		}
		if any {
			st.addRows(w, g, i, i+1, nil)
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
// source there, and the strength and delay (s) so far.
type origin struct {
	point               int
	start, scale, early float64
}

// addRows adds rows of pairs to the receivers that see them, with the weights and delays
// that are fixed; without origins if those are not of the rows' own points.
func (st *State) addRows(w *worker, g *pairGroup, from, to int, origins []origin) {
	pairs := g.cut(from*g.points, to*g.points)
	for i := range w.sights {
		s := &w.sights[i]
		fine := w.samples[s.lane].fine
		if s.to.far {
			w.secondFar(fine, s, &pairs)
		} else {
			w.secondNear(fine, s, &pairs)
		}
		for k := from; k < to; k++ {
			row := &g.rows[k]
			if !s.mayMiss(row) {
				continue
			}
			v := s.v
			missed := v.seen*v.factor.integral(row.ends[0]*v.ends[0], row.ends[1]*v.ends[1]) - s.sum(row)
			if origins == nil {
				st.addPeak(w, s, g, row, nil, missed)
			} else {
				st.addPeak(w, s, g, row, &origins[k-from], missed)
			}
		}
	}
}

// secondFar adds pairs in a direction, each to the two fine samples beside it. This loop is
// most of the second order.
func (w *worker) secondFar(fine []pile, s *sight, pairs *columns) {
	p, q, u1, u2, grow, shrink := s.p, s.q, s.u1, s.u2, s.far, s.back
	n := len(pairs.next)
	fixed, delay, shift, back := w.fixed[:n], w.fixedDelay[:n], s.shift[:n], pairs.shrink[:n]
	for j, c := range pairs.next {
		c = c*grow + back[j]*shrink
		x := fixed[j] * (p*c + q) / ((c - u1) * (c - u2))
		at := delay[j] + shift[j]
		k := int(at)
		part := x * (at - float64(k))
		to := &fine[uint(k)]
		to.all += x
		to.next += part
	}
}

// secondNear adds pairs to a point.
func (w *worker) secondNear(fine []pile, s *sight, pairs *columns) {
	p, q, u1, u2 := s.p, s.q, s.u1, s.u2
	n := len(pairs.next)
	fixed, delay, shift, grow, ratio := w.fixed[:n], w.fixedDelay[:n], s.shift[:n], s.grow[:n], s.ratio[:n]
	for j, e := range pairs.next {
		e *= grow[j]
		c := e + 1/e
		x := fixed[j] * ratio[j] * (p*c + q) / ((c - u1) * (c - u2))
		at := delay[j] + shift[j]
		k := int(at)
		part := x * (at - float64(k))
		to := &fine[uint(k)]
		to.all += x
		to.next += part
	}
}

// sum returns what quadrature finds along a row of the seen part of β/2 over η.
func (s *sight) sum(row *pairRow) float64 {
	sum, n := 0.0, len(row.next)
	back, share, way := row.shrink[:n], row.share[:n], row.way[:n]
	for j, c := range row.next {
		weight := share[j] // dη = dz/m₁₂
		if s.to.far {
			c = c*s.far + back[j]*s.back
		} else { // dη = (m₁₂+l)/(m₁₂·l) dz
			c *= s.grow[j]
			c += 1 / c
			weight *= 1 + way[j]*s.inverse[j]
		}
		sum += weight * (s.p*c + s.q) / ((c - s.u1) * (c - s.u2))
	}
	return sum
}

// addPeak adds what quadrature over the second edge has missed of the peak at a zone
// boundary, where the way from the point of the first edge is shortest. What arrives there
// is computed if the row has an origin, and else interpolated between the points beside it.
func (st *State) addPeak(w *worker, s *sight, g *pairGroup, row *pairRow, o *origin, missed float64) {
	p := st.p
	slow := 1 / p.setup.Air.SpeedOfSound
	s2 := &p.setup.Cabinet.sides[g.second]
	peak := row.foot.z + row.foot.r*s.v.cot
	if !s.to.far {
		peak = peakNear(row.foot, s.v.foot)
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
		perSecond, _ := w.samples[s.lane].cells()
		z2 := p.pairs.mesh.z[g.second]
		for j := range z2 {
			if part := share(z2, j, peak); part > 0 {
				size += part * w.fixed[j] / row.share[j]
				early += part * (w.fixedDelay[j]/perSecond - row.way[j]*slow)
			}
		}
	}
	late := p.from(s.to, at)
	missed *= size
	if !s.to.far {
		missed *= s.reference / (way + late + s.reference)
	}
	w.peakDelay[0], w.peakWeight[0] = early+(way+late)*slow, missed
	w.samples[s.lane].addAll(w.peakDelay[:], w.peakWeight[:])
}
