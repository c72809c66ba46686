package signalpath

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// FullScale is the unit of digital quantities: a sample of 1 is the largest.
type FullScale struct{}

// Volt is the unit of analogue quantities.
type Volt struct{}

// Unit is the unit of a signal.
type Unit interface{ FullScale | Volt }

// symbol returns the symbol of a unit.
func symbol[U Unit]() string {
	if _, volts := any(*new(U)).(Volt); volts {
		return "V"
	}
	return "FS"
}

// Density is a one-sided noise power per hertz in U²/Hz: what is white, and what is given over
// frequency. The zero value is no noise.
type Density[U Unit] struct {
	White float64    // U²/Hz
	Curve freq.Curve // U²/Hz, its unit "V²/Hz" or "FS²/Hz"; the zero curve is none
}

// Unit returns what the unit of the curve is called, V²/Hz or FS²/Hz.
func (d Density[U]) Unit() string { return symbol[U]() + "²/Hz" }

// Validate reports a density that is negative, not finite, or in another unit.
func (d Density[U]) Validate() error {
	if !(d.White >= 0) || math.IsInf(d.White, 0) {
		return fmt.Errorf("density is %g %s, want a finite value ≥ 0", d.White, d.Unit())
	}
	if d.Curve.Grid() == nil {
		return nil
	}
	if u := d.Curve.Unit(); u != d.Unit() {
		return fmt.Errorf("density %q is in %s, want %s", d.Curve.Label(), u, d.Unit())
	}
	for i := range d.Curve.Len() {
		if v := d.Curve.At(i); !(v >= 0) || math.IsInf(v, 0) {
			return fmt.Errorf("density %q is %g %s at %g Hz, want a finite value ≥ 0",
				d.Curve.Label(), v, d.Unit(), d.Curve.Grid().At(i))
		}
	}
	return nil
}

// on returns the density at the points of a grid, which a curve must be on.
func (d Density[U]) on(g *freq.Grid) ([]float64, error) {
	s := make([]float64, g.Len())
	for i := range s {
		s[i] = d.White
	}
	if c := d.Curve.Grid(); c != nil {
		if !c.Equal(g) {
			return nil, fmt.Errorf("density %q is on %v, want it on that of the path, %v", d.Curve.Label(), c, g)
		}
		for i := range s {
			s[i] += d.Curve.At(i)
		}
	}
	return s, nil
}

// Boltzmann is the Boltzmann constant in J/K, exact (SI, 2019).
const Boltzmann = 1.380649e-23

// Johnson returns the thermal noise of a resistance in ohm at a temperature in kelvin, 4kTR (J. B.
// Johnson and H. Nyquist, Phys. Rev. 32, 1928), white as far as audio goes. A resistance or
// temperature that is negative or not finite gives a density that Validate refuses.
func Johnson(ohm, kelvin float64) Density[Volt] {
	if ohm < 0 || kelvin < 0 {
		return Density[Volt]{White: math.NaN()}
	}
	return Density[Volt]{White: 4 * Boltzmann * kelvin * ohm}
}

// Dither is what is added before a signal is rounded.
type Dither int

// The kinds of dither.
const (
	NoDither   Dither = iota // error taken as white and uniform: of busy signals only
	Triangular               // of two steps' width from side to side: error's mean and power are the same at any signal
)

// Quantisation returns the noise of rounding to words of so many bits, sign included, at a
// sample rate in hertz. With the step Δ = 2^(1−bits) the noise is Δ²/12, with triangular
// dither Δ²/4, spread evenly from 0 to half the sample rate (S. P. Lipshitz, R. A. Wannamaker,
// J. Vanderkooy, "Quantization and dither", J. Audio Eng. Soc. 40, 1992; from memory). A sine at
// full scale is 6.02·bits + 1.76 dB above the undithered one. Word lengths outside
// 1 … 64, rates that are not positive and other dithers are errors.
func Quantisation(bits int, sampleRate float64, d Dither) (Density[FullScale], error) {
	if bits < 1 || bits > 64 || !(sampleRate > 0) || math.IsInf(sampleRate, 0) {
		return Density[FullScale]{}, fmt.Errorf("signalpath: words of %d bits at %g Hz, want 1 … 64 bits and a positive rate", bits, sampleRate)
	}
	if d != NoDither && d != Triangular {
		return Density[FullScale]{}, fmt.Errorf("signalpath: dither %d, want none or triangular", int(d))
	}
	step := math.Ldexp(1, 1-bits)
	power := step * step / 12
	if d == Triangular {
		power *= 3
	}
	return Density[FullScale]{White: power / (sampleRate / 2)}, nil
}
