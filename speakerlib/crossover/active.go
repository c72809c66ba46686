// Package crossover divides a signal between the ways of a loudspeaker.
//
// An active network is a [Chain] per way: stages of any kind that have a
// response (digital cascades, analogue filters, measured amplifiers), a delay
// and a polarity. Package crossover does not know how a stage is realised.
package crossover

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Chain is the path from the input of the loudspeaker to the terminals of one
// way. Its response is the product of its stages times e^{−jωτ}, and −1 if it is
// inverted. The chain without stages is a wire.
type Chain struct {
	Name     string
	Stages   freq.Series
	Delay    float64 // τ, seconds, ≥ 0
	Inverted bool
}

// Validate reports a delay that no processor can give, and a missing stage.
func (c Chain) Validate() error {
	if !(c.Delay >= 0) || math.IsInf(c.Delay, 0) {
		return fmt.Errorf("crossover: delay of %q is %g s, want a finite value ≥ 0", c.Name, c.Delay)
	}
	for i, s := range c.Stages {
		if s == nil {
			return fmt.Errorf("crossover: stage %d of %q is nil, want a transfer", i, c.Name)
		}
	}
	return nil
}

// Transfer returns the chain as one transfer.
func (c Chain) Transfer() freq.Series {
	s := make(freq.Series, 0, len(c.Stages)+2)
	if c.Inverted {
		s = append(s, freq.Gain(-1))
	}
	if c.Delay != 0 {
		s = append(s, freq.Delay(c.Delay))
	}
	return append(s, c.Stages...)
}

// ResponseTo implements [freq.Transfer].
func (c Chain) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	return c.Transfer().ResponseTo(dst, g)
}

// CheckGrid implements [freq.Sampled].
func (c Chain) CheckGrid(g *freq.Grid) error { return c.Stages.CheckGrid(g) }

// With returns the chain with more stages at its end. The chain itself stays as
// it is.
func (c Chain) With(stages ...freq.Transfer) Chain {
	c.Stages = append(append(freq.Series{}, c.Stages...), stages...)
	return c
}

// Active is an active dividing network: a chain per way.
type Active struct{ Ways []Chain }

// Validate reports a network without ways, a faulty chain, or two of one name.
func (a Active) Validate() error {
	if len(a.Ways) == 0 {
		return fmt.Errorf("crossover: network has no way, want at least 1")
	}
	seen := map[string]bool{}
	for _, c := range a.Ways {
		if err := c.Validate(); err != nil {
			return err
		}
		if seen[c.Name] {
			return fmt.Errorf("crossover: two ways are called %q, want different names", c.Name)
		}
		seen[c.Name] = true
	}
	return nil
}

// Way returns the chain of that name.
func (a Active) Way(name string) (Chain, error) {
	for _, c := range a.Ways {
		if c.Name == name {
			return c, nil
		}
	}
	return Chain{}, fmt.Errorf("crossover: network has no way %q", name)
}
