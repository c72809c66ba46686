package limits

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// Way is a driver in its box, the amplifier that drives it and the chain in front:
// what has bounds of its own in a loudspeaker, and the state of its coil.
type Way struct {
	Name      string
	Mounted   enclosure.Mounted // its Source without the amplifier's output resistance; Driver.Limits bound the excursion
	Chain     freq.Transfer     // from the input to the voltage of the amplifier; nil: a wire
	Amplifier Amplifier
	VentAir   float64 // allowed speed, m/s peak; 0: not bounded
	// Digital is from the input to what must not exceed digital full scale, 1 per
	// volt; nil: not bounded.
	Digital   freq.Transfer
	Coil      Coil      // without stages in Thermal heat is not bounded; Re is that of the driver
	Programme Programme // empty: heat is bounded for a sine only
	Worst     WorstSetup
	Rise      float64 // of the coil over the temperature of Driver.Re, K: 0 is cold
}

// Motion returns what the driver does per volt of its amplifier, with the output
// resistance of the amplifier, and with the resistance of the coil at its rise.
func (w Way) Motion() (*enclosure.Motion, error) {
	if !(w.Rise >= 0) || math.IsInf(w.Rise, 0) {
		return nil, fmt.Errorf("limits: coil of %s has a rise of %g K, want a finite value ≥ 0", w.Name, w.Rise)
	}
	if v := float64(w.Coil.Wire); !(v >= 0) || v > mostWire {
		return nil, fmt.Errorf("limits: coil of %s has a wire of %g per K, want 0 to %g, such as Copper", w.Name, v, mostWire)
	}
	if w.Rise > 0 && w.Coil.Wire == 0 {
		return nil, fmt.Errorf("limits: coil of %s has a rise of %g K and no wire, want Copper, Aluminium or another", w.Name, w.Rise)
	}
	if err := w.Amplifier.Validate(); err != nil {
		return nil, fmt.Errorf("%w (%s)", err, w.Name)
	}
	m := w.Mounted
	m.Driver.Re *= w.Coil.Wire.Ratio(w.Rise)
	m.Source += w.Amplifier.OutputResistance
	motion, err := m.Motion()
	if err != nil {
		return nil, fmt.Errorf("limits: %s: %w", w.Name, err)
	}
	return motion, nil
}

// chain returns the chain, a wire if there is none.
func (w Way) chain() freq.Transfer {
	if w.Chain == nil {
		return freq.Gain(1)
	}
	return w.Chain
}

// Bounds returns the bounds that are stated, per volt at the input: excursion (linear
// and damaging), vent air, volts, amperes for a sine and for the worst programme,
// digital full scale, heat for a sine and for the programme, in this order.
func (w Way) Bounds() ([]Bound, error) {
	m, err := w.Motion()
	if err != nil {
		return nil, err
	}
	chain := w.chain()
	var out []Bound
	add := func(c Cause, t freq.Transfer, most float64) {
		if most != 0 {
			out = append(out, Bound{Cause: c, Way: w.Name, PerVolt: freq.Series{chain, t}, Peak: most})
		}
	}
	add(Excursion, m.Cone, w.Mounted.Driver.Limits.Linear)
	add(Damage, m.Cone, w.Mounted.Driver.Limits.Damage)
	add(VentAir, m.VentAir, w.VentAir)
	if w.Amplifier.PeakVolts > 0 {
		out = append(out, w.Amplifier.Bound(w.Name, chain))
	}
	if w.Amplifier.PeakAmperes > 0 {
		worst, err := w.Amplifier.WorstBound(w.Name, chain, m.Current, w.Worst)
		if err != nil {
			return nil, err
		}
		out = append(out, w.Amplifier.AmpereBound(w.Name, chain, m.Current), worst)
	}
	if w.Digital != nil {
		out = append(out, Bound{Cause: FullScale, Way: w.Name, PerVolt: w.Digital, Peak: 1})
	}
	if len(w.Coil.Thermal) > 0 {
		coil, current := w.coil(), freq.Series{chain, m.Current}
		sine, err := coil.Bound(w.Name, current)
		if err != nil {
			return nil, err
		}
		out = append(out, sine)
		if w.Programme.grid != nil {
			b, err := coil.ProgrammeBound(w.Name, current, w.Programme)
			if err != nil {
				return nil, err
			}
			out = append(out, b)
		}
	}
	return out, nil
}

// coil returns the coil with the resistance of the driver.
func (w Way) coil() Coil {
	c := w.Coil
	c.Re = w.Mounted.Driver.Re
	return c
}

// Ceiling returns the ceiling of the way alone, behind its chain, in half space at
// 1 m. That of several ways is [CeilingOf] their sum.
func (w Way) Ceiling(g *freq.Grid) (*Ceiling, error) {
	bounds, err := w.Bounds()
	if err != nil {
		return nil, err
	}
	m, err := w.Motion()
	if err != nil {
		return nil, err
	}
	basis := enclosure.PressureBasis()
	basis.Per = freq.PerInput
	out, err := freq.Evaluate(freq.Series{w.chain(), m.Pressure}, g, w.Name, basis)
	if err != nil {
		return nil, fmt.Errorf("limits: %s: %w", w.Name, err)
	}
	return NewCeiling(out, bounds)
}

// CeilingOf returns the ceiling of several ways together: of their sum, measured or
// computed, per volt at the common input, within the bounds of all of them. With hot
// coils the sum must be that of hot ways; [Hot] makes it of measured ones.
func CeilingOf(sum freq.Response, ways ...Way) (*Ceiling, error) {
	var bounds []Bound
	for _, w := range ways {
		b, err := w.Bounds()
		if err != nil {
			return nil, err
		}
		bounds = append(bounds, b...)
	}
	return NewCeiling(sum, bounds)
}

// Hottest returns the way with its coil as warm as is allowed.
func (w Way) Hottest() Way {
	w.Rise = w.Coil.MaxRise
	return w
}

// Heating follows the way's coil while a programme plays; see [Play.Heating].
func (w Way) Heating(p *Play, s HeatingSetup) (*Heating, error) {
	w.Rise = 0
	m, err := w.Motion()
	if err != nil {
		return nil, err
	}
	h, err := p.Heating(w.coil(), w.chain(), m.Current, s)
	if err != nil {
		return nil, fmt.Errorf("%w (%s)", err, w.Name)
	}
	return h, nil
}

// Steady returns how warm the coil gets in the long run by the way's programme of an
// rms at the input, in V.
func (w Way) Steady(volts float64) (Warmth, error) {
	w.Rise = 0
	m, err := w.Motion()
	if err != nil {
		return Warmth{}, err
	}
	warmth, err := w.coil().Steady(volts, w.chain(), m.Current, w.Programme)
	if err != nil {
		return Warmth{}, fmt.Errorf("%w (%s)", err, w.Name)
	}
	return warmth, nil
}
