package signalpath

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/network"
)

// Amplifier is a stage that amplifies volts: the power amplifier of a way, or one in front of the
// converters. It is an electromotive force Gain·Transfer times its input behind an output
// impedance; what its load sees is
//
//	H = Gain·Transfer·Z/(Z + Zout)
//
// A switching amplifier with its feedback behind the output filter is one with the output
// impedance that it has there; one with its feedback in front of the filter is followed by an
// [OutputFilter].
//
// The output of a large amplifier is dangerous to touch, and its heat sink may be.
type Amplifier struct {
	Name string
	Gain float64 // ratio, not 0; negative: it inverts
	// Transfer is the shape of the gain, band limits or a measurement; nil: flat.
	Transfer freq.Transfer
	// MeasuredInto is the impedance in ohm that was at the output when Transfer was measured,
	// nil if none: its division with Output is taken out.
	MeasuredInto freq.Transfer
	Output       network.Source // output impedance R + jωL + Z
	InputNoise   Density[Volt]  // at its input, amplified as the signal is
	OutputNoise  float64        // V rms at the output, A-weighted, more noise, taken as white
	Noise        Density[Volt]  // at the output, more noise

	ClipVolts       float64 // V peak in front of the output impedance; 0: not stated
	ClipAmperes     float64 // A peak; 0: not stated
	InputResistance float64 // Ω; 0: it does not load
	Delay           float64 // s, pure delay besides that of Transfer, such as of a modulator
	Offset          float64 // V, direct voltage at its output
}

// Label returns the name.
func (a Amplifier) Label() string { return a.Name }

// Validate reports values that an amplifier cannot have.
func (a Amplifier) Validate() error {
	if err := named(a.Name); err != nil {
		return err
	}
	if a.Gain == 0 || math.IsNaN(a.Gain) || math.IsInf(a.Gain, 0) {
		return fmt.Errorf("signalpath: gain of %q is %g, want a finite value other than 0", a.Name, a.Gain)
	}
	if err := notNegative(a.Name, value{"output noise", "V", a.OutputNoise}, value{"clip voltage", "V", a.ClipVolts},
		value{"clip current", "A", a.ClipAmperes}, value{"input resistance", "Ω", a.InputResistance},
		value{"delay", "s", a.Delay}); err != nil {
		return err
	}
	if err := finite(a.Name, value{"offset", "V", a.Offset}); err != nil {
		return err
	}
	if err := a.Output.Validate(); err != nil {
		return about(a.Name, err)
	}
	if err := quantity(a.Name, "transfer", a.Transfer, freq.Dimensionless, freq.Voltage); err != nil {
		return err
	}
	if err := quantity(a.Name, "load at the measurement", a.MeasuredInto, freq.Impedance); err != nil {
		return err
	}
	if a.MeasuredInto != nil && a.Transfer == nil {
		return fmt.Errorf("signalpath: %q is measured into a load and has no transfer, want what was measured", a.Name)
	}
	for _, d := range []Density[Volt]{a.InputNoise, a.Noise} {
		if err := d.Validate(); err != nil {
			return about(a.Name, err)
		}
	}
	return nil
}

func (a Amplifier) in() terminal   { return terminal{} }
func (a Amplifier) out() terminal  { return terminal{} }
func (a Amplifier) delay() latency { return latency{seconds: a.Delay} }
func (a Amplifier) input() float64 { return conductance(a.InputResistance) }

func (a Amplifier) output(g *freq.Grid) ([]complex128, error) {
	z := make([]complex128, g.Len())
	if a.Output.Z != nil {
		m, err := evaluate(a.Name, a.Output.Z, g)
		if err != nil {
			return nil, err
		}
		copy(z, m)
	}
	for i, w := range g.Omega() {
		z[i] += complex(a.Output.R, w*a.Output.L)
	}
	return z, nil
}

func (a Amplifier) transfer(g *freq.Grid) ([]complex128, error) {
	h, err := scaled(a.Name, a.Transfer, g, a.Gain)
	if err != nil || a.MeasuredInto == nil {
		return h, err
	}
	load, err := evaluate(a.Name, a.MeasuredInto, g)
	if err != nil {
		return nil, err
	}
	out, err := a.output(g)
	if err != nil {
		return nil, err
	}
	for i, z := range load {
		if z == 0 {
			return nil, fmt.Errorf("signalpath: %q was measured into 0 Ω at %g Hz, want an impedance", a.Name, g.At(i))
		}
		h[i] *= (z + out[i]) / z
	}
	return h, nil
}

func (a Amplifier) noise(g *freq.Grid, h []complex128) ([]float64, error) {
	s, err := ranged(a.Name, a.Noise, g, a.OutputNoise, 1)
	if err != nil {
		return nil, err
	}
	in, err := a.InputNoise.on(g)
	for i := range in {
		s[i] += in[i] * square(h[i])
	}
	return s, about(a.Name, err)
}

func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
