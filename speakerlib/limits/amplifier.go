package limits

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Amplifier is what one channel can give. Its voltage is that in front of its
// output resistance, where its stage clips; what a load sees is less.
type Amplifier struct {
	PeakVolts        float64 // V; 0: not stated
	PeakAmperes      float64 // A, for as long as a peak of bass lasts; 0: not stated
	OutputResistance float64 // Ω, with the cable if it is meant to count
}

// Bound returns the voltage limit of the amplifier of a way, behind a chain that
// makes its voltage out of the input.
func (a Amplifier) Bound(way string, chain freq.Transfer) Bound {
	return Bound{Cause: Volts, Way: way, PerVolt: chain, Peak: a.PeakVolts}
}

// AmpereBound returns the current limit of the amplifier for a steady sine, into
// the complex load: current is that per volt of the amplifier, such as
// [enclosure.Motion].Current of a driver whose Source holds the output resistance,
// or [Amplifier.Current] of an impedance.
func (a Amplifier) AmpereBound(way string, chain, current freq.Transfer) Bound {
	return Bound{Cause: Amperes, Way: way, PerVolt: freq.Series{chain, current}, Peak: a.PeakAmperes}
}

// WorstBound returns the current limit for the worst programme whose peak at the
// input is that of the sine: its PerVolt is the [WorstCase] of chain and current,
// the same at all frequencies. It is the stricter bound: an amplifier that keeps it
// never clips its current, whatever is played within that peak.
func (a Amplifier) WorstBound(way string, chain, current freq.Transfer, s WorstSetup) (Bound, error) {
	w, err := WorstCase(freq.Series{chain, current}, s)
	if err != nil {
		return Bound{}, fmt.Errorf("limits: current of %s: %w", way, err)
	}
	return Bound{Cause: WorstAmperes, Way: way, PerVolt: freq.Gain(w.PerVolt), Peak: a.PeakAmperes}, nil
}

// Current returns the current per volt of the amplifier into an impedance in Ω that
// does not hold the output resistance R: 1/(Z + R).
func (a Amplifier) Current(impedance freq.Transfer) freq.Transfer {
	return &divider{load: impedance, source: a.OutputResistance}
}

// Terminals returns the voltage at the terminals per volt of the amplifier with an
// impedance as its load, Z/(Z + R): the stage of a chain in front of what was
// measured per volt at the terminals.
func (a Amplifier) Terminals(impedance freq.Transfer) freq.Transfer {
	return &divider{load: impedance, source: a.OutputResistance, volts: true}
}

// Validate reports a negative value or one that is not finite.
func (a Amplifier) Validate() error {
	for _, v := range []float64{a.PeakVolts, a.PeakAmperes, a.OutputResistance} {
		if !(v >= 0) || math.IsInf(v, 0) {
			return fmt.Errorf("limits: amplifier of %g V peak, %g A peak, %g Ω: want finite values ≥ 0", a.PeakVolts, a.PeakAmperes, a.OutputResistance)
		}
	}
	return nil
}

// divider is a load behind a resistance.
type divider struct {
	load   freq.Transfer
	source float64 // Ω
	volts  bool    // the voltage of the load, else its current
}

// CheckGrid implements [freq.Sampled].
func (d *divider) CheckGrid(g *freq.Grid) error { return freq.CheckGrid(d.load, g) }

// ResponseTo implements [freq.Transfer].
func (d *divider) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = d.load.ResponseTo(dst, g)
	for i, z := range dst {
		dst[i] = 1 / (z + complex(d.source, 0))
		if d.volts {
			dst[i] *= z
		}
	}
	return dst
}
