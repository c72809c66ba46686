package diffraction

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// The points of the last edge miss some of the peak that β has near the plane of a face,
// and more where the peak is in a corner. What they miss goes from the fans to the receivers,
// as beams: the integral with D between the points, in panels that become shorter towards the
// peak, less what the points make of it.

// leg has the ways to an edge from the points of one other edge along a face.
type leg struct {
	first, last int     // feet of the line
	from        int     // the first point
	twin        bool    // whether the face is that of the twin of the point's side
	ends        [2]foot // of both ends of the line beside the other edge
}

// newLeg returns the leg from the edge of another side of the same face, of which the feet
// are still to come.
func (n *network) newLeg(l *line, side, other, points int) leg {
	c := n.cabinet
	s, from := &c.sides[side], &n.lines[c.sides[other].edge]
	o := &c.sides[min(other, c.sides[other].twin)]
	g := leg{first: len(l.feet), last: len(l.feet) + points, from: from.first, twin: o.face != c.sides[other].face}
	for k, p := range [2]r3.Vec{c.sides[l.side].p, c.sides[l.side].point(s.length)} {
		z, x, y := o.place(p)
		g.ends[k] = foot{z, math.Hypot(x, y)}
	}
	return g
}

// beam is what a receiver makes of the fan of a point over one edge, beyond what it makes
// of the ways: weights of some of its samples, at the length of the shortest way.
type beam struct {
	sample      int // the first
	first, last int // of the weights
	way         float64
}

// beams are all those of a receiver.
type beams struct {
	list    []beam
	weights []float32
}

// least is the smallest weight of a sample, re the half space, that is kept.
const least = 1e-4

// add takes the weights of a fan that begins at a sample.
func (b *beams) add(sample int, weights []float64, way float64) {
	lo, hi := 0, len(weights)
	for lo < hi && math.Abs(weights[lo]) < least {
		lo++
	}
	for hi > lo && math.Abs(weights[hi-1]) < least {
		hi--
	}
	if lo == hi {
		return
	}
	first := len(b.weights)
	for _, w := range weights[lo:hi] {
		b.weights = append(b.weights, float32(w))
	}
	b.list = append(b.list, beam{sample + lo, first, len(b.weights), way})
}

// ahead is what a receiver sees of the ways of a leg.
type ahead struct {
	n         *network
	line      *line
	leg       *leg
	s         *side
	v         *view
	rule      rule
	far       bool
	foot      foot
	grow, cot float64
	last      [2]float64
	reference float64
	scale     float64 // of β/2
	weights   []float64
}

// correctView adds what the ways of a receiver's row miss over one edge.
func (n *network) correctView(l *line, p *Plan, r int, rule rule, row []float32, into *beams) {
	c := n.cabinet
	to := p.setup.Receivers[r]
	o := ahead{n: n, line: l, s: &c.sides[l.side], far: to.far, rule: rule}
	o.reference = r3.Norm(r3.Sub(to.at, p.setup.Reference))
	split := n.points[l.first].split - n.points[l.first].first
	for k := range l.legs {
		g := &l.legs[k]
		id := l.side
		if g.first >= split {
			id = o.s.twin
		}
		v := &p.views[r*len(c.sides)+id]
		if v.seen == 0 || !v.factor.near[0] && !v.factor.near[1] && (to.far || v.foot.r > l.coarse) {
			continue
		}
		o.leg, o.v, o.foot, o.grow, o.cot, o.last = g, v, v.foot, v.grow, v.cot, v.ends
		o.scale = -o.s.nu / (4 * math.Pi) * v.seen
		if id != l.side { // it runs the other way
			o.foot.z, o.grow, o.cot = o.s.length-o.foot.z, 1/o.grow, -o.cot
			o.last = [2]float64{1 / o.last[1], 1 / o.last[0]}
		}
		for a := g.first; a < g.last; a++ {
			o.correctWay(p, to, a, row, into)
		}
	}
}

// correctWay adds what the points miss of the ways from one point of a leg: the integral
// over η, of which the whole is known in closed form, less their sum.
func (o *ahead) correctWay(p *Plan, to Receiver, a int, row []float32, into *beams) {
	n, from := o.n, o.line.feet[a]
	ends := o.s.ends(from)
	missed := o.scale * o.v.factor.integral(ends[0]*o.last[0], ends[1]*o.last[1])
	peak, width := from.z+from.r*o.cot, from.r
	if !o.far {
		peak, width = peakNear(from, o.foot), from.r*o.foot.r/(from.r+o.foot.r)
	}
	if width*o.v.factor.gap > o.line.coarse {
		return
	}
	k := &n.points[o.leg.from+a-o.leg.first]
	fan := n.lines[n.cabinet.sides[k.side].edge].fan
	if fan.count == 0 {
		o.correctBeside(a, math.Min(math.Max(peak, 0), o.s.length), missed, row)
		return
	}
	o.weights = sized(o.weights, fan.count)
	clear(o.weights)
	for i := o.line.first; i < o.line.last; i++ {
		w := n.points[i].first + a
		o.add(fan, n.leaves[n.back[w]], -float64(row[w])/n.ways[w])
	}
	before := peakPanels[0]
	for _, d := range peakPanels[1:] {
		missed -= o.panel(fan, k, from, peak+before*width, peak+d*width)
		missed -= o.panel(fan, k, from, peak-d*width, peak-before*width)
		before = d
	}
	peak = math.Min(math.Max(peak, 0), o.s.length)
	way, distance := math.Hypot(peak-from.z, from.r), 1.0
	last := p.from(to, o.s.point(peak))
	if !o.far {
		distance = o.reference / (way + last + o.reference)
	}
	if u, ok := o.leave(k, peak, way); ok {
		o.add(fan, u, missed*distance)
	}
	sample := k.fan
	if o.leg.twin {
		sample += fan.count
	}
	into.add(sample, o.weights, way+last)
}

// add adds what arrives with a weight from a point, which sends it at u.
func (o *ahead) add(f fan, u, weight float64) {
	first, share := f.at(u)
	for i, x := range share {
		o.weights[first+i] += weight * x
	}
}

// peakPanels are the ends of the panels of the integral beside a peak, in distances of it
// from the edge. What is nearer than the first is taken in closed form.
var peakPanels = [...]float64{0.001, 0.008, 0.06, 0.4, 3, 20, 140}

// panel adds the integral over a part of the edge, and returns how much it is over η.
func (o *ahead) panel(f fan, k *meshPoint, from foot, lo, hi float64) (sum float64) {
	lo, hi = math.Max(lo, 0), math.Min(hi, o.s.length)
	if lo >= hi {
		return 0
	}
	for i, x := range o.rule.x {
		z := (lo + hi + (hi-lo)*x) / 2
		d := z - from.z
		m := math.Hypot(d, from.r)
		e, perEta, distance := grow(o.s.nu, d, from.r, m), 1/m, 1.0
		if o.far {
			e *= o.grow
		} else {
			d = z - o.foot.z
			l := math.Hypot(d, o.foot.r)
			e *= grow(o.s.nu, d, o.foot.r, l)
			perEta, distance = perEta+1/l, o.reference/(m+l)
		}
		part := o.scale * o.v.factor.sharp.at(e) * perEta * o.rule.w[i] * (hi - lo) / 2
		sum += part
		if u, ok := o.leave(k, z, m); ok {
			o.add(f, u, part*distance)
		}
	}
	return sum
}

// leave returns u of the direction from a point to a place on the line, m away, unless that
// is the corner with the point's own edge, where nothing arrives.
func (o *ahead) leave(k *meshPoint, z, m float64) (u float64, ok bool) {
	g, s := o.leg, &o.n.cabinet.sides[k.side]
	t := z / o.s.length
	r := g.ends[0].r + t*(g.ends[1].r-g.ends[0].r)
	d := o.n.mesh.z[k.side][k.index] - (g.ends[0].z + t*(g.ends[1].z-g.ends[0].z))
	if r < flat*o.n.cabinet.size {
		return 0, false
	}
	return turn(s.nu, d, r, m), true
}

// correctBeside gives what is missed to the two points beside the peak.
func (o *ahead) correctBeside(a int, peak, missed float64, row []float32) {
	n := o.n
	perEta := func(p *meshPoint) float64 { // from a value of the row to the integrand over η
		if o.far {
			return 1 / n.ways[p.first+a]
		}
		l := math.Hypot(n.mesh.z[o.line.side][p.index]-o.foot.z, o.foot.r)
		return (1/n.ways[p.first+a] + 1/l) * l / o.reference
	}
	points := n.points[o.line.first:o.line.last]
	for i := range points {
		missed -= float64(row[points[i].first+a]) * perEta(&points[i])
	}
	i, share := n.beside(o.line, peak)
	for k, part := range share {
		q := &points[min(i+k, len(points)-1)]
		row[q.first+a] += float32(missed * part / perEta(q))
	}
}
