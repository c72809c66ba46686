package system

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// Plan evaluates variants of one loudspeaker on one grid. It has a table of the
// response of every source and stage of the nominal one; a variant that shares a
// transfer with the nominal (by [freq.Same]: the same pointer or value) is given
// the table instead of being evaluated again. A plan is immutable and may be
// shared by goroutines.
type Plan struct {
	grid  *freq.Grid
	basis freq.Basis
	ways  []planned
}

type planned struct {
	name   string
	parts  []freq.Transfer // source, then the stages of the chain
	tables [][]complex128  // of the parts
	path   crossover.Chain // delay and polarity only
	phasor []complex128    // of the path
}

// maxParts bounds the parts of a way: which of them still hold is kept as bits,
// the last of which is for delay and polarity.
const (
	maxParts = 63
	pathBit  = 1 << maxParts
)

// NewPlan checks the nominal loudspeaker and tabulates its transfers.
func NewPlan(nominal *Loudspeaker, g *freq.Grid) (*Plan, error) {
	if err := check(nominal, g); err != nil {
		return nil, err
	}
	p := &Plan{grid: g, basis: nominal.Ways[0].Source.Basis()}
	for _, w := range nominal.Ways {
		parts := partsOf(w)
		if len(parts) > maxParts {
			return nil, fmt.Errorf("system: way %q has %d stages, want at most %d (join some in one cascade)", w.Name, len(parts)-1, maxParts-1)
		}
		c := planned{name: w.Name, parts: parts, path: crossover.Chain{Delay: w.Chain.Delay, Inverted: w.Chain.Inverted}}
		c.phasor = c.path.ResponseTo(nil, g)
		for _, t := range parts {
			c.tables = append(c.tables, t.ResponseTo(nil, g))
		}
		p.ways = append(p.ways, c)
	}
	return p, nil
}

func partsOf(w Way) []freq.Transfer {
	return append([]freq.Transfer{w.Source}, w.Chain.Stages...)
}

// check validates the loudspeaker and that every measured part of it is on g.
func check(l *Loudspeaker, g *freq.Grid) error {
	if err := l.Validate(); err != nil {
		return err
	}
	for _, w := range l.Ways {
		for _, t := range partsOf(w) {
			if err := freq.CheckGrid(t, g); err != nil {
				return fmt.Errorf("system: way %q: %w", w.Name, err)
			}
		}
	}
	return nil
}

// Grid returns the grid of the plan.
func (p *Plan) Grid() *freq.Grid { return p.grid }

// State is the workspace and the result of one evaluation. It belongs to one
// goroutine.
type State struct {
	ratio *freq.Ratio
	tmp   []complex128
	sum   []complex128
	ways  []stateWay
}

type stateWay struct {
	out    []complex128
	folded []complex128 // product of the tables that still hold
	held   uint64       // which those are, a bit a part
	filled bool
}

// NewState returns a workspace for the plan.
func (p *Plan) NewState() *State {
	n := p.grid.Len()
	st := &State{ratio: freq.NewRatio(n), tmp: make([]complex128, n), sum: make([]complex128, n)}
	for range p.ways {
		st.ways = append(st.ways, stateWay{out: make([]complex128, n), folded: make([]complex128, n)})
	}
	return st
}

// Sum returns the complex sum of the last evaluation. The slice is the state's.
func (st *State) Sum() []complex128 { return st.sum }

// Way returns way i of the last evaluation. The slice is the state's.
func (st *State) Way(i int) []complex128 { return st.ways[i].out }

// PowerTo writes |sum|² into dst: nil allocates, another length panics.
func (st *State) PowerTo(dst []float64) []float64 {
	dst = freq.Dst(dst, len(st.sum))
	for i, v := range st.sum {
		dst[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	return dst
}

// SolveTo evaluates a variant of the plan's loudspeaker. The variant must have
// the same ways, on the same basis, with as many stages; what it shares with the
// nominal costs nothing but one multiplication a point, and its rational stages
// share one division.
func (p *Plan) SolveTo(st *State, l *Loudspeaker) error {
	if len(st.ways) != len(p.ways) || len(st.sum) != p.grid.Len() {
		panic("system: state of another plan")
	}
	if len(l.Ways) != len(p.ways) {
		return fmt.Errorf("system: variant has %d ways, want %d as the plan", len(l.Ways), len(p.ways))
	}
	for i := range st.sum {
		st.sum[i] = 0
	}
	for k := range l.Ways {
		if err := p.solveWay(st, k, &l.Ways[k]); err != nil {
			return err
		}
		for i, v := range st.ways[k].out {
			st.sum[i] += v
		}
	}
	return nil
}

func (p *Plan) solveWay(st *State, k int, w *Way) error {
	nominal, s := &p.ways[k], &st.ways[k]
	if w.Name != nominal.name {
		return fmt.Errorf("system: way %d of the variant is %q, want %q as the plan", k, w.Name, nominal.name)
	}
	if w.Source == nil || w.Source.Basis() != p.basis {
		return fmt.Errorf("system: source of way %q of the variant is not %v, as the plan", w.Name, p.basis)
	}
	if len(w.Chain.Stages) != len(nominal.parts)-1 {
		return fmt.Errorf("system: way %q of the variant has %d stages, want %d as the plan", w.Name, len(w.Chain.Stages), len(nominal.parts)-1)
	}
	if err := w.Chain.Validate(); err != nil {
		return fmt.Errorf("system: way %q of the variant: %w", w.Name, err)
	}
	var held uint64
	for n := range nominal.parts {
		if same(w.part(n), nominal.parts[n]) {
			held |= 1 << n
		}
	}
	if w.Chain.Delay == nominal.path.Delay && w.Chain.Inverted == nominal.path.Inverted {
		held |= pathBit
	}
	if !s.filled || s.held != held {
		s.fold(nominal, held)
	}
	copy(s.out, s.folded)
	rational := false
	for n := range nominal.parts {
		if held&(1<<n) != 0 {
			continue
		}
		t := w.part(n)
		if err := freq.CheckGrid(t, p.grid); err != nil {
			return fmt.Errorf("system: way %q of the variant: %w", w.Name, err)
		}
		if q, ok := t.(freq.Rational); ok {
			if !rational {
				st.ratio.Reset()
				rational = true
			}
			q.MulTo(st.ratio, p.grid)
			continue
		}
		mul(s.out, t.ResponseTo(st.tmp, p.grid))
	}
	if rational {
		mul(s.out, st.ratio.DivideTo(st.tmp))
	}
	if held&pathBit == 0 {
		turn(s.out, &w.Chain, p.grid)
	}
	return nil
}

// same is [freq.Same], and looks into models.
func same(a, b freq.Transfer) bool {
	if x, ok := a.(Model); ok {
		y, ok := b.(Model)
		return ok && x.Stated == y.Stated && freq.Same(x.Transfer, y.Transfer)
	}
	return freq.Same(a, b)
}

// part returns the source or, from 1 on, a stage of the chain.
func (w *Way) part(n int) freq.Transfer {
	if n == 0 {
		return w.Source
	}
	return w.Chain.Stages[n-1]
}

// turn multiplies by the delay and polarity of a chain.
func turn(dst []complex128, c *crossover.Chain, g *freq.Grid) {
	sign := 1.0
	if c.Inverted {
		sign = -1
	}
	for i, w := range g.Omega() {
		sin, cos := math.Sincos(-w * c.Delay)
		dst[i] *= complex(sign*cos, sign*sin)
	}
}

func (s *stateWay) fold(nominal *planned, held uint64) {
	for i := range s.folded {
		s.folded[i] = 1
	}
	for n, table := range nominal.tables {
		if held&(1<<n) != 0 {
			mul(s.folded, table)
		}
	}
	if held&pathBit != 0 {
		mul(s.folded, nominal.phasor)
	}
	s.held, s.filled = held, true
}

func mul(dst, by []complex128) {
	for i, v := range by {
		dst[i] *= v
	}
}
