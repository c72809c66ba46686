package diffraction

import (
	"fmt"
	"math"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/radiation"
)

// State is the workspace of one goroutine that solves for one source after another.
type State struct {
	p        *Plan
	t        *transform
	bodies   []body
	turn     []complex128
	lo, hi   float64
	workers  []worker
	residual float64
	next     atomic.Int32 // of the jobs of a solution
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
	samples       [blockSize]samples
	folded        folded
	delay, weight []float64
	sights        []sight   // of the second edge of a group of pairs
	fixed         []float64 // of a row of pairs
	fixedDelay    []float64 // fine samples
	missed        []float64 // by point of a second edge
	peakDelay     [1]float64
	peakWeight    [1]float64
	nodes         []node
	rows          [lanes][]complex128
	rules         *rules
	series        seriesWorker
}

// NewState returns a workspace.
func (p *Plan) NewState() *State {
	st := &State{p: p, t: p.base, turn: make([]complex128, p.setup.Grid.Len()), workers: make([]worker, p.setup.Workers)}
	for i := range st.workers {
		st.workers[i].rules = newRules()
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
// It refuses elements off the face, outside its outline, nearer to its edges than 1e-4 of
// the cabinet's size or at a receiver, and delays so large that they would take gigabytes.
func (st *State) SolveTo(dst []complex128, s Source) ([]complex128, error) {
	dst = freq.Dst(dst, st.p.Len())
	if err := st.prepare(s); err != nil {
		return nil, err
	}
	st.solveTwo(dst, s)
	if st.p.bands != nil {
		st.addSeries(dst, s.Face)
	}
	return dst, nil
}

func (st *State) solveTwo(dst []complex128, s Source) {
	blocks := (len(st.p.setup.Receivers) + blockSize - 1) / blockSize
	st.next.Store(0)
	if len(st.workers) == 1 || blocks == 1 {
		st.blockJobs(&st.workers[0], dst, s.Face, blocks)
		return
	}
	var wait sync.WaitGroup
	for i := range st.workers {
		wait.Go(func() { st.blockJobs(&st.workers[i], dst, s.Face, blocks) })
	}
	wait.Wait()
}

// blockJobs takes one block of receivers after another until none is left.
func (st *State) blockJobs(w *worker, dst []complex128, face, blocks int) {
	n := st.p.setup.Grid.Len()
	for b := int(st.next.Add(1)) - 1; b < blocks; b = int(st.next.Add(1)) - 1 {
		st.solveBlock(w, dst, face, b, n)
	}
}

// Residual returns how large the last order was that the last solution of [All] summed,
// re the second, at the worst frequency. The sum ends at 1e-5; above 1e-3 or so it has
// not converged within 60 orders.
func (st *State) Residual() float64 { return st.residual }

// blockSize is how many receivers share the work of looking at the pairs of edges: a few
// times lanes.
const blockSize = 3 * lanes

// solveBlock solves for the receivers of a block.
func (st *State) solveBlock(w *worker, dst []complex128, face, block, n int) {
	first := block * blockSize
	last := min(first+blockSize, len(st.p.setup.Receivers))
	for r := first; r < last; r++ {
		w.samples[r-first].place(st.t, st.lo, st.hi)
		st.addFirst(w, &w.samples[r-first], face, r)
	}
	if st.p.pairs != nil {
		for r := first; r < last; r++ {
			w.samples[r-first].placeFine()
		}
		st.addSecond(w, face, first, last)
		for r := first; r < last; r++ {
			w.samples[r-first].takeFine()
		}
	}
	for group := first; group < last; group += lanes {
		end := min(group+lanes, last)
		for r := group; r < end; r++ {
			w.folded.fold(&w.samples[r-first], r-group)
			w.rows[r-group] = dst[r*n : (r+1)*n]
		}
		w.folded.spectra(w.rows[:end-group], st.t, w.samples[0].reach, st.turn)
	}
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
		for k, r := range p.setup.Receivers {
			if d := r3.Norm(r3.Sub(r.at, e.At)); !r.far && d < 1e-6*c.size {
				return fmt.Errorf("diffraction: receiver %d is in element %d of the source, want some distance: a point source has no pressure there", k, i)
			}
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
	return st.bound(s.Face)
}

// mostPeriods is how late a source may be in periods of the highest frequency, so that its
// phase keeps its digits.
const mostPeriods = 1e8

// bound finds the range of delays of all paths, and the turn of its middle.
func (st *State) bound(face int) error {
	p := st.p
	c := p.setup.Cabinet
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range st.bodies {
		b := &st.bodies[i]
		delay := b.delay * p.setup.Air.SpeedOfSound
		for _, r := range p.setup.Receivers {
			lo = math.Min(lo, delay+p.from(r, b.at))
		}
		// Paths over edges are longest over corners, since lengths are convex: over one, or
		// over two, of which the first is the face's.
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
				hi = math.Max(hi, delay+way+p.from(r, v))
			}
		}
	}
	st.lo, st.hi = lo/p.setup.Air.SpeedOfSound, hi/p.setup.Air.SpeedOfSound
	if n := math.Max(-st.lo, st.hi) * p.setup.Grid.Last(); !(n <= mostPeriods) {
		return fmt.Errorf("diffraction: delays from %.4g to %.4g s are %.3g periods of %g Hz, want at most %g", st.lo, st.hi, n, p.setup.Grid.Last(), float64(mostPeriods))
	}
	if need := (st.hi - st.lo) / 2; int(math.Ceil(need/st.t.step))+spread > st.t.tiers[0].reach {
		t, err := newTransform(p.setup.Grid, 1.2*need)
		if err != nil {
			return err
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

// from returns the length of the way from a point to a receiver, less that from the
// reference.
func (p *Plan) from(r Receiver, at r3.Vec) float64 {
	if r.far {
		return -r3.Dot(r.at, r3.Sub(at, p.setup.Reference))
	}
	return r3.Norm(r3.Sub(r.at, at)) - r3.Norm(r3.Sub(r.at, p.setup.Reference))
}
