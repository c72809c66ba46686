package diffraction

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/radiation"
)

// Source is a radiator in a face of the cabinet. Its elements and their rims lie in the
// plane of the face and within its outline, and their weights add up to 1.
type Source struct {
	Face     int
	Elements []radiation.Element
}

// body is an element of the source with its view of the face's edges.
type body struct {
	at            r3.Vec
	weight, delay float64
	lo, hi        float64 // the shortest and longest of its paths re those from the reference, m
	feet          []foot
	nodes         [][]node
}

// mostLate is how late or early an element may be, beyond the time that sound takes over the
// cabinet, s: 17 m of way. Domes and arrays need less than a millisecond, crossovers and
// the alignment of ways milliseconds (common practice, no source), and milliseconds typed
// for seconds are more. The latency that all ways have in common is no part of it.
const mostLate = 0.05

// check reports a source that has no place on the cabinet, or no sound at a receiver.
func (p *Plan) check(s Source) error {
	c := p.setup.Cabinet
	if s.Face < 0 || s.Face >= len(c.faces) {
		return fmt.Errorf("diffraction: a source in face %d, want 0 … %d", s.Face, len(c.faces)-1)
	}
	if err := checkShares(s.Elements); err != nil {
		return err
	}
	late := mostLate + c.size/p.setup.Air.SpeedOfSound
	for i, e := range s.Elements {
		if !(math.Abs(e.Delay) <= late) {
			return fmt.Errorf("diffraction: element %d of the source has a delay of %g s, want −%.3g … %.3g s, %g s more than sound takes over the cabinet", i, e.Delay, late, late, mostLate)
		}
		if h := c.height(s.Face, e.At); math.Abs(h) > 1e-6*c.size {
			return fmt.Errorf("diffraction: element %d of the source is %g m off face %d, want it in the plane of the face", i, h, s.Face)
		}
		if d := c.inset(s.Face, e.At); d < 1e-4*c.size {
			return fmt.Errorf("diffraction: element %d of the source is %g m inside the edges of face %d, want at least %g m", i, d, s.Face, 1e-4*c.size)
		}
		if h := c.tilt(s.Face, e.Rim); h > 1e-6*c.size {
			return fmt.Errorf("diffraction: the surface of element %d of the source is up to %g m off face %d, want it in the plane of the face", i, h, s.Face)
		}
		if d := c.room(s.Face, e); d < -flat*c.size {
			return fmt.Errorf("diffraction: the surface of element %d of the source reaches %.4g m beyond the edges of face %d, want it within: a smaller radiator, or another place", i, -d, s.Face)
		}
	}
	return p.checkNear(s)
}

// room returns the distance from the rim of an element's surface to the nearest side of a
// face, negative where the surface reaches beyond it. Of a point it is the inset.
func (c *Cabinet) room(face int, e radiation.Element) float64 {
	d := math.Inf(1)
	for _, i := range c.faces[face].sides {
		s := &c.sides[i]
		d = math.Min(d, r3.Dot(r3.Sub(e.At, s.p), s.t)-e.Rim.Reach(r3.Scale(-1, s.t)))
	}
	return d
}

// tilt returns how far a rim is off the plane of a face, when its element is in it.
func (c *Cabinet) tilt(face int, r radiation.Rim) float64 {
	n := c.faces[face].normal
	return math.Abs(r3.Dot(n, r.Centre)) + math.Abs(r3.Dot(n, r.Across)) + math.Abs(r3.Dot(n, r.Up))
}

// surface is how many elements stand for a surface; fewer are that many points.
const surface = 4

// checkNear reports a receiver in an element, or so near to elements of a surface that it
// would hear points.
func (p *Plan) checkNear(s Source) error {
	area := -1.0
	for k, r := range p.setup.Receivers {
		if r.far {
			continue
		}
		at, d := 0, math.Inf(1)
		for i, e := range s.Elements {
			if l := r3.Norm(r3.Sub(e.At, r.at)); l < d {
				at, d = i, l
			}
		}
		if d < 1e-6*p.setup.Cabinet.size {
			return fmt.Errorf("diffraction: receiver %d is in element %d of the source, want some distance: a point source has no pressure there", k, at)
		}
		if len(s.Elements) < surface {
			continue
		}
		if area < 0 {
			area = covered(s.Elements)
		}
		if apart := math.Sqrt(area * math.Abs(s.Elements[at].Weight)); d < apart {
			return fmt.Errorf("diffraction: receiver %d is %.4g m from element %d of the source, and elements are %.4g m apart there: want at least that distance, or more elements, as nearer they are points and no surface", k, d, at, apart)
		}
	}
	return nil
}

// covered returns the area that elements stand for, each by its weight: 4π times the root
// of the determinant of the covariance of their places, which is the area of any ellipse
// and 1.05 times that of any rectangle. A line has none.
func covered(elements []radiation.Element) float64 {
	sum, middle := 0.0, r3.Vec{}
	for _, e := range elements {
		sum += math.Abs(e.Weight)
		middle = r3.Add(middle, r3.Scale(math.Abs(e.Weight), e.At))
	}
	middle = r3.Scale(1/sum, middle)
	var v [3]float64 // xx, yy, zz
	var c [3]float64 // yz, zx, xy
	for _, e := range elements {
		d, w := r3.Sub(e.At, middle), math.Abs(e.Weight)/sum
		v[0], v[1], v[2] = v[0]+w*d.X*d.X, v[1]+w*d.Y*d.Y, v[2]+w*d.Z*d.Z
		c[0], c[1], c[2] = c[0]+w*d.Y*d.Z, c[1]+w*d.Z*d.X, c[2]+w*d.X*d.Y
	}
	// Of points in a plane: the sum of the determinants in the three planes of the axes.
	det := v[0]*v[1] - c[2]*c[2] + v[1]*v[2] - c[0]*c[0] + v[2]*v[0] - c[1]*c[1]
	return 4 * math.Pi * math.Sqrt(math.Max(det, 0)) / sum
}

// mostShares is how much the sizes of weights may add up to.
const mostShares = 100

// checkShares reports elements whose weights are not the shares of a whole.
func checkShares(elements []radiation.Element) error {
	if err := radiation.CheckElements(elements); err != nil {
		return err
	}
	sum, size := 0.0, 0.0
	for _, e := range elements {
		sum, size = sum+e.Weight, size+math.Abs(e.Weight)
	}
	if !(math.Abs(sum-1) <= 1e-6) {
		return fmt.Errorf("diffraction: the weights of %d elements add up to %.7g, want 1 to within 1e-6: they are shares of one volume velocity, and levels count from it", len(elements), sum)
	}
	if size > mostShares {
		return fmt.Errorf("diffraction: the weights of %d elements add up to 1, but their sizes to %.4g, want at most %g: the digits are lost in what cancels", len(elements), size, float64(mostShares))
	}
	return nil
}

// take makes a body of every element of a source that was checked.
func (st *State) take(s Source) {
	c := st.p.setup.Cabinet
	f := &c.faces[s.Face]
	st.bodies = upTo(st.bodies, len(s.Elements))
	for i, e := range s.Elements {
		b := &st.bodies[i]
		b.at, b.weight, b.delay = r3.Sub(e.At, r3.Scale(c.height(s.Face, e.At), f.normal)), e.Weight, e.Delay
		b.nodes, b.feet = upTo(b.nodes, len(f.sides)), upTo(b.feet, len(f.sides))
	}
}

// upTo returns a slice of n values with all that it has held before, also beyond its end, so
// that what they have in hand is not taken anew.
func upTo[T any](s []T, n int) []T {
	s = s[:min(n, cap(s))]
	for len(s) < n {
		var zero T
		s = append(s, zero)
	}
	return s
}

// prepare checks a source and takes it, all by itself.
func (st *State) prepare(s Source) error {
	if err := st.p.check(s); err != nil {
		return err
	}
	st.take(s)
	for i := range st.bodies {
		b := &st.bodies[i]
		for k := range b.feet {
			st.p.layout(b, s.Face, k, st.workers[0].rules)
		}
		st.p.reach(b, s.Face)
	}
	return st.bound()
}

// layout puts the nodes of a body on side k of its face.
func (p *Plan) layout(b *body, face, k int, r *rules) {
	s := &p.setup.Cabinet.sides[p.setup.Cabinet.faces[face].sides[k]]
	z, x, _ := s.place(b.at)
	b.feet[k] = foot{z, x}
	b.nodes[k] = s.nodes(b.nodes[k][:0], b.feet[k], p.perMetre(), r, b.feet[k])
}

// reach finds the shortest and the longest path of a body. Those over edges are longest
// over corners, since lengths are convex: over one, or over two, of which the first is
// the face's.
func (p *Plan) reach(b *body, face int) {
	c := p.setup.Cabinet
	delay := b.delay * p.setup.Air.SpeedOfSound
	b.lo, b.hi = math.Inf(1), math.Inf(-1)
	for _, r := range p.setup.Receivers {
		b.lo = math.Min(b.lo, delay+p.from(r, b.at))
	}
	for k, v := range c.vertices {
		way := 0.0
		for _, a := range c.faces[face].corners {
			if a == k || p.setup.Order != First {
				way = math.Max(way, r3.Norm(r3.Sub(c.vertices[a], b.at))+r3.Norm(r3.Sub(v, c.vertices[a])))
			}
		}
		if way == 0 {
			continue
		}
		for _, r := range p.setup.Receivers {
			b.hi = math.Max(b.hi, delay+way+p.from(r, v))
		}
	}
}

// mostWindow is how many bytes the windows of delays of all workers may take.
const mostWindow = 2 << 30

// bound finds the range of delays of all paths, and the turn of its middle.
func (st *State) bound() error {
	p := st.p
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range st.bodies {
		lo, hi = math.Min(lo, st.bodies[i].lo), math.Max(hi, st.bodies[i].hi)
	}
	st.lo, st.hi = lo/p.setup.Air.SpeedOfSound, hi/p.setup.Air.SpeedOfSound
	if n := st.windowBytes(); !(n <= mostWindow) {
		return fmt.Errorf("diffraction: delays that are %.4g s apart take %.3g bytes, want at most %.2g: smaller delays, lower frequencies or fewer workers", st.hi-st.lo, n, float64(mostWindow))
	}
	if need := (st.hi - st.lo) / 2; int(math.Ceil(need/st.t.step))+spread > st.t.tiers[0].reach {
		t, err := newTransform(p.setup.Grid, 1.2*need)
		if err != nil { // the reserve must not decide: a used state may have it already
			if t, err = newTransform(p.setup.Grid, need); err != nil {
				return err
			}
		}
		st.t = t
	}
	middle := (st.lo + st.hi) / 2
	for i, w := range p.setup.Grid.Omega() {
		sin, cos := math.Sincos(w * middle)
		st.turn[i] = complex(cos, -sin)
	}
	return nil
}

// windowBytes returns what the windows of delays from lo to hi take.
func (st *State) windowBytes() float64 {
	each := 8.0 // a sample
	if st.p.pairs != nil {
		each += 16 * finer // its piles
	}
	folded := 2 * 8.0 * lanes // with what appending keeps in hand
	return float64(len(st.workers)) * (float64(st.blockSize)*each + folded) * (st.hi - st.lo) / st.t.step
}

// from returns the length of the way from a point to a receiver, less that from the
// reference.
func (p *Plan) from(r Receiver, at r3.Vec) float64 {
	if r.far {
		return -r3.Dot(r.at, r3.Sub(at, p.setup.Reference))
	}
	return r3.Norm(r3.Sub(r.at, at)) - r3.Norm(r3.Sub(r.at, p.setup.Reference))
}
