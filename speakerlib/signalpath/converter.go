package signalpath

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
)

// The band in which noise is weighted and summed, in hertz: that of AES17.
const (
	NoiseFrom = 20.0
	NoiseTo   = 20000.0
)

// whiteA is ∫A² df over NoiseFrom … NoiseTo in hertz, with the A weighting of IEC 61672-1: what
// a white density makes of it (quadrature in 30 digits, testdata/weighting.py of package level).
const whiteA = 12467.1838120206

// Clock is what a converter is clocked by. Converters whose clocks have one name have one clock.
type Clock struct {
	Name      string
	Tolerance float64 // relative, 50e-6 for ±50 ppm
}

// ADC is an analogue-to-digital converter.
//
// Its dynamic range is the ratio of the rms of a sine at full scale to that of the A-weighted
// noise with a small signal, 20 Hz … 20 kHz (AES17, IEC 61606; from memory: measured with a sine
// 60 dB below full scale, which is notched out). A data sheet's 112 dB(A) is level.Ratio(112).
type ADC struct {
	Name            string
	Rate            float64            // Hz
	FullScale       float64            // V rms of the sine whose peaks are digital full scale
	DynamicRange    float64            // ratio, A-weighted; its noise is taken as white. 0: only Noise counts
	Noise           Density[FullScale] // more noise, at its output
	Latency         float64            // samples
	Filter          freq.Transfer      // decimation filter without its latency; nil: flat
	InputResistance float64            // Ω; 0: it does not load
	Offset          float64            // FS, what it gives without a signal
	Clock           Clock
}

// Peak returns the peak voltage of the sine that is full scale, √2·FullScale.
func (c ADC) Peak() float64 { return math.Sqrt2 * c.FullScale }

// Label returns the name.
func (c ADC) Label() string { return c.Name }

// Validate reports values that a converter cannot have.
func (c ADC) Validate() error {
	return converter(c.Name, c.Filter, c.Noise, []value{{"sample rate", "Hz", c.Rate}, {"full scale", "V rms", c.FullScale}},
		[]value{{"dynamic range", "", c.DynamicRange}, {"latency", "samples", c.Latency},
			{"input resistance", "Ω", c.InputResistance}, {"tolerance of the clock", "", c.Clock.Tolerance}},
		value{"offset", "FS", c.Offset})
}

func (c ADC) in() terminal   { return terminal{} }
func (c ADC) out() terminal  { return terminal{c.Rate} }
func (c ADC) delay() latency { return latency{samples: c.Latency, rate: c.Rate} }
func (c ADC) input() float64 { return conductance(c.InputResistance) }

func (c ADC) transfer(g *freq.Grid) ([]complex128, error) {
	if g.Last() > c.Rate/2*(1+1e-12) {
		return nil, fmt.Errorf("signalpath: grid of %q goes to %g Hz, want at most half the sample rate, %g Hz: what is above comes out as another frequency", c.Name, g.Last(), c.Rate/2)
	}
	return scaled(c.Name, c.Filter, g, 1/(c.FullScale*math.Sqrt2))
}

func (c ADC) noise(g *freq.Grid, _ []complex128) ([]float64, error) {
	return ranged(c.Name, c.Noise, g, math.Sqrt2/2, c.DynamicRange)
}

// DAC is a digital-to-analogue converter. Its dynamic range is defined as that of an [ADC].
//
// With Hold it has the response of a zero-order hold,
//
//	H = sin(πf/fs)/(πf/fs)·e^{−jπf/fs}
//
// (closed form), which is −3.92 dB and half a sample late at half the sample rate; the half sample
// is counted as latency. Oversampling converters have made up for it.
type DAC struct {
	Name             string
	Rate             float64       // Hz
	FullScale        float64       // V rms of the sine whose peaks are digital full scale, without a load
	DynamicRange     float64       // ratio, A-weighted; its noise is taken as white. 0: only Noise counts
	Noise            Density[Volt] // more noise, at its output
	Latency          float64       // samples, without that of Hold
	Filter           freq.Transfer // reconstruction filter without its latency; nil: flat
	Hold             bool
	OutputResistance float64 // Ω
	Offset           float64 // V, direct voltage at its output
	Clock            Clock
}

// Label returns the name.
func (c DAC) Label() string { return c.Name }

// Validate reports values that a converter cannot have.
func (c DAC) Validate() error {
	return converter(c.Name, c.Filter, c.Noise, []value{{"sample rate", "Hz", c.Rate}, {"full scale", "V rms", c.FullScale}},
		[]value{{"dynamic range", "", c.DynamicRange}, {"latency", "samples", c.Latency},
			{"output resistance", "Ω", c.OutputResistance}, {"tolerance of the clock", "", c.Clock.Tolerance}},
		value{"offset", "V", c.Offset})
}

func (c DAC) in() terminal  { return terminal{c.Rate} }
func (c DAC) out() terminal { return terminal{} }
func (c DAC) delay() latency {
	l := latency{samples: c.Latency, rate: c.Rate}
	if c.Hold {
		l.samples += 0.5
	}
	return l
}

func (c DAC) transfer(g *freq.Grid) ([]complex128, error) {
	if c.Hold && g.Last() > c.Rate/2*(1+1e-12) {
		return nil, fmt.Errorf("signalpath: grid of %q goes to %g Hz, want at most half the sample rate, %g Hz", c.Name, g.Last(), c.Rate/2)
	}
	h, err := scaled(c.Name, c.Filter, g, c.FullScale*math.Sqrt2)
	if err == nil && c.Hold {
		for i := range h {
			x := math.Pi * g.At(i) / c.Rate
			h[i] *= complex(math.Sin(x)/x, 0)
		}
	}
	return h, err
}

func (c DAC) noise(g *freq.Grid, _ []complex128) ([]float64, error) {
	return ranged(c.Name, c.Noise, g, c.FullScale, c.DynamicRange)
}

func (c DAC) output(g *freq.Grid) ([]complex128, error) {
	z := make([]complex128, g.Len())
	for i := range z {
		z[i] = complex(c.OutputResistance, 0)
	}
	return z, nil
}

// RateConverter is an asynchronous sample-rate converter: what stands where two clocks meet. Its
// noise and ripple are those of its interpolation filter and word length. The filter must be fine
// for the lower of both rates.
type RateConverter struct {
	Name         string
	From, To     float64            // Hz
	DynamicRange float64            // ratio, A-weighted, as of an [ADC]; 0: only Noise counts
	Noise        Density[FullScale] // more noise, at its output
	Latency      float64            // samples of the input's rate
	Filter       freq.Transfer      // without its latency; nil: flat
	Ripple       float64            // ≥ 1, ratio by which the pass band may be higher: it takes headroom; 0: none
	Skew         float64            // s, by how much two that follow one clock may differ; 0: locked to each other
}

// Label returns the name.
func (c RateConverter) Label() string { return c.Name }

// Validate reports values that a converter cannot have.
func (c RateConverter) Validate() error {
	if c.Ripple != 0 && !(c.Ripple >= 1) || math.IsInf(c.Ripple, 0) {
		return fmt.Errorf("signalpath: ripple of %q is %g, want a finite ratio ≥ 1, or 0 for none", c.Name, c.Ripple)
	}
	return converter(c.Name, c.Filter, c.Noise, []value{{"input rate", "Hz", c.From}, {"output rate", "Hz", c.To}},
		[]value{{"dynamic range", "", c.DynamicRange}, {"latency", "samples", c.Latency}, {"skew", "s", c.Skew}}, value{})
}

func (c RateConverter) in() terminal   { return terminal{c.From} }
func (c RateConverter) out() terminal  { return terminal{c.To} }
func (c RateConverter) delay() latency { return latency{samples: c.Latency, rate: c.From} }

func (c RateConverter) transfer(g *freq.Grid) ([]complex128, error) {
	return scaled(c.Name, c.Filter, g, 1)
}

func (c RateConverter) noise(g *freq.Grid, _ []complex128) ([]float64, error) {
	return ranged(c.Name, c.Noise, g, math.Sqrt2/2, c.DynamicRange)
}

// converter validates what converters have in common.
func converter[U Unit](name string, filter freq.Transfer, d Density[U], pos, nonNeg []value, offset value) error {
	if err := named(name); err != nil {
		return err
	}
	if err := positive(name, pos...); err != nil {
		return err
	}
	if err := notNegative(name, nonNeg...); err != nil {
		return err
	}
	if err := finite(name, offset); err != nil {
		return err
	}
	if err := quantity(name, "filter", filter, freq.Dimensionless, freq.Voltage); err != nil {
		return err
	}
	return about(name, d.Validate())
}

// scaled returns k times a transfer.
func scaled(name string, t freq.Transfer, g *freq.Grid, k float64) ([]complex128, error) {
	h, err := evaluate(name, t, g)
	for i := range h {
		h[i] *= complex(k, 0)
	}
	return h, err
}

// ranged returns a density and what a dynamic range below an rms adds to it.
func ranged[U Unit](name string, d Density[U], g *freq.Grid, rms, dynamic float64) ([]float64, error) {
	s, err := d.on(g)
	if err != nil {
		return nil, about(name, err)
	}
	if dynamic > 0 {
		white := rms / dynamic
		white *= white / whiteA
		for i := range s {
			s[i] += white
		}
	}
	return s, nil
}

func conductance(r float64) float64 {
	if r == 0 {
		return 0
	}
	return 1 / r
}

// late multiplies by e^{−jωτ}.
func late(h []complex128, g *freq.Grid, tau float64) {
	if tau == 0 {
		return
	}
	for i, w := range g.Omega() {
		h[i] *= cmplx.Rect(1, -w*tau)
	}
}
