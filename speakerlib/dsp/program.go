package dsp

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// Gain is a factor with one rounding: 2^Shift·Coefficient. A negative one inverts
// the polarity.
type Gain struct {
	Coefficient Coefficient
	Shift       int
}

// Float returns the factor.
func (g Gain) Float() float64 { return math.Ldexp(g.Coefficient.Float(), g.Shift) }

// newGain rounds a factor, the coefficient being as large as its format holds.
func newGain(v float64, a Arithmetic, split bool) (Gain, error) {
	h := holder{a: a, split: split}
	if !a.fixed() {
		c, err := h.one("gain", v)
		return Gain{Coefficient: c}, err
	}
	// The coefficient is to be ½ … 1 of its range, as far as the accumulator goes.
	_, e := math.Frexp(v)
	shift := max(e-a.Coefficient.M, a.Signal.Word()+a.Coefficient.N+a.Exponent-a.Accumulator)
	c, err := h.one("gain", math.Ldexp(v, -shift))
	if err != nil { // +2^m, or rounded up to it
		shift++
		c, err = h.one("gain", math.Ldexp(v, -shift))
	}
	for err == nil && a.Overflow == Saturate && shift < MaxExponent && (Gain{c, shift}).Row(a).short(a) > 0 {
		shift++
		c, err = h.one("gain", math.Ldexp(v, -shift))
	}
	if err == nil && c.Word == 0 && c.Low == 0 {
		err = fmt.Errorf("gain is the ratio %.3g, which is 0 in %v with an accumulator of %d bits, want at least %.3g", v, a.Coefficient, a.Accumulator, math.Ldexp(1, shift-c.Shift-c.LowBits))
	}
	if err == nil && (shift < -MaxExponent || shift > MaxExponent) {
		err = fmt.Errorf("gain is the ratio %g, want 2^−%d to 2^%d", v, MaxExponent, MaxExponent)
	}
	return Gain{c, shift}, err
}

// Row returns the product: variable 0 is the input, 1 the output.
func (g Gain) Row(a Arithmetic) Row {
	c := g.Coefficient
	if !a.fixed() {
		return Row{Variable: 1, Terms: []Term{{Value: g.Float()}}}
	}
	// The shift moves the binary point; what goes beyond it is shifted in.
	up := max(0, g.Shift-c.Shift)
	return Row{Variable: 1, Fraction: max(0, c.Shift-g.Shift), LowBits: c.LowBits, Terms: []Term{{Word: c.Word << up, Low: c.Low << up}}}
}

func (g Gain) validate(a Arithmetic) error {
	if err := g.Coefficient.validate(a); err != nil {
		return fmt.Errorf("dsp: gain %w", err)
	}
	if g.Float() == 0 {
		return fmt.Errorf("dsp: gain is 0, want another value")
	}
	if g.Shift < -MaxExponent || g.Shift > MaxExponent || g.Shift != 0 && !a.fixed() {
		return fmt.Errorf("dsp: gain in %v has the shift %d, want −%d to %d in fixed point, else 0", a.Signal, g.Shift, MaxExponent, MaxExponent)
	}
	if a.fixed() {
		n := g.Coefficient.Shift - g.Shift
		if err := (alignment{fraction: max(0, n), lowBits: g.Coefficient.LowBits, spread: max(0, -n)}).validate(a); err != nil {
			return fmt.Errorf("dsp: product of the gain %w", err)
		}
	}
	return nil
}

// Program is the chain of one way as it is committed: sections in order, gain, FIR
// filters in order, delay. It is plain data: one who changes it calls Validate
// before using it, and the methods of a program that is not valid may panic.
type Program struct {
	SampleRate float64 // Hz
	Arithmetic Arithmetic
	Sections   []Section
	Gain       *Gain // after the sections; nil is unity
	FIR        []FIR
	Delay      int // whole samples
}

// Validate reports a program that cannot run, and says where and by how much.
func (p *Program) Validate() error {
	if !(p.SampleRate > 0) || math.IsInf(p.SampleRate, 0) {
		return fmt.Errorf("dsp: sample rate is %g Hz, want a finite value > 0", p.SampleRate)
	}
	if err := p.Arithmetic.Validate(); err != nil {
		return err
	}
	for i, s := range p.Sections {
		if err := s.Validate(p.Arithmetic); err != nil {
			return fmt.Errorf("section %d of %d, %q: %w", i+1, len(p.Sections), s.Design, err)
		}
	}
	if p.Gain != nil {
		if err := p.Gain.validate(p.Arithmetic); err != nil {
			return err
		}
	}
	for i, f := range p.FIR {
		if err := f.Validate(p.Arithmetic); err != nil {
			return fmt.Errorf("FIR filter %d of %d, %q: %w", i+1, len(p.FIR), f.Design, err)
		}
	}
	if p.Delay < 0 || p.Delay > digital.MaxDelay {
		return fmt.Errorf("dsp: delay is %d samples, want 0 to %d", p.Delay, digital.MaxDelay)
	}
	return nil
}

// Latency returns the delay of the program in samples: its whole samples and those
// of the FIR filters' designs. The structures themselves add none: the output of a
// sample is ready with it. The group delay of sections is not latency.
func (p *Program) Latency() float64 {
	n := float64(p.Delay)
	for _, f := range p.FIR {
		n += f.Delay
	}
	return n
}

// Cascade returns sections, gain and delay with the rounded coefficients, without
// the FIR filters: the exact linear part of what runs, as [Section.Biquad] is.
func (p *Program) Cascade() (*digital.Cascade, error) {
	s := make([]digital.Section, len(p.Sections))
	for i, x := range p.Sections {
		s[i] = digital.Given{SampleRate: p.SampleRate, Coefficients: x.Biquad(), Design: x.Design}
	}
	c, err := digital.NewCascade(p.SampleRate, s...)
	if err != nil {
		return nil, err
	}
	if g := p.gain(); g != 1 {
		if c, err = c.WithGain(math.Abs(g)); err != nil {
			return nil, err
		}
		c = c.WithPolarity(g < 0)
	}
	return c.WithDelay(p.Delay)
}

func (p *Program) gain() float64 {
	if p.Gain == nil {
		return 1
	}
	return p.Gain.Float()
}

// Transfer returns the response of the rounded coefficients: what the program does
// to a signal but for noise and overflow.
func (p *Program) Transfer() (freq.Transfer, error) {
	c, err := p.Cascade()
	if err != nil {
		return nil, err
	}
	out := freq.Series{c}
	for _, f := range p.FIR {
		t, err := f.Filter(p.SampleRate)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, nil
}
