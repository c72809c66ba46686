package identify

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
)

// Expected is what a vented box and its driver are said to be. What is not known
// stays zero.
type Expected struct {
	Box    enclosure.Vented
	Driver driver.Params
	Air    air.Medium
}

// Consistency compares what the impedance of a box says with what is expected.
type Consistency struct {
	Found    Parameter
	Expected float64
	Relative float64 // found/expected − 1
}

// String says it in a sentence.
func (c Consistency) String() string {
	return fmt.Sprintf("%v from the impedance, %.4g expected (%+.1f %%)", c.Found, c.Expected, 100*c.Relative)
}

// VentedAlone reads a vented box from its impedance at the driver's terminals and
// from nothing else: tuning, leak, Vas/Vb, and the driver's Re, Fs, Qms and Qes as
// they are in the box. The setup of the measurement is [VentedBox]; its volume may
// be 0, and if it is known, and Sd and the air in the settings, the absolute
// parameters follow too.
//
// The start is that of the two peaks fL and fH and the minimum fb between them (R. H.
// Small, "Vented-Box Loudspeaker Systems, Part IV", J. Audio Eng. Soc. 21, 1973,
// from memory), fs = fL·fH/fb and α = (fH²−fb²)(fb²−fL²)/(fH²fL²); the fit then
// takes the losses and the coil into account, which move the minimum away from fb.
// All losses of the box are one leak QL. Absorption and friction in the vent look
// much alike and are counted in it.
//
// With an expectation (nil: none) the tuning is compared with that of the geometry,
// Vas/Vb and Fs with the driver and volume. A vent found lower or higher by more than
// some per cent has another length, volume or end than is said; Fs in a box is
// lower than in free air by the air load of the baffle.
func VentedAlone(m Measurement, set *Settings, e *Expected) (*Result, []Consistency, error) {
	if _, ok := m.Setup.(VentedBox); !ok {
		return nil, nil, fmt.Errorf("identify: the setup of %q is %v, want a vented box", m.Impedance.Label(), m.Setup)
	}
	r, err := fit([]Measurement{m}, set)
	if err != nil || e == nil {
		return r, nil, err
	}
	var list []Consistency
	compare := func(s Symbol, expected float64) {
		if p, ok := r.Value(s); ok {
			list = append(list, Consistency{p, expected, p.Value/expected - 1})
		}
	}
	boxKnown, driverKnown := e.Box.Vb > 0, e.Driver.Mms > 0
	if boxKnown {
		if err := e.Box.Validate(e.Air); err != nil {
			return nil, nil, fmt.Errorf("identify: expected box: %w", err)
		}
		compare(Fb, e.Box.Fb(e.Air))
	}
	if driverKnown {
		if err := e.Driver.Validate(); err != nil {
			return nil, nil, fmt.Errorf("identify: expected driver: %w", err)
		}
		at, err := e.Driver.At(e.Driver.Fs())
		if err != nil {
			return nil, nil, fmt.Errorf("identify: expected driver: %w", err)
		}
		compare(Fs, at.Fs())
		if boxKnown {
			compare(Ratio, at.Vas(e.Air)/e.Box.Vb)
		}
	}
	if boxKnown && e.Box.Losses.QL > 0 {
		compare(QL, e.Box.Losses.QL)
	}
	for _, c := range list {
		if math.IsNaN(c.Relative) || math.IsInf(c.Relative, 0) {
			return nil, nil, fmt.Errorf("identify: %s is expected as %g, want a finite value > 0", c.Found.Symbol, c.Expected)
		}
	}
	return r, list, nil
}
