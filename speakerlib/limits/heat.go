package limits

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Coil is a voice coil as something that gets hot.
type Coil struct {
	Re      float64 // resistance at direct current without a rise, Ω
	Wire    Wire    // of the temperature at which Re was measured
	Thermal Thermal
	MaxRise float64 // allowed rise above the air of the room, K: glue and former decide
}

// Validate reports what is missing or wrong.
func (c Coil) Validate() error {
	for _, v := range []float64{c.Re, float64(c.Wire), c.MaxRise} {
		if !(v > 0) || math.IsInf(v, 0) {
			return fmt.Errorf("limits: coil of %g Ω, %g per K, with %g K allowed: want finite values > 0", c.Re, float64(c.Wire), c.MaxRise)
		}
	}
	if c.Wire > mostWire {
		return fmt.Errorf("limits: wire of %g per K, want at most %g: is it in percent?", float64(c.Wire), mostWire)
	}
	return c.Thermal.Validate()
}

// MaxPower returns the steady power in Re that makes the allowed rise, ΔT/ΣR, in W.
func (c Coil) MaxPower() float64 { return c.MaxRise / c.Thermal.Resistance() }

// MaxCurrent returns the steady current that makes it, √(P/Re(T)), in A rms. It is
// that of the hot coil, whose resistance is Re·(1+α·ΔT).
func (c Coil) MaxCurrent() float64 {
	return math.Sqrt(c.MaxPower() / (c.Re * c.Wire.Ratio(c.MaxRise)))
}

// Bound returns the bound of a steady sine that heats the coil as far as is allowed:
// current is that of the coil per volt at the input. The level that it gives is the
// same with output and current of the cold coil as with those of the hot one, as
// all is per ampere alike; the input is that of the state of which the current is,
// and it is the hot one that belongs to this bound ([Hot], [Way]).
func (c Coil) Bound(way string, current freq.Transfer) (Bound, error) {
	if err := c.Validate(); err != nil {
		return Bound{}, fmt.Errorf("limits: coil of %s: %w", way, err)
	}
	return Bound{Cause: Heat, Way: way, PerVolt: current, Peak: math.Sqrt2 * c.MaxCurrent()}, nil
}

// ProgrammeBound returns the bound of a programme that heats the coil as far as is
// allowed in the long run. The peak of the input is that of the programme, its rms
// is less by the crest, so that the coil's current is
//
//	I = û/crest·√(Σ share·|H·Y|²)
//
// at every frequency the same. What is bounded is √2·I, the peak of a sine that
// heats alike. Current is per volt at the input and, as the level is no longer that
// of a sine, best that of the hot coil.
func (c Coil) ProgrammeBound(way string, current freq.Transfer, p Programme) (Bound, error) {
	if err := c.Validate(); err != nil {
		return Bound{}, fmt.Errorf("limits: coil of %s: %w", way, err)
	}
	rms, err := p.RMS(current)
	if err != nil {
		return Bound{}, fmt.Errorf("limits: current of %s: %w", way, err)
	}
	return Bound{Cause: ProgrammeHeat, Way: way, PerVolt: freq.Gain(math.Sqrt2 * rms / p.crest), Peak: math.Sqrt2 * c.MaxCurrent()}, nil
}

// Warmth is a coil in the long run.
type Warmth struct {
	Rise        float64 // K
	Power       float64 // in Re, W
	Ratio       float64 // resistance over that without a rise
	Compression float64 // the current that is left of that of the cold coil, a ratio
}

// Steady returns how warm a coil gets in the long run by a programme of an rms at the
// input, in V. Current is that of the cold coil per volt of the source, chain what is
// in front. As the coil warms up its resistance grows and it draws less,
//
//	ΔT = ΣR·Re(T)·U²·Σ share·|H·Y/(1 + (Re(T)−Re)·Y)|²,  Re(T) = Re·(1+α·ΔT)
//
// which is solved for ΔT by halving, to rounding. It does not stop at the allowed
// rise.
func (c Coil) Steady(volts float64, chain, current freq.Transfer, p Programme) (Warmth, error) {
	if err := c.Validate(); err != nil {
		return Warmth{}, err
	}
	if !(volts >= 0) || math.IsInf(volts, 0) {
		return Warmth{}, fmt.Errorf("limits: programme of %g V rms, want a finite value ≥ 0", volts)
	}
	filter, err := p.evaluate(chain)
	if err != nil {
		return Warmth{}, err
	}
	admittance, err := p.evaluate(current)
	if err != nil {
		return Warmth{}, err
	}
	square := func(rise float64) (sum float64) { // of the current
		added := complex(c.Re*(c.Wire.Ratio(rise)-1), 0)
		for i, share := range p.share {
			y := admittance.At(i)
			y *= filter.At(i) / (1 + added*y)
			sum += share * (real(y)*real(y) + imag(y)*imag(y))
		}
		return volts * volts * sum
	}
	if !(square(0) > 0) {
		return Warmth{Ratio: 1, Compression: 1}, nil
	}
	r := c.Thermal.Resistance()
	excess := func(rise float64) float64 { return r*c.Re*c.Wire.Ratio(rise)*square(rise) - rise }
	lo, hi := 0.0, 1.0
	for excess(hi) > 0 {
		if lo, hi = hi, 2*hi; hi > 1e6 {
			return Warmth{}, fmt.Errorf("limits: %g V rms heat the coil beyond any temperature", volts)
		}
	}
	for range 100 {
		mid := (lo + hi) / 2
		if mid <= lo || mid >= hi {
			break
		}
		if excess(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	cold, hot := square(0), square(hi)
	return Warmth{Rise: hi, Power: hot * c.Re * c.Wire.Ratio(hi), Ratio: c.Wire.Ratio(hi), Compression: math.Sqrt(hot / cold)}, nil
}

// Hot is a quantity per volt of a source with a resistance added to the coil: with Y
// the current per volt without it,
//
//	X' = X/(1 + R·Y)
//
// Exact in a linear circuit, because nothing changes per ampere. It is for what was
// measured with a cold coil; of a model, take the hot driver.
type Hot struct {
	Of      freq.Transfer // X, per volt of the source
	Current freq.Transfer // Y, A/V
	Added   float64       // R, Ω
}

// CheckGrid implements [freq.Sampled].
func (h Hot) CheckGrid(g *freq.Grid) error {
	if err := freq.CheckGrid(h.Of, g); err != nil {
		return err
	}
	return freq.CheckGrid(h.Current, g)
}

// ResponseTo implements [freq.Transfer].
func (h Hot) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = h.Of.ResponseTo(dst, g)
	for i, y := range h.Current.ResponseTo(nil, g) {
		dst[i] /= 1 + complex(h.Added, 0)*y
	}
	return dst
}
