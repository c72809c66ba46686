package signalpath

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// Processor is the filters of a way as they run on a processor.
type Processor struct {
	Name    string
	Rate    float64            // Hz
	Filters freq.Transfer      // such as a [digital.Cascade], or the program that realises it; nil: none
	Delay   float64            // samples by which Filters is nothing but late; 0 with a *digital.Cascade, which tells
	Block   int                // samples of latency of buffers and transport, besides the delay of Filters
	Noise   Density[FullScale] // of rounding, at its output
	// PeakNorm is the largest gain from its input to any of its nodes, of the peak of a sine (the
	// L∞ norm of the transfer) or of any signal (the L1 norm of the impulse response). 0:
	// not known, and its nodes are not in the table of headroom.
	PeakNorm float64
	Ceiling  float64 // FS, the largest value that a node holds; 0: 1
	Offset   float64 // FS, what it gives without a signal: truncation, or a limit cycle's mean
}

// Label returns the name.
func (p Processor) Label() string { return p.Name }

// Validate reports values that a processor cannot have, and a cascade of another rate.
func (p Processor) Validate() error {
	if err := named(p.Name); err != nil {
		return err
	}
	if err := positive(p.Name, value{"sample rate", "Hz", p.Rate}); err != nil {
		return err
	}
	if err := notNegative(p.Name, value{"latency", "samples", float64(p.Block)}, value{"delay", "samples", p.Delay},
		value{"peak norm", "", p.PeakNorm}, value{"ceiling", "FS", p.Ceiling}); err != nil {
		return err
	}
	if err := finite(p.Name, value{"offset", "FS", p.Offset}); err != nil {
		return err
	}
	if c, ok := p.Filters.(*digital.Cascade); ok && c == nil {
		return fmt.Errorf("signalpath: filters of %q are a cascade that is nil, want one, or no filters", p.Name)
	}
	if _, ok := p.Filters.(*digital.Cascade); ok && p.Delay != 0 {
		return fmt.Errorf("signalpath: delay of %q is %g samples, want 0 with a cascade, which tells its own", p.Name, p.Delay)
	}
	if err := quantity(p.Name, "filters", p.Filters, freq.Dimensionless, freq.Voltage); err != nil {
		return err
	}
	if c, ok := p.Filters.(interface{ SampleRate() float64 }); ok && c.SampleRate() != p.Rate {
		return fmt.Errorf("signalpath: filters of %q are made for %g Hz, want them for its sample rate, %g Hz (ratio %.6g)",
			p.Name, c.SampleRate(), p.Rate, c.SampleRate()/p.Rate)
	}
	return about(p.Name, p.Noise.Validate())
}

// Headroom returns the ratio by which a full-scale input has to be taken down in front of the
// filters so that no node goes beyond its ceiling: PeakNorm/Ceiling, at least 1.
func (p Processor) Headroom() float64 { return max(p.PeakNorm/p.ceiling(), 1) }

func (p Processor) ceiling() float64 {
	if p.Ceiling == 0 {
		return 1
	}
	return p.Ceiling
}

func (p Processor) in() terminal  { return terminal{p.Rate} }
func (p Processor) out() terminal { return terminal{p.Rate} }

func (p Processor) delay() latency {
	return latency{samples: float64(p.Block) + p.pure(), rate: p.Rate}
}

// pure returns the samples by which the filters are nothing but late.
func (p Processor) pure() float64 {
	if c, ok := p.Filters.(*digital.Cascade); ok {
		return float64(c.Delay())
	}
	return p.Delay
}

// transfer has the filters without their pure delay.
func (p Processor) transfer(g *freq.Grid) ([]complex128, error) {
	if g.Last() > p.Rate/2*(1+1e-12) {
		return nil, fmt.Errorf("signalpath: grid of %q goes to %g Hz, want at most half the sample rate, %g Hz", p.Name, g.Last(), p.Rate/2)
	}
	h, err := evaluate(p.Name, p.Filters, g)
	if err == nil {
		late(h, g, -p.pure()/p.Rate)
	}
	return h, err
}

func (p Processor) noise(g *freq.Grid, _ []complex128) ([]float64, error) {
	s, err := p.Noise.on(g)
	return s, about(p.Name, err)
}
