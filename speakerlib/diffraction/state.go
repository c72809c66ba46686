package diffraction

import (
	"runtime"
	"sync/atomic"

	"example.org/loudspeaker/speakerlib/freq"
)

// State is the workspace of one goroutine that solves for one source after another. Used by
// two at once it panics: each takes one of its own.
type State struct {
	used      atomic.Bool
	p         *Plan
	t         *transform
	bodies    []body
	turn      []complex128
	lo, hi    float64
	workers   []*worker // each by itself, so that none writes beside what another one reads
	crew      crew      // for all workers but the first
	residual  float64
	blockSize int

	// Of the solution under way:
	next, done atomic.Int32 // jobs that are taken, and sides that are done
	ready      atomic.Bool  // whether all sides are
	failed     error        // what the last one found, once ready
}

// worker is the workspace of one of the goroutines of a state.
type worker struct {
	samples       []samples // by receiver of a block
	folded        folded
	delay, weight []float64
	sights        []sight // of the second edge of a group of pairs
	origins       [together]origin
	fixed         []float64 // by pair of some rows
	fixedDelay    []float64 // fine samples
	missed        []float64 // by point of a second edge
	peakDelay     [1]float64
	peakWeight    [1]float64
	nodes         []node
	rows          [lanes][]complex128
	rules         *rules
	series        seriesWorker
}

// A block is how many receivers share the work of looking at the pairs of edges; mostBlock
// is the largest, as the windows of more do not stay in a processor's own memory.
const mostBlock = 6 * lanes

// block returns how many receivers are in one. Of the first order there is nothing to share,
// and the smallest blocks keep all workers busy to the end; of others it takes three a worker.
func (p *Plan) block() int {
	if p.pairs == nil && p.setup.Workers > 1 {
		return lanes
	}
	n := 3 * p.setup.Workers
	return min(mostBlock, max(lanes, (len(p.setup.Receivers)+n-1)/n))
}

// claim takes the state for a caller until release.
func (st *State) claim() {
	if !st.used.CompareAndSwap(false, true) {
		panic("diffraction: a State is used by two goroutines at once, want one for each")
	}
}

func (st *State) release() { st.used.Store(false) }

// NewState returns a workspace.
func (p *Plan) NewState() *State {
	st := &State{p: p, t: p.base, turn: make([]complex128, p.setup.Grid.Len()), blockSize: p.block()}
	for range p.setup.Workers {
		st.workers = append(st.workers, &worker{rules: newRules(), samples: make([]samples, st.blockSize)})
	}
	for _, w := range st.workers[1:] {
		st.crew.helpers = append(st.crew.helpers, &helper{worker: w})
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
// It refuses elements off the face, outside its outline or nearer to its edges than 1e-4 of
// the cabinet's size; surfaces whose rim reaches beyond the edges, however few elements stand
// for them; weights that do not add up to 1 (to 1e-6); receivers in an element,
// or nearer to one of a surface (four elements or more) than the next element is; and delays
// of more than 50 ms beyond the time that sound takes over the cabinet, in most cases milliseconds
// given as seconds.
func (st *State) SolveTo(dst []complex128, s Source) ([]complex128, error) {
	dst = freq.Dst(dst, st.p.Len())
	st.claim()
	defer st.release()
	if err := st.p.check(s); err != nil {
		return nil, err
	}
	st.take(s)
	st.next.Store(0)
	st.done.Store(0)
	st.ready.Store(false)
	if len(st.workers) == 1 {
		st.solveJobs(st.workers[0], dst, s.Face)
	} else {
		st.crew.each(st.workers[0], func(w *worker) { st.solveJobs(w, dst, s.Face) })
	}
	if st.failed != nil {
		return nil, st.failed
	}
	if st.p.bands != nil {
		st.addSeries(dst, s.Face)
	}
	return dst, nil
}

// solveJobs takes one job after another until none is left: first the sides of the source's
// face as seen from each of its elements, and then the blocks of receivers. Sides take some
// microseconds, less than it takes to wake a goroutine, so that nobody sleeps until the last
// of them is done.
func (st *State) solveJobs(w *worker, dst []complex128, face int) {
	each := len(st.p.setup.Cabinet.faces[face].sides)
	sides := len(st.bodies) * each
	all := sides + (len(st.p.setup.Receivers)+st.blockSize-1)/st.blockSize
	for j := int(st.next.Add(1)) - 1; j < all; j = int(st.next.Add(1)) - 1 {
		if j < sides {
			b := &st.bodies[j/each]
			if st.p.layout(b, face, j%each, w.rules); j%each == 0 {
				st.p.reach(b, face)
			}
			if int(st.done.Add(1)) == sides {
				st.failed = st.bound()
				st.ready.Store(true)
			}
			continue
		}
		for !st.ready.Load() {
			runtime.Gosched()
		}
		if st.failed != nil {
			return
		}
		st.solveBlock(w, dst, face, j-sides)
	}
}

// Residual returns how large the last order was that the last solution of [All] summed,
// re the second, at the worst frequency. The sum ends at 1e-5; above 1e-3 or so it has
// not converged within 60 orders.
func (st *State) Residual() float64 { return st.residual }

// solveBlock solves for the receivers of a block.
func (st *State) solveBlock(w *worker, dst []complex128, face, block int) {
	n := st.p.setup.Grid.Len()
	first := block * st.blockSize
	last := min(first+st.blockSize, len(st.p.setup.Receivers))
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
