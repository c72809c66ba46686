package signalpath

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
)

// Exchange is a change of a processor's coefficients while it runs.
//
// Every section is in transposed direct form II with two states, as a [digital.Filter] has it. At
// sample At the coefficients become those of To. Without a mute the states of the old coefficients
// meet the new ones, and what they are worth there is not what they should be: a burst of the new
// filter's ringing, worst at low frequencies and high gain, where states are large.
type Exchange struct {
	From, To *digital.Cascade
	At       int   // sample of the exchange
	Rest     bool  // the states are set to 0, else they stay
	Mute     *Mute // the output is taken down around the exchange; nil: it is not
}

// Mute is a gain behind the filters: down along a raised cosine that ends at the exchange, 0 for a
// time in which the filters settle, and up again.
type Mute struct {
	Ramp int // samples, down and up
	Hold int // samples at 0 after the exchange
}

// Validate reports an exchange that cannot be made.
func (x Exchange) Validate() error {
	if x.From == nil || x.To == nil {
		return fmt.Errorf("signalpath: exchange of %v for %v, want two cascades", x.From, x.To)
	}
	if x.From.SampleRate() != x.To.SampleRate() {
		return fmt.Errorf("signalpath: exchange of a cascade at %g Hz for one at %g Hz, want one rate", x.From.SampleRate(), x.To.SampleRate())
	}
	if !x.Rest && x.From.Len() != x.To.Len() {
		return fmt.Errorf("signalpath: exchange of %d sections for %d with their states, want as many, or states set to rest", x.From.Len(), x.To.Len())
	}
	if x.From.Delay() != x.To.Delay() {
		return fmt.Errorf("signalpath: exchange of a delay of %d samples for %d, want the same", x.From.Delay(), x.To.Delay())
	}
	if x.At < 0 {
		return fmt.Errorf("signalpath: exchange at sample %d, want ≥ 0", x.At)
	}
	if m := x.Mute; m != nil && (m.Ramp < 0 || m.Hold < 0 || m.Ramp > x.At) {
		return fmt.Errorf("signalpath: mute of %d samples down before sample %d and %d of rest, want values ≥ 0 that begin with the signal", m.Ramp, x.At, m.Hold)
	}
	return nil
}

// Run returns the output for the samples of an input. The delay of the cascades is in it.
func (x Exchange) Run(input []float64) ([]float64, error) {
	if err := x.Validate(); err != nil {
		return nil, err
	}
	for i, v := range input {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("signalpath: sample %d of the input is %g, want a finite value", i, v)
		}
	}
	out := make([]float64, len(input))
	from, to := sections(x.From), sections(x.To)
	now, gain := from, gainOf(x.From)
	state := make([][2]float64, max(len(from), len(to)))
	for i, v := range input {
		if i == x.At {
			now, gain = to, gainOf(x.To)
			if x.Rest {
				clear(state)
			}
		}
		y := v * gain
		for k, b := range now {
			s := &state[k]
			in := y
			y = b.B0*in + s[0]
			s[0] = b.B1*in - b.A1*y + s[1]
			s[1] = b.B2*in - b.A2*y
		}
		if j := i + x.From.Delay(); j < len(out) {
			out[j] = y * x.gate(i)
		}
	}
	return out, nil
}

// gate returns the gain of the mute at a sample.
func (x Exchange) gate(i int) float64 {
	m := x.Mute
	switch {
	case m == nil:
		return 1
	case i < x.At:
		return fade(float64(x.At-i), float64(m.Ramp))
	case i < x.At+m.Hold:
		return 0
	}
	return fade(float64(i-x.At-m.Hold), float64(m.Ramp))
}

// Jump is what an exchange does beyond the two steady states.
type Jump struct {
	At            int     // sample of the exchange
	Before, After float64 // largest magnitude of the old and of the new filters' own output
	Peak          float64 // largest magnitude of the output from the exchange on
	Excess        float64 // Peak over the larger of Before and After, a ratio; above 1 it is heard, and takes headroom
	Settled       int     // samples from the exchange until the output stays within a thousandth of After of the new filters' own
}

// Jump compares the output of an exchange without its mute with what the old and the new filters
// would give each by itself.
func (x Exchange) Jump(input []float64) (Jump, error) {
	x.Mute = nil
	out, err := x.Run(input)
	if err != nil {
		return Jump{}, err
	}
	if x.At+x.From.Delay() >= len(out) {
		return Jump{}, fmt.Errorf("signalpath: exchange at sample %d of %d, want it within", x.At, len(out))
	}
	before, after := x.From.NewFilter().Process(nil, input), x.To.NewFilter().Process(nil, input)
	j := Jump{At: x.At}
	start := x.At + x.From.Delay()
	for i := range out {
		j.Before = max(j.Before, math.Abs(before[i]))
		j.After = max(j.After, math.Abs(after[i]))
		if i >= start {
			j.Peak = max(j.Peak, math.Abs(out[i]))
		}
	}
	for i := start; i < len(out); i++ {
		if math.Abs(out[i]-after[i]) > j.After/1000 {
			j.Settled = i - start + 1
		}
	}
	if own := max(j.Before, j.After); own > 0 {
		j.Excess = j.Peak / own
	}
	return j, nil
}

// Worst returns the jump of the largest peak if the exchange is made at every step-th sample from
// one to before another. What the states are worth changes with the phase of what plays: one
// instant tells little.
func (x Exchange) Worst(input []float64, from, to, step int) (Jump, error) {
	if step < 1 || from < 0 || to <= from {
		return Jump{}, fmt.Errorf("signalpath: exchanges at every %d samples from %d to before %d, want at least one", step, from, to)
	}
	var worst Jump
	for x.At = from; x.At < to; x.At += step {
		j, err := x.Jump(input)
		if err != nil {
			return Jump{}, err
		}
		if x.At == from || j.Peak > worst.Peak {
			worst = j
		}
	}
	return worst, nil
}

func sections(c *digital.Cascade) []digital.Biquad {
	b := make([]digital.Biquad, c.Len())
	for i := range b {
		b[i] = c.At(i)
	}
	return b
}

func gainOf(c *digital.Cascade) float64 {
	if c.Inverted() {
		return -c.Gain()
	}
	return c.Gain()
}
