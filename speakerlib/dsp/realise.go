package dsp

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/fir"
)

// Chain is what is to be committed: sections with their gain, polarity and delay, then
// FIR filters in order. A cascade without sections is a wire.
type Chain struct {
	Sections *digital.Cascade
	FIR      []*fir.Filter
}

// Splitting is whether coefficients may be held in two words.
type Splitting int

// The splittings.
const (
	SplitNever  Splitting = iota
	SplitNeeded           // an alternative, for the sections that want it
	SplitAlways
)

// Norm is the measure of how large a sum becomes, by which sections are scaled.
type Norm int

// The norms, see [Node].
const (
	LInfinity Norm = iota // a lasting sine of full scale must fit
	LTwo                  // white noise must fit: for wide-band signals only; a bass note may overflow
	LOne                  // everything must fit
	Unscaled              // no scaling: the signal format has room, or the caller knows
)

// Options are what may be chosen for [Realise], and what is left to it. The zero value
// leaves structure and order to it, splits nothing, feeds no errors back, and scales
// for a sine of full scale.
type Options struct {
	// Structure is that of all sections; Automatic chooses for each.
	Structure Structure
	Split     Splitting
	// Feedback is the highest order of error feedback that the processor can do.
	Feedback int
	// KeepOrder keeps the order of the cascade.
	KeepOrder bool
	Scaling   Norm
	// Reserve is how far below the end of the signal's range the scaling keeps all sums, a
	// ratio ≥ 1; 0 stands for 1.
	Reserve float64
	// Tolerance is the largest relative error of the response by rounding a section's
	// coefficients that an automatic choice takes if it can; 0 stands for 1e-3, which
	// is 0.009 dB.
	Tolerance float64
}

// Realisation is a program and how it came about.
type Realisation struct {
	Program *Program
	// Order tells which section of the cascade stands at each place of the program.
	Order []int
	// Choices are what was chosen from, at each place of the program.
	Choices []Choice
}

// noGain is how near to 1 a gain is none. A product of gains that come to 1 is off by some
// units of the last place or is not, by processor, and a program is not to have a multiplication
// more for it.
const noGain = 1e-14

// Realise commits a chain to an arithmetic.
//
// Structure: each section by itself is scaled for the norm, and of what keeps the
// tolerance the alternative with the least noise is taken, or one within 1 dB of it
// that needs fewer multiplications, or as many and is less sensitive to its
// coefficients; if none keeps the tolerance, the one with the least error. An alternative that is
// off by half the largest magnitude of the response is none, unless its structure was asked
// for: then its Error tells. Sections stay as they were
// designed: poles and zeros are not paired anew, so that each can be found again.
//
// Coefficients are rounded to the nearest, and numerators of the direct forms so that
// their zeros at direct current and at half the sample rate stay where they are. The
// state-variable form keeps those at direct current by its construction; coupled form
// and lattice keep none, which the error of the alternative shows.
//
// Order: that of the least noise at the output after scaling (Jackson 1970): of up to
// seven sections all orders, of more the best that exchanging and moving single ones
// leads to from the given order, which need not be the best of all.
//
// Scaling: by powers of two, so that no response changes and no rounding is added: every
// sum is to stay within the signal's range by the norm, and nothing is raised above
// the level that it was designed with. What is lost comes back in the gain at the end,
// which may then overflow if the chain as a whole does. Floating point is not scaled.
//
// Saturation: an accumulator that has no bits above the signal's wraps before anything can
// saturate, which is a jump of full scale, and can destroy a driver. Coefficients leave these bits
// free as far as Arithmetic.Exponent allows. Where a sum could still exceed the accumulator, by its
// L1 norm from inputs within ±1, the chain is refused; it is not where overflow is to wrap.
func Realise(c Chain, a Arithmetic, o Options) (*Realisation, error) {
	o, err := o.check(c, a)
	if err != nil {
		return nil, err
	}
	choices := make([]Choice, c.Sections.Len())
	for i := range choices {
		choices[i], err = choose(c.Sections, i, a, o)
		if err != nil {
			return nil, fmt.Errorf("dsp: section %d of %d, %q: %w", i+1, c.Sections.Len(), c.Sections.Design(i), err)
		}
	}
	order := make([]int, len(choices))
	for i := range order {
		order[i] = i
	}
	if !o.KeepOrder && len(order) > 1 {
		order = newOrdering(c.Sections, choices, a, o).best()
	}
	p := &Program{SampleRate: c.Sections.SampleRate(), Arithmetic: a, Delay: c.Sections.Delay()}
	out := &Realisation{Program: p, Order: order}
	scale := 0
	for _, i := range order {
		alt := choices[i].Alternatives[choices[i].Chosen]
		s, err := place(p, c.Sections.At(i), c.Sections.Design(i), alt, scale, o)
		if err != nil {
			return nil, fmt.Errorf("dsp: section %d of %d, %q: %w", i+1, c.Sections.Len(), c.Sections.Design(i), err)
		}
		scale += s.Scale
		p.Sections = append(p.Sections, s)
		out.Choices = append(out.Choices, choices[i])
	}
	k := math.Ldexp(c.Sections.Gain(), -scale)
	if c.Sections.Inverted() {
		k = -k
	}
	if math.Abs(k-1) > noGain {
		g, err := newGain(k, a, o.Split == SplitAlways)
		if err != nil {
			return nil, fmt.Errorf("dsp: %w", err)
		}
		p.Gain = &g
	}
	for i, f := range c.FIR {
		x, err := newFIR(f, a, o.Split == SplitAlways)
		if err != nil {
			return nil, fmt.Errorf("dsp: FIR filter %d of %d, %v: %w", i+1, len(c.FIR), f, err)
		}
		p.FIR = append(p.FIR, x)
	}
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if err := p.saturates(); err != nil {
		return nil, err
	}
	return out, nil
}

// saturates reports a sum that may exceed its accumulator, and so wraps where it is to
// saturate.
func (p *Program) saturates() error {
	a := p.Arithmetic
	if !a.fixed() || a.Overflow != Saturate {
		return nil
	}
	var short []int // in the order of Headroom
	for _, s := range p.Sections {
		for _, r := range s.Network(a).Rows {
			short = append(short, r.short(a))
		}
	}
	if p.Gain != nil {
		short = append(short, p.Gain.Row(a).short(a))
	}
	for _, f := range p.FIR {
		short = append(short, f.Row(a).short(a))
	}
	if slices.Max(append(short, 0)) == 0 {
		return nil
	}
	nodes, err := p.Headroom()
	if err != nil {
		return err
	}
	for i, n := range nodes {
		if short[i] > 0 && n.L1 > n.Accumulator*(1-1e-9) {
			return fmt.Errorf("dsp: sum %s of part %d may reach %.4g, and the accumulator of %d bits holds %.4g: beyond that it would wrap and not saturate; want up to %d bits more, shorter coefficients, or a reserve of %.2g",
				n.Sum, n.Section+1, n.L1, a.Accumulator, n.Accumulator, short[i], n.L1/n.Accumulator)
		}
	}
	return nil
}

func (o Options) check(c Chain, a Arithmetic) (Options, error) {
	if c.Sections == nil {
		return o, fmt.Errorf("dsp: chain has no cascade, want one, without sections if there are none")
	}
	for i, f := range c.FIR {
		if f == nil || f.SampleRate() != c.Sections.SampleRate() {
			return o, fmt.Errorf("dsp: FIR filter %d of %d is %v, want one at %g Hz, the sample rate of the cascade", i+1, len(c.FIR), f, c.Sections.SampleRate())
		}
	}
	if err := a.Validate(); err != nil {
		return o, err
	}
	if o.Structure < Automatic || o.Structure > Lattice || o.Split < SplitNever || o.Split > SplitAlways || o.Scaling < LInfinity || o.Scaling > Unscaled || o.Feedback < 0 || o.Feedback > MaxFeedback {
		return o, fmt.Errorf("dsp: options have structure %d, splitting %d, norm %d and feedback %d, want those of the package and at most %d", o.Structure, o.Split, o.Scaling, o.Feedback, MaxFeedback)
	}
	if o.Reserve == 0 {
		o.Reserve = 1
	}
	if o.Tolerance == 0 {
		o.Tolerance = 1e-3
	}
	if !(o.Reserve >= 1) || math.IsInf(o.Reserve, 0) || !(o.Tolerance > 0) {
		return o, fmt.Errorf("dsp: reserve is the ratio %g and tolerance %g, want at least 1 and more than 0", o.Reserve, o.Tolerance)
	}
	if o.Split != SplitNever && (!a.fixed() || a.Coefficient.Word() > maxSplit) {
		return o, fmt.Errorf("dsp: coefficients of %v are to be split, want fixed point of at most %d bits", a.Coefficient, maxSplit)
	}
	return o, nil
}

// place rounds a section to stand after those of a program, scaled so that its sums
// fit. Before says by which power of two its input is off.
func place(p *Program, b digital.Biquad, design string, alt Alternative, before int, o Options) (Section, error) {
	a := p.Arithmetic
	build := func(scale, shift int) (Section, error) {
		h := holder{a: a, split: alt.Split}
		for {
			s, err := h.section(b, design, alt.Structure, scale, shift, alt.Feedback)
			if err == nil {
				err = s.Validate(a)
			}
			if err != nil || h.guard > 0 && a.Accumulator-a.Signal.Word()-h.guard < a.Coefficient.N-a.Exponent {
				return s, err
			}
			// An exponent is not to take the bits that keep sums from wrapping.
			short := s.short(a)
			if short == 0 {
				return s, nil
			}
			h.guard += short
		}
	}
	// The scale that gives back what was taken before, and less of it where the taps
	// do not fit otherwise.
	if !a.fixed() {
		return build(0, 0)
	}
	scale := -before
	s, err := build(scale, 0)
	for range 2 * MaxExponent {
		if err == nil {
			break
		}
		scale--
		if t, e := build(scale, 0); e == nil {
			s, err = t, nil
		}
	}
	if err != nil || o.Scaling == Unscaled {
		return s, err
	}
	q := *p
	q.Gain, q.FIR = nil, nil
	q.Sections = append(slices.Clone(p.Sections), s)
	inner, outer, err := q.largest(o.Scaling)
	if err != nil {
		return Section{}, err
	}
	limit := a.Signal.Limit() / o.Reserve
	down := func(norm float64) int { return min(0, -int(math.Ceil(math.Log2(norm/limit)-1e-9))) }
	scale, shift := scale+down(outer), down(inner)
	return build(scale, max(shift, -MaxExponent))
}

// largest returns the largest norms of the last section's sums: of those that go with
// its input shift, and of the others.
func (p *Program) largest(norm Norm) (inner, outer float64, err error) {
	c := newChain(p)
	var nodes []Node
	if norm == LOne {
		nodes, err = p.Headroom()
		if err != nil {
			return 0, 0, err
		}
	} else {
		nodes = c.nodes()
	}
	last := len(p.Sections) - 1
	f := p.Sections[last].Structure.form()
	for _, n := range nodes {
		if n.Section != last {
			continue
		}
		v := n.LInf
		switch norm {
		case LTwo:
			v = n.L2
		case LOne:
			v = n.L1
		}
		if slices.ContainsFunc(f.inner, func(i int) bool { return f.variables[i] == n.Sum }) {
			inner = math.Max(inner, v)
		} else {
			outer = math.Max(outer, v)
		}
	}
	return inner, outer, nil
}
