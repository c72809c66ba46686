package dsp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// LimitCycle is what a program goes on with after its input has stopped.
type LimitCycle struct {
	Amplitude float64 // largest magnitude at the output, in full scale
	Period    int     // samples; 1 is a value that stands still
}

// LimitCycleSearch is what a search tries.
type LimitCycleSearch struct {
	Trials int // how many excitations
	// Excite is for how many samples white noise is fed, evenly distributed over
	// ±Level (full scale is 1); Settle how many samples of silence pass at most
	// before a period must have shown.
	Excite, Settle int
	Level          float64
	Seed           uint64
}

// LimitCycles are the results of a search.
type LimitCycles struct {
	// Found are the different ones, the loudest first: none if the program fell
	// silent in every trial.
	Found []LimitCycle
	// Silent and Undecided count trials that ended in silence, and that had neither
	// fallen silent nor repeated a state by the end.
	Silent, Undecided int
	// Bound is the largest amplitude that rounding can cause at the output without
	// overflow: Σ of the largest errors of all roundings times the L1 norms from there,
	// an upper bound that is rarely reached. With an input it bounds how far the output
	// is from that of exact arithmetic.
	Bound float64
}

// LimitCycles searches the states that a fixed-point program can stay in without an
// input: excited by noise, then left in silence until its whole state repeats itself
// (the period of a deterministic machine; R. P. Brent's cycle search). A search that
// finds none proves nothing; Bound does.
func (p *Program) LimitCycles(s LimitCycleSearch) (*LimitCycles, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if !p.Arithmetic.fixed() {
		return nil, fmt.Errorf("dsp: limit cycles of a program in %v, want fixed point", p.Arithmetic.Signal)
	}
	if s.Trials < 1 || s.Excite < 1 || s.Settle < 1 || !(s.Level > 0) || math.IsInf(s.Level, 0) {
		return nil, fmt.Errorf("dsp: search of limit cycles with %d trials, %d samples of noise of ±%g and %d of silence, want all > 0", s.Trials, s.Excite, s.Level, s.Settle)
	}
	out := &LimitCycles{}
	var err error
	if out.Bound, err = p.roundingBound(); err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(s.Seed, 0x6c696d6974))
	c := newFixedCore(p)
	for range s.Trials {
		c.reset()
		for range s.Excite {
			c.step(toWord((2*rng.Float64()-1)*s.Level/c.format.Step(), float64(c.lo), float64(c.hi), c.lo, c.hi))
		}
		period := c.period(s.Settle)
		if period == 0 {
			out.Undecided++
			continue
		}
		// The FIR filters and the delay repeat with what feeds them.
		for range p.Delay + len(c.fir)*period {
			c.step(0)
		}
		for i := range c.fir {
			for range len(c.fir[i].word) {
				c.step(0)
			}
		}
		var top int64
		for range period {
			v := c.step(0)
			top = max(top, v, -v)
		}
		if top == 0 {
			out.Silent++
			continue
		}
		found := LimitCycle{float64(top) * c.format.Step(), period}
		if !slices.Contains(out.Found, found) {
			out.Found = append(out.Found, found)
		}
	}
	slices.SortFunc(out.Found, func(a, b LimitCycle) int {
		if a.Amplitude != b.Amplitude {
			if a.Amplitude > b.Amplitude {
				return -1
			}
			return 1
		}
		return a.Period - b.Period
	})
	return out, nil
}

// period runs in silence until the state of sections repeats, and returns after how
// many samples, or 0 if it did not within settle samples.
func (c *fixedCore) period(settle int) int {
	v, e := slices.Clone(c.v), slices.Clone(c.e)
	length, limit := 0, 1
	for range settle {
		c.step(0)
		length++
		if slices.Equal(c.v, v) && slices.Equal(c.e, e) {
			return length
		}
		if length == limit {
			copy(v, c.v)
			copy(e, c.e)
			length, limit = 0, 2*limit
		}
	}
	return 0
}

// roundingBound returns Σ largest error · L1 norm to the output.
func (p *Program) roundingBound() (float64, error) {
	c := newChain(p)
	n, err := c.ring()
	if err != nil {
		return 0, err
	}
	_, _, most := p.Arithmetic.Rounding.moments()
	most *= p.Arithmetic.Signal.Step()
	var bound float64
	index := 0
	for _, l := range c.locals {
		for _, r := range l.rows {
			if r.row.dropped() > 0 {
				m := newModel(c)
				errors := make([]float64, len(m.nodes))
				shape := [][]float64{{1}, {1, -1}, {1, -2, 1}}[r.row.Feedback]
				out := make([]float64, n)
				for k := range out {
					errors[index] = 0
					if k < len(shape) {
						errors[index] = shape[k]
					}
					out[k] = m.step(0, errors)
				}
				for _, f := range p.FIR {
					out = convolve(out, f.values())
				}
				largest := most
				if r.row.LowBits > 0 { // the low products are cut to the accumulator's last bit
					largest += math.Ldexp(p.Arithmetic.Signal.Step(), -r.row.Fraction)
				}
				bound += largest * floats.Norm(out, 1)
			}
			index++
		}
	}
	for i, f := range p.FIR {
		if f.Row(p.Arithmetic).dropped() == 0 {
			continue
		}
		h := []float64{1}
		for _, g := range p.FIR[i+1:] {
			h = convolve(h, g.values())
		}
		largest := most
		if f.Taps[0].LowBits > 0 {
			largest += math.Ldexp(p.Arithmetic.Signal.Step(), -f.Taps[0].Shift)
		}
		bound += largest * floats.Norm(h, 1)
	}
	return bound, nil
}
