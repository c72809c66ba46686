package limits

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
)

// Cause is what binds.
type Cause int

// The causes.
const (
	Excursion     Cause = iota // the linear excursion of a cone, m peak
	Damage                     // the excursion at which a driver is hurt, m peak
	VentAir                    // the speed of the air in a vent, m/s peak
	Volts                      // the largest voltage of an amplifier, V peak
	Amperes                    // its largest current, A peak, for a steady sine
	WorstAmperes               // its largest current, A peak, for the worst programme of the same peak
	Heat                       // the current that heats a coil as far as is allowed, A peak of a sine that does it
	ProgrammeHeat              // the same for a programme of stated spectrum and crest
	Distortion                 // an allowed distortion, as a share of the input that makes it
	FullScale                  // digital full scale, as a share of it
)

// String names the cause.
func (c Cause) String() string {
	switch c {
	case Excursion:
		return "excursion"
	case Damage:
		return "damaging excursion"
	case VentAir:
		return "vent air"
	case Volts:
		return "amplifier volts"
	case Amperes:
		return "amplifier amperes"
	case WorstAmperes:
		return "amplifier amperes, worst programme"
	case Heat:
		return "heat, sine"
	case ProgrammeHeat:
		return "heat, programme"
	case Distortion:
		return "distortion"
	case FullScale:
		return "digital full scale"
	}
	return fmt.Sprintf("Cause(%d)", int(c))
}

// Unit returns the unit of what is bounded.
func (c Cause) Unit() string {
	switch c {
	case Excursion, Damage:
		return "m"
	case VentAir:
		return "m/s"
	case Volts:
		return "V"
	case Amperes, WorstAmperes, Heat, ProgrammeHeat:
		return "A"
	case Distortion, FullScale:
		return "1"
	}
	return "?"
}

// Bound is one thing that must not be exceeded.
type Bound struct {
	Cause   Cause
	Way     string        // where: "woofer"
	PerVolt freq.Transfer // the bounded quantity per volt at the input
	Peak    float64       // its largest allowed value, peak, in Cause.Unit()
}

// String names the cause and where it binds.
func (b Bound) String() string { return b.Way + " " + b.Cause.String() }

// Behind returns the bound with a chain in front: a bound per volt at the terminals
// of a way becomes one per volt at the input of the chain.
func (b Bound) Behind(chain freq.Transfer) Bound {
	b.PerVolt = freq.Series{chain, b.PerVolt}
	return b
}

// FromCurve returns the bound of something that is known as the largest input at
// every frequency, such as that of an allowed distortion from runs with a
// large-signal model: what is bounded is the share of that input, at most 1. The
// inputs are in V peak, > 0; an infinite one never binds. The bound is known on the
// grid of the curve only.
func FromCurve(cause Cause, way string, largest freq.Curve) (Bound, error) {
	if largest.Len() == 0 || largest.Unit() != "V" {
		return Bound{}, fmt.Errorf("limits: largest inputs for %s %v are in %q, want V peak", way, cause, largest.Unit())
	}
	share := make([]complex128, largest.Len())
	for i := range share {
		u := largest.At(i)
		if !(u > 0) {
			return Bound{}, fmt.Errorf("limits: largest input for %s %v at %g Hz is %g V, want > 0", way, cause, largest.Grid().At(i), u)
		}
		share[i] = complex(1/u, 0)
	}
	r, err := freq.NewResponse(largest.Grid(), share, largest.Label(), freq.Basis{})
	return Bound{Cause: cause, Way: way, PerVolt: r, Peak: 1}, err
}
