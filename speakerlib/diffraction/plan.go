package diffraction

import (
	"fmt"
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/radiation"
)

// Receiver is where the sound is wanted: a direction, infinitely far away, or a point.
type Receiver struct {
	at  r3.Vec
	far bool
}

// Toward returns the receiver far away in a direction, which need not be of unit length.
func Toward(direction r3.Vec) Receiver { return Receiver{direction, true} }

// At returns the receiver at a point.
func At(point r3.Vec) Receiver { return Receiver{point, false} }

// Angles returns the direction that is turned from the front's axis (+z) to the right
// (towards +x) by the first angle and then raised (towards +y) by the second, in rad.
func Angles(right, up float64) Receiver {
	return Toward(r3.Vec{X: math.Sin(right) * math.Cos(up), Y: math.Sin(up), Z: math.Cos(right) * math.Cos(up)})
}

// Order is how often a path is diffracted.
type Order int

// The orders.
const (
	// First takes the paths over one edge.
	First Order = 1
	// Second takes the paths over one and two edges.
	Second Order = 2
)

// Setup is what does not change while sources do: the body, the air, where and at
// which frequencies the sound is wanted.
type Setup struct {
	Cabinet   *Cabinet
	Air       air.Medium
	Grid      *freq.Grid
	Receivers []Receiver
	Reference r3.Vec // distances and times count from here, m; a point of the front, as a rule
	Order     Order  // 0: First
	Workers   int    // goroutines; 0: as many as there are processors
}

// Source is a radiator in a face of the cabinet. Its elements lie in the plane of the
// face and within its outline.
type Source struct {
	Face     int
	Elements []radiation.Element
}

// Plan holds what can be computed before the sources are known. It is immutable, and
// many goroutines may make states of it.
type Plan struct {
	setup Setup
	views []view // [receiver][side]
	base  *transform
	rules rules
	pairs *pairs // of the second order
}

// view is a side of the cabinet as seen from a receiver.
type view struct {
	seen   float64 // 1, 0, or ½ on the boundary of being seen
	factor factor
	grow   float64 // e^{νb} of a direction
	cos    float64 // of the angle between direction and edge
	cot    float64
	along  float64 // direction·(start of the edge − reference)
	foot   foot    // of a point
}

// NewPlan prepares a setup. It refuses receivers inside the cabinet, on the boundary
// of which nothing is known, or nearer to an edge than 1e-4 of the cabinet's size.
func NewPlan(s Setup) (*Plan, error) {
	if s.Order == 0 {
		s.Order = First
	}
	if s.Workers == 0 {
		s.Workers = runtime.GOMAXPROCS(0)
	}
	switch {
	case s.Cabinet == nil || s.Grid == nil:
		return nil, fmt.Errorf("diffraction: a setup without cabinet or grid, want both")
	case len(s.Receivers) == 0:
		return nil, fmt.Errorf("diffraction: a setup without receivers, want at least one")
	case s.Order != First && s.Order != Second:
		return nil, fmt.Errorf("diffraction: order %d, want First or Second", s.Order)
	case s.Workers < 0:
		return nil, fmt.Errorf("diffraction: %d workers, want at least 1", s.Workers)
	case !finite(s.Reference):
		return nil, fmt.Errorf("diffraction: the reference is at %v, want finite coordinates", s.Reference)
	}
	if err := s.Air.Validate(); err != nil {
		return nil, err
	}
	s.Receivers = append([]Receiver(nil), s.Receivers...)
	p := &Plan{setup: s, rules: rules{}}
	for i := range s.Receivers {
		if err := p.look(i); err != nil {
			return nil, err
		}
	}
	p.base = newTransform(s.Grid, p.longest()/2/s.Air.SpeedOfSound)
	if s.Order == Second {
		p.pairs = newPairs(s.Cabinet, p.perMetre(), p.rules)
	}
	return p, nil
}

// perMetre is how many nodes an edge gets per metre: 3.5 per wavelength of the highest
// frequency, at which the phase turns at most twice per wavelength.
func (p *Plan) perMetre() float64 {
	return 3.5 * p.setup.Grid.Last() / p.setup.Air.SpeedOfSound
}

// longest returns a bound of the spread of the paths, m.
func (p *Plan) longest() float64 {
	far := 0.0
	for _, v := range p.setup.Cabinet.vertices {
		far = math.Max(far, r3.Norm(r3.Sub(v, p.setup.Reference)))
	}
	return float64(p.setup.Order)*p.setup.Cabinet.size + 2*far
}

// look checks a receiver and sees the sides from it.
func (p *Plan) look(i int) error {
	c, r := p.setup.Cabinet, &p.setup.Receivers[i]
	tol := flat * c.size
	if !finite(r.at) {
		return fmt.Errorf("diffraction: receiver %d is %v, want finite coordinates", i, r.at)
	}
	if r.far {
		if !(r3.Norm(r.at) > 0) {
			return fmt.Errorf("diffraction: receiver %d is in no direction, want a vector that is not 0", i)
		}
		r.at, tol = r3.Unit(r.at), flat
	} else if r3.Norm(r3.Sub(r.at, p.setup.Reference)) < 1e-6*c.size {
		return fmt.Errorf("diffraction: receiver %d is at the reference point, want some distance: levels count from it", i)
	}
	above := make([]float64, len(c.faces)) // 1 in front of a face, ½ in its plane, 0 behind
	outside := false
	for f := range c.faces {
		h := r3.Dot(c.faces[f].normal, r.at)
		if !r.far {
			h = c.height(f, r.at)
		}
		switch {
		case h > tol:
			above[f], outside = 1, true
		case h >= -tol:
			above[f] = 0.5
			if !r.far && c.over(f, r.at, 0) { // on the face itself
				if len(c.faces) == 2 {
					return fmt.Errorf("diffraction: receiver %d is in the plate, want it on one side", i)
				}
				above[f], outside = 1, true
			} else if len(c.faces) == 2 {
				outside = true
			}
		}
	}
	if !r.far && !outside {
		return fmt.Errorf("diffraction: receiver %d at %v is inside the cabinet, want it outside", i, r.at)
	}
	for k := range c.sides {
		s := &c.sides[k]
		v := view{seen: math.Max(above[s.face], above[c.sides[s.twin].face])}
		var x, y float64
		if r.far {
			v.cos, x, y = r3.Dot(r.at, s.e), r3.Dot(r.at, s.t), r3.Dot(r.at, s.n)
			sin := math.Hypot(x, y)
			v.along = r3.Dot(r.at, r3.Sub(s.p, p.setup.Reference))
			if sin < 1e-9 { // along the edge there is nothing
				v.seen = 0
			} else {
				v.cot = v.cos / sin
				v.grow = grow(s.nu, -v.cos, sin, 1)
			}
		} else {
			var z float64
			z, x, y = s.place(r.at)
			v.foot = foot{z, math.Hypot(x, y)}
			if d := math.Hypot(v.foot.r, math.Max(0, math.Max(-z, z-s.length))); d < 1e-4*c.size {
				return fmt.Errorf("diffraction: receiver %d is %g m from an edge, want at least %g m", i, d, 1e-4*c.size)
			}
			if v.foot.r < tol {
				v.seen = 0
			}
		}
		if math.Abs(y) <= tol {
			y = 0
		}
		v.factor = newFactor(s.nu, x, y)
		p.views = append(p.views, v)
	}
	return nil
}

// above returns how much of a source in a face a receiver sees.
func (p *Plan) above(face int, r Receiver) float64 {
	c := p.setup.Cabinet
	h, tol := c.height(face, r.at), flat*c.size
	if r.far {
		h, tol = r3.Dot(c.faces[face].normal, r.at), flat
	}
	switch {
	case h > tol || !r.far && h >= -tol && c.over(face, r.at, 0):
		return 1
	case h >= -tol:
		return 0.5
	}
	return 0
}

// Len returns how many complex numbers a solution has: receivers times frequencies.
func (p *Plan) Len() int { return len(p.setup.Receivers) * p.setup.Grid.Len() }

// State is the workspace of one goroutine that solves for one source after another.
type State struct {
	p       *Plan
	t       *transform
	bodies  []body
	turn    []complex128
	lo, hi  float64
	workers []worker
}

// body is an element of the source with its view of the face's edges.
type body struct {
	at            r3.Vec
	weight, delay float64
	feet          []foot
	nodes         [][]node
}

// worker is the workspace of one of the goroutines of a state.
type worker struct {
	samples       [lanes]samples
	folded        folded
	delay, weight []float64
	fixed         []float64 // of a row of pairs
	fixedDelay    []float64
	nodes         []node
	rows          [lanes][]complex128
	rules         rules
}

// NewState returns a workspace.
func (p *Plan) NewState() *State {
	st := &State{p: p, t: p.base, turn: make([]complex128, p.setup.Grid.Len()), workers: make([]worker, p.setup.Workers)}
	for i := range st.workers {
		st.workers[i].rules = rules{}
	}
	return st
}

// SolveTo writes the sound of a source at all receivers into dst, receiver by
// receiver, each over the grid; nil allocates and another length panics.
//
// It is the pressure divided by that of the same volume velocity as a point source in
// an infinite baffle at the reference point, seen from the same distance R from there:
//
//	H = p / (2·e^{−jkR}/R),  free field of a point source e^{−jkr}/r
//
// so that a half-space response at R metres, multiplied by H, is the response in full
// space at R metres on the common time zero of all receivers. H goes to ½ (−6.02 dB)
// as f → 0, as far as the orders of the plan take it there.
//
// It refuses elements off the face, outside its outline, or nearer to its edges than
// 1e-4 of the cabinet's size.
func (st *State) SolveTo(dst []complex128, s Source) ([]complex128, error) {
	dst = freq.Dst(dst, st.p.Len())
	if err := st.prepare(s); err != nil {
		return nil, err
	}
	n := st.p.setup.Grid.Len()
	blocks := (len(st.p.setup.Receivers) + lanes - 1) / lanes
	if len(st.workers) == 1 || blocks == 1 {
		for b := range blocks {
			st.solveBlock(&st.workers[0], dst, s.Face, b, n)
		}
		return dst, nil
	}
	var wait sync.WaitGroup
	for w := range st.workers {
		wait.Go(func() {
			for b := w; b < blocks; b += len(st.workers) {
				st.solveBlock(&st.workers[w], dst, s.Face, b, n)
			}
		})
	}
	wait.Wait()
	return dst, nil
}

// solveBlock solves for as many receivers as go through the transform at once.
func (st *State) solveBlock(w *worker, dst []complex128, face, block, n int) {
	first := block * lanes
	last := min(first+lanes, len(st.p.setup.Receivers))
	for r := first; r < last; r++ {
		w.samples[r-first].place(st.t, st.lo, st.hi)
		st.addFirst(w, &w.samples[r-first], face, r)
	}
	if st.p.pairs != nil {
		st.addSecond(w, face, first, last)
	}
	for r := first; r < last; r++ {
		w.folded.fold(&w.samples[r-first], r-first)
		w.rows[r-first] = dst[r*n : (r+1)*n]
	}
	w.folded.spectra(w.rows[:last-first], st.t, st.turn)
}

// prepare checks a source and places the nodes.
func (st *State) prepare(s Source) error {
	p := st.p
	c := p.setup.Cabinet
	if s.Face < 0 || s.Face >= len(c.faces) {
		return fmt.Errorf("diffraction: a source in face %d, want 0 … %d", s.Face, len(c.faces)-1)
	}
	if err := radiation.CheckElements(s.Elements); err != nil {
		return err
	}
	f := &c.faces[s.Face]
	for len(st.bodies) < len(s.Elements) {
		st.bodies = append(st.bodies, body{})
	}
	st.bodies = st.bodies[:len(s.Elements)]
	for i, e := range s.Elements {
		h := c.height(s.Face, e.At)
		if math.Abs(h) > 1e-6*c.size {
			return fmt.Errorf("diffraction: element %d of the source is %g m off face %d, want it in the plane of the face", i, h, s.Face)
		}
		if d := c.inset(s.Face, e.At); d < 1e-4*c.size {
			return fmt.Errorf("diffraction: element %d of the source is %g m inside the edges of face %d, want at least %g m", i, d, s.Face, 1e-4*c.size)
		}
		b := &st.bodies[i]
		b.at, b.weight, b.delay = r3.Sub(e.At, r3.Scale(h, f.normal)), e.Weight, e.Delay
		for len(b.nodes) < len(f.sides) {
			b.nodes, b.feet = append(b.nodes, nil), append(b.feet, foot{})
		}
		b.nodes, b.feet = b.nodes[:len(f.sides)], b.feet[:len(f.sides)]
		for k, i := range f.sides {
			z, x, _ := c.sides[i].place(b.at)
			b.feet[k] = foot{z, x}
			b.nodes[k] = c.sides[i].nodes(b.nodes[k][:0], b.feet[k], p.perMetre(), st.workers[0].rules, b.feet[k])
		}
	}
	st.bound(s.Face)
	return nil
}

// bound finds the range of delays of all paths, and the turn of its middle.
func (st *State) bound(face int) {
	p := st.p
	c := p.setup.Cabinet
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range st.bodies {
		b := &st.bodies[i]
		delay := b.delay * p.setup.Air.SpeedOfSound
		for _, r := range p.setup.Receivers {
			lo = math.Min(lo, delay+p.from(r, b.at))
			if p.setup.Order == First {
				for _, k := range c.faces[face].corners {
					hi = math.Max(hi, delay+r3.Norm(r3.Sub(c.vertices[k], b.at))+p.from(r, c.vertices[k]))
				}
				continue
			}
			for _, v := range c.vertices {
				hi = math.Max(hi, delay+p.pairs.longest+p.from(r, v)+c.size)
			}
		}
	}
	st.lo, st.hi = lo/p.setup.Air.SpeedOfSound, hi/p.setup.Air.SpeedOfSound
	if need := (st.hi - st.lo) / 2; int(math.Ceil(need/st.t.step))+spread > st.t.reach {
		st.t = newTransform(p.setup.Grid, 1.2*need)
	}
	middle := (st.lo + st.hi) / 2
	for i, w := range p.setup.Grid.Omega() {
		sin, cos := math.Sincos(w * middle)
		st.turn[i] = complex(cos, -sin)
	}
}

// from returns the length of the way from a point to a receiver, less that from the
// reference.
func (p *Plan) from(r Receiver, at r3.Vec) float64 {
	if r.far {
		return -r3.Dot(r.at, r3.Sub(at, p.setup.Reference))
	}
	return r3.Norm(r3.Sub(r.at, at)) - r3.Norm(r3.Sub(r.at, p.setup.Reference))
}
