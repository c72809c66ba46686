package activerc

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
)

// Chain is a cascade of stages, first to last. It is immutable, and implements
// [freq.Transfer]. Put low Q first for headroom, and gain first for noise.
type Chain struct{ stages []*Stage }

// NewChain returns the cascade of the stages.
func NewChain(stages ...*Stage) (*Chain, error) {
	if len(stages) == 0 {
		return nil, fmt.Errorf("activerc: chain has no stage, want at least 1")
	}
	for i, s := range stages {
		if s == nil {
			return nil, fmt.Errorf("activerc: stage %d is nil, want a stage", i)
		}
	}
	return &Chain{slices.Clone(stages)}, nil
}

// RealiseAll realises the sections, all with one amplifier and the same options, and returns
// their cascade in the order given. Equal sections, as Linkwitz–Riley has them, are one search
// and have the same values.
func RealiseAll(sections []analog.Section, a Amplifier, o Options) (*Chain, error) {
	stages := make([]*Stage, len(sections))
	done := map[analog.Section]*Stage{}
	for i, s := range sections {
		if done[s] == nil {
			stage, err := Realise(s, a, o)
			if err != nil {
				return nil, fmt.Errorf("section %d of %d: %w", i+1, len(sections), err)
			}
			done[s] = stage
		}
		stages[i] = done[s]
	}
	return NewChain(stages...)
}

// Then returns the cascade followed by another.
func (c *Chain) Then(next *Chain) *Chain { return &Chain{slices.Concat(c.stages, next.stages)} }

// Stages returns a copy of the list of stages.
func (c *Chain) Stages() []*Stage { return slices.Clone(c.stages) }

// Inverted reports whether the chain has the opposite polarity of its targets: turn the driver
// over, or the chain of the other way.
func (c *Chain) Inverted() bool {
	odd := false
	for _, s := range c.stages {
		odd = odd != s.inverted
	}
	return odd
}

// ResponseTo implements [freq.Transfer].
func (c *Chain) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		dst[i] = 1
	}
	h := make([]complex128, g.Len())
	for _, s := range c.stages {
		s.ResponseTo(h, g)
		for i := range dst {
			dst[i] *= h[i]
		}
	}
	return dst
}

// Target returns the product of the targets, with the polarity of the chain: what its response
// is to be compared with.
func (c *Chain) Target() freq.Transfer { return target{c} }

type target struct{ c *Chain }

// ResponseTo implements [freq.Transfer].
func (t target) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	sign := complex(1, 0)
	if t.c.Inverted() {
		sign = -1
	}
	for i, w := range g.Omega() {
		dst[i] = sign
		for _, s := range t.c.stages {
			dst[i] *= ratioOf(s.target).at(w)
		}
	}
	return dst
}

// NoiseTo writes the density of the noise at the output of the chain in V²/Hz into dst (nil
// allocates, another length panics) and returns it: that of every stage through those behind
// it. See [Circuit.NoiseTo].
func (c *Chain) NoiseTo(dst []float64, g *freq.Grid, kelvin float64) ([]float64, error) {
	dst = freq.Dst(dst, g.Len())
	clear(dst)
	h := make([]complex128, g.Len())
	own := make([]float64, g.Len())
	for i, s := range c.stages {
		if _, err := s.circuit.NoiseTo(own, g, kelvin); err != nil {
			return nil, fmt.Errorf("stage %d: %w", i+1, err)
		}
		s.ResponseTo(h, g)
		for j := range dst {
			dst[j] = dst[j]*square(h[j]) + own[j]
		}
	}
	return dst, nil
}

// Noise returns the density of the noise at the output of the chain as a curve in V²/Hz.
func (c *Chain) Noise(g *freq.Grid, kelvin float64, label string) (freq.Curve, error) {
	n, err := c.NoiseTo(nil, g, kelvin)
	if err != nil {
		return freq.Curve{}, err
	}
	return freq.NewCurve(g, n, label, "V²/Hz", freq.Basis{Quantity: freq.Voltage})
}

// Headroom is what one amplifier of the chain has to give for a sine at the input.
type Headroom struct {
	Stage     int     `col:"stage"` // 1 is the first
	Amplifier string  `col:"amplifier"`
	Gain      float64 `col:"V per V" fmt:"%.3g"`                  // the highest, per volt at the input of the chain
	GainAt    float64 `col:"at" unit:"Hz" fmt:"%.4g"`             // where
	Slew      float64 `col:"slew per V" unit:"[1/s]" fmt:"%.3g"`  // the fastest change, V/s per volt peak at the input
	Input     float64 `col:"max. input" unit:"V peak" fmt:"%.3g"` // the highest at the input that neither clips nor slews it; +Inf if the amplifier states neither
}

// Headroom returns what every amplifier has to give: its highest voltage over the grid, which
// inside a section of high Q may be more than at its output, and the largest ω·|V|. Sines are
// taken one at a time and at all frequencies of the grid alike, which is the worst case; a
// programme that is weak at high frequencies asks for less slew.
func (c *Chain) Headroom(g *freq.Grid) ([]Headroom, error) {
	before := make([]complex128, g.Len())
	for i := range before {
		before[i] = 1
	}
	var all []Headroom
	h := make([]complex128, g.Len())
	for k, s := range c.stages {
		for _, o := range s.circuit.opamps {
			if _, err := s.circuit.NodeTo(h, g, o.Out); err != nil {
				return nil, err
			}
			row := Headroom{Stage: k + 1, Amplifier: o.Name, Input: math.Inf(1)}
			for i, w := range g.Omega() {
				v := math.Sqrt(square(h[i] * before[i]))
				if v > row.Gain {
					row.Gain, row.GainAt = v, g.At(i)
				}
				row.Slew = max(row.Slew, w*v)
			}
			if o.Amplifier.Swing > 0 {
				row.Input = o.Amplifier.Swing / row.Gain
			}
			if o.Amplifier.Slew > 0 {
				row.Input = min(row.Input, o.Amplifier.Slew/row.Slew)
			}
			all = append(all, row)
		}
		s.ResponseTo(h, g)
		for i := range before {
			before[i] *= h[i]
		}
	}
	return all, nil
}
