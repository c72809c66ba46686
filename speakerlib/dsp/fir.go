package dsp

import (
	"fmt"
	"math"
	"math/bits"

	"example.org/loudspeaker/speakerlib/fir"
)

// FIR is a filter of finite length as it is committed: all products of a sample in
// one accumulator and one rounding. The taps share a shift in fixed point. In
// floating point four sums run side by side, over taps 0, 4, 8 …, 1, 5, 9 … and so
// on, and end as (s₀ + s₁) + (s₂ + s₃), which is as fast as it is even.
type FIR struct {
	Design string
	Taps   []Coefficient
	// Delay is the latency in samples that the design states.
	Delay float64
}

// newFIR rounds the taps of a filter, at the largest shift at which all fit.
func newFIR(f *fir.Filter, a Arithmetic, split bool) (FIR, error) {
	out := FIR{Design: f.String(), Delay: f.Samples()}
	h := holder{a: a, split: split}
	taps := f.Taps()
	if a.fixed() {
		names := make([]string, len(taps))
		for i := range names {
			names[i] = fmt.Sprintf("h[%d]", i)
		}
		for {
			var err error
			out.Taps, err = h.group(names, taps, func([]int64) {})
			if err != nil || a.Overflow != Saturate || h.guard > 0 && a.Accumulator-a.Signal.Word()-h.guard < a.Coefficient.N-a.Exponent {
				return out, err
			}
			short := out.Row(a).short(a)
			if short == 0 {
				return out, nil
			}
			h.guard += short
		}
	}
	for i, v := range taps {
		c, err := h.one(fmt.Sprintf("h[%d]", i), v)
		if err != nil {
			return FIR{}, err
		}
		out.Taps = append(out.Taps, c)
	}
	return out, nil
}

// Filter returns the filter of the rounded taps.
func (f FIR) Filter(sampleRate float64) (*fir.Filter, error) {
	return fir.New(sampleRate, f.values(), f.Delay, f.Design)
}

func (f FIR) values() []float64 {
	v := make([]float64, len(f.Taps))
	for i, c := range f.Taps {
		v[i] = c.Float()
	}
	return v
}

// Row returns the sum of a sample: variable i is the input i samples ago, and the
// output is variable len(Taps).
func (f FIR) Row(a Arithmetic) Row {
	r := Row{Variable: len(f.Taps), Fraction: f.Taps[0].Shift, LowBits: f.Taps[0].LowBits}
	for i, c := range f.Taps {
		r.Terms = append(r.Terms, Term{i, c.Word, c.Low, c.Value})
	}
	return r
}

// Validate reports a filter that the arithmetic does not have.
func (f FIR) Validate(a Arithmetic) error {
	if len(f.Taps) < 1 || len(f.Taps) > fir.MaxTaps {
		return fmt.Errorf("dsp: FIR filter has %d taps, want 1 to %d", len(f.Taps), fir.MaxTaps)
	}
	if !(f.Delay >= 0 && f.Delay <= float64(len(f.Taps))) {
		return fmt.Errorf("dsp: FIR filter of %d taps has a delay of %g samples, want 0 to %d", len(f.Taps), f.Delay, len(f.Taps))
	}
	var gain float64
	for i, c := range f.Taps {
		if err := c.validate(a); err != nil {
			return fmt.Errorf("dsp: tap %d %w", i, err)
		}
		if c.Shift != f.Taps[0].Shift || c.LowBits != f.Taps[0].LowBits {
			return fmt.Errorf("dsp: tap %d has the shift %d and is split at %d bits, tap 0 %d and %d, want the same", i, c.Shift, c.LowBits, f.Taps[0].Shift, f.Taps[0].LowBits)
		}
		gain += math.Abs(c.Float())
	}
	if a.fixed() {
		// The low products are summed apart and must not overflow.
		l := alignment{fraction: f.Taps[0].Shift, lowBits: f.Taps[0].LowBits, spread: max(0, bits.Len(uint(len(f.Taps)))-3)}
		if err := l.validate(a); err != nil {
			return fmt.Errorf("dsp: sum of %d taps %w", len(f.Taps), err)
		}
	}
	if gain == 0 {
		return fmt.Errorf("dsp: FIR filter has %d taps that are all 0", len(f.Taps))
	}
	return nil
}
