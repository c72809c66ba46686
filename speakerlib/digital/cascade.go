package digital

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
)

// Cascade is a chain of second-order sections at one sample rate, with a gain, a
// polarity and a delay of whole samples:
//
//	H(z) = ±gain · z^−delay · Π Hₖ(z)
//
// It is immutable; the With… methods return another one. It implements
// [freq.Transfer], [freq.Rational] and [freq.Sampled]. Its response is exact,
// warping included; above half the sample rate the formula would repeat itself,
// and CheckGrid says so.
type Cascade struct {
	sampleRate float64
	sections   []Biquad
	designs    []string
	gain       float64
	inverted   bool
	delay      int

	num, den product
}

// MaxDelay is the longest delay of a cascade in samples, about 11 s at 96 kHz.
const MaxDelay = 1 << 20

// NewCascade designs the sections at the sample rate in hertz. No section is a
// wire. It fails for a frequency outside 0 … sampleRate/2 and for poles on or
// outside the unit circle, and says which section and by how much.
func NewCascade(sampleRate float64, sections ...Section) (*Cascade, error) {
	if err := checkRate(sampleRate); err != nil {
		return nil, err
	}
	c := &Cascade{sampleRate: sampleRate, gain: 1}
	for i, s := range sections {
		if s == nil {
			return nil, fmt.Errorf("digital: section %d of %d is nil", i+1, len(sections))
		}
		b, err := s.Biquad(sampleRate)
		if err == nil {
			err = b.Check()
		}
		if err != nil {
			return nil, fmt.Errorf("digital: section %d of %d, %v: %w", i+1, len(sections), s, err)
		}
		c.sections = append(c.sections, b)
		c.designs = append(c.designs, s.String())
	}
	c.compile()
	return c, nil
}

// compile folds the sections for evaluation.
func (c *Cascade) compile() {
	num, den := make([]linear, len(c.sections)), make([]linear, len(c.sections))
	for i, b := range c.sections {
		num[i], den[i] = b.num(), b.den()
	}
	c.num, c.den = fold(num), fold(den)
	c.num.scale *= c.signed()
}

func (c *Cascade) signed() float64 {
	if c.inverted {
		return -c.gain
	}
	return c.gain
}

// SampleRate returns the sample rate in hertz.
func (c *Cascade) SampleRate() float64 { return c.sampleRate }

// Len returns the number of sections.
func (c *Cascade) Len() int { return len(c.sections) }

// At returns the coefficients of section i.
func (c *Cascade) At(i int) Biquad { return c.sections[i] }

// Design says what section i was designed as.
func (c *Cascade) Design(i int) string { return c.designs[i] }

// Gain returns the gain as an amplitude ratio > 0, without the polarity.
func (c *Cascade) Gain() float64 { return c.gain }

// Inverted reports whether the polarity is inverted.
func (c *Cascade) Inverted() bool { return c.inverted }

// Delay returns the delay in whole samples.
func (c *Cascade) Delay() int { return c.delay }

// WithGain returns the cascade with another gain, an amplitude ratio > 0.
func (c *Cascade) WithGain(ratio float64) (*Cascade, error) {
	if !positive(ratio) {
		return nil, fmt.Errorf("digital: gain of a cascade is the ratio %g, want a finite value > 0 (the polarity is set apart)", ratio)
	}
	d := c.copy()
	d.gain = ratio
	d.compile()
	return d, nil
}

// WithPolarity returns the cascade with inverted polarity, or without.
func (c *Cascade) WithPolarity(inverted bool) *Cascade {
	d := c.copy()
	d.inverted = inverted
	d.compile()
	return d
}

// WithDelay returns the cascade with another delay, 0 … [MaxDelay] samples.
func (c *Cascade) WithDelay(samples int) (*Cascade, error) {
	if samples < 0 || samples > MaxDelay {
		return nil, fmt.Errorf("digital: delay is %d samples, want 0 to %d", samples, MaxDelay)
	}
	d := c.copy()
	d.delay = samples
	return d, nil
}

func (c *Cascade) copy() *Cascade { d := *c; return &d }

// Then returns the cascade followed by others of the same sample rate: sections
// in order, gains multiplied, polarities combined, delays added.
func (c *Cascade) Then(next ...*Cascade) (*Cascade, error) {
	d := c.copy()
	d.sections, d.designs = slices.Clone(c.sections), slices.Clone(c.designs)
	for i, n := range next {
		if n == nil {
			return nil, fmt.Errorf("digital: cascade %d of %d to follow is nil", i+1, len(next))
		}
		if n.sampleRate != c.sampleRate {
			return nil, fmt.Errorf("digital: a cascade at %g Hz follows one at %g Hz, want the same sample rate", n.sampleRate, c.sampleRate)
		}
		d.sections = append(d.sections, n.sections...)
		d.designs = append(d.designs, n.designs...)
		d.gain *= n.gain
		d.inverted = d.inverted != n.inverted
		d.delay += n.delay
	}
	if !positive(d.gain) {
		return nil, fmt.Errorf("digital: gain of the joined cascades is %g, want a finite value > 0", d.gain)
	}
	if d.delay > MaxDelay {
		return nil, fmt.Errorf("digital: delay of the joined cascades is %d samples, want at most %d", d.delay, MaxDelay)
	}
	d.compile()
	return d, nil
}

// Equal reports whether two cascades have the same sample rate, sections to the
// last bit, designs, gain, polarity and delay.
func (c *Cascade) Equal(d *Cascade) bool {
	return c == d || c != nil && d != nil && c.sampleRate == d.sampleRate && slices.Equal(c.sections, d.sections) &&
		slices.Equal(c.designs, d.designs) && c.gain == d.gain && c.inverted == d.inverted && c.delay == d.delay
}

// CheckGrid implements [freq.Sampled]: an error if the grid goes above half the
// sample rate.
func (c *Cascade) CheckGrid(g *freq.Grid) error {
	// A grid may end at half the sample rate as another arithmetic rounds it.
	if g.Last() > c.sampleRate/2*(1+1e-12) {
		return fmt.Errorf("digital: grid goes to %g Hz, want at most %g Hz, half the sample rate of the cascade", g.Last(), c.sampleRate/2)
	}
	return nil
}

// MulTo implements [freq.Rational]. It does not allocate, once the grid has its
// table for the sample rate.
func (c *Cascade) MulTo(r *freq.Ratio, g *freq.Grid) {
	if r.Len() != g.Len() {
		panic("digital: ratio has not the length of the grid")
	}
	u, sin := g.Trig(c.sampleRate)
	c.num.mulTo(r.Num, u, sin)
	c.den.mulTo(r.Den, u, sin)
	if c.delay != 0 {
		freq.Delay(float64(c.delay)/c.sampleRate).MulTo(r, g)
	}
}

// ResponseTo implements [freq.Transfer].
func (c *Cascade) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	return freq.RationalResponseTo(dst, c, g)
}

// GroupDelayTo writes −dφ/dω in seconds into dst (nil allocates, another length
// panics): the sum of the sections' closed forms and the delay.
func (c *Cascade) GroupDelayTo(dst []float64, g *freq.Grid) []float64 {
	dst = freq.Dst(dst, g.Len())
	u, _ := g.Trig(c.sampleRate)
	for i := range dst {
		dst[i] = float64(c.delay) / c.sampleRate
	}
	for _, b := range c.sections {
		num, den := b.num(), b.den()
		for i, x := range u {
			dst[i] += (den.slope(x) - num.slope(x)) / c.sampleRate
		}
	}
	return dst
}

// GroupDelay returns the group delay in seconds as a curve.
func (c *Cascade) GroupDelay(g *freq.Grid, label string) (freq.Curve, error) {
	if err := c.CheckGrid(g); err != nil {
		return freq.Curve{}, err
	}
	return freq.NewCurve(g, c.GroupDelayTo(nil, g), label, "s", freq.Basis{})
}

// PoleRadius returns the magnitude of the pole that is farthest out, 0 without
// sections.
func (c *Cascade) PoleRadius() float64 {
	var r float64
	for _, b := range c.sections {
		r = math.Max(r, b.PoleRadius())
	}
	return r
}
