package signalpath

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
)

// OutputFilter is the low-pass behind a switching amplifier: a coil in the way, a capacitor across
// and, if there is one, a branch of resistor and capacitor across that damps them. Its load is
// part of it: with ω₀ = 1/√(LC) its Q into a resistance R is R·√(C/L), so that a coil whose
// impedance rises makes it peak.
type OutputFilter struct {
	Name         string
	L            float64 // H
	R            float64 // Ω, of the coil
	C            float64 // F
	ESR          float64 // Ω, of the capacitor
	DampR, DampC float64 // Ω and F, in series with each other; 0 and 0: none
}

// Label returns the name.
func (f OutputFilter) Label() string { return f.Name }

// Validate reports values that the parts cannot have.
func (f OutputFilter) Validate() error {
	if err := named(f.Name); err != nil {
		return err
	}
	if err := positive(f.Name, value{"inductance", "H", f.L}, value{"capacitance", "F", f.C}); err != nil {
		return err
	}
	if (f.DampR == 0) != (f.DampC == 0) {
		return fmt.Errorf("signalpath: %q is damped by %g Ω and %g F, want both or none", f.Name, f.DampR, f.DampC)
	}
	return notNegative(f.Name, value{"resistance of the coil", "Ω", f.R}, value{"series resistance", "Ω", f.ESR},
		value{"damping resistance", "Ω", f.DampR}, value{"damping capacitance", "F", f.DampC})
}

func (f OutputFilter) in() terminal  { return terminal{} }
func (f OutputFilter) out() terminal { return terminal{} }

func (f OutputFilter) arms(g *freq.Grid) []arm {
	a := []arm{
		{f.Name + " coil", false, impedance(g, f.R, f.L, 0)},
		{f.Name + " capacitor", true, impedance(g, f.ESR, 0, f.C)},
	}
	if f.DampC > 0 {
		a = append(a, arm{f.Name + " damping", true, impedance(g, f.DampR, 0, f.DampC)})
	}
	return a
}

// Cable is a pair of wires, to a driver or between devices: series resistance and inductance,
// with half of the capacitance across each end. A line differs by (2πf·Length)²·LC/6 of the series
// impedance: 4e-6 for 5 m of 0.6 µH/m and 100 pF/m at 20 kHz. Resistance and inductance of a wire's
// cross-section are those of the Source of a network.Cable of 1 m.
type Cable struct {
	Name        string
	Length      float64 // m, of the pair
	Resistance  float64 // Ω/m, of the loop
	Inductance  float64 // H/m, of the loop
	Capacitance float64 // F/m, between the wires
}

// Label returns the name.
func (c Cable) Label() string { return c.Name }

// Validate reports values that a cable cannot have.
func (c Cable) Validate() error {
	if err := named(c.Name); err != nil {
		return err
	}
	if err := notNegative(c.Name, value{"length", "m", c.Length}, value{"resistance", "Ω/m", c.Resistance},
		value{"inductance", "H/m", c.Inductance}, value{"capacitance", "F/m", c.Capacitance}); err != nil {
		return err
	}
	return notNegative(c.Name, value{"resistance of all", "Ω", c.Resistance * c.Length},
		value{"inductance of all", "H", c.Inductance * c.Length}, value{"capacitance of all", "F", c.Capacitance * c.Length})
}

func (c Cable) in() terminal  { return terminal{} }
func (c Cable) out() terminal { return terminal{} }

func (c Cable) arms(g *freq.Grid) []arm {
	series := arm{c.Name, false, impedance(g, c.Resistance*c.Length, c.Inductance*c.Length, 0)}
	half := c.Capacitance * c.Length / 2
	if half == 0 {
		return []arm{series}
	}
	end := impedance(g, 0, 0, half)
	return []arm{{c.Name + " near end", true, end}, series, {c.Name + " far end", true, end}}
}

// SeriesCapacitor is a capacitor in the way, such as the one that protects a tweeter from direct
// current and from what is far below its band. Its response is Z/(Z + ESR + 1/jωC) with the
// impedance Z behind it: not a clean first-order high-pass, since Z has a resonance. With the
// motional branch it may even raise the voltage at the driver there.
//
// Do not leave it out because the processor has a high-pass: it is there for the amplifier that
// fails with direct current at its output, which is a fire otherwise.
type SeriesCapacitor struct {
	Name  string
	C     float64 // F
	ESR   float64 // Ω
	Rated float64 // V peak; 0: not stated
}

// Label returns the name.
func (c SeriesCapacitor) Label() string { return c.Name }

// Validate reports values that a capacitor cannot have.
func (c SeriesCapacitor) Validate() error {
	if err := named(c.Name); err != nil {
		return err
	}
	if err := positive(c.Name, value{"capacitance", "F", c.C}); err != nil {
		return err
	}
	return notNegative(c.Name, value{"series resistance", "Ω", c.ESR}, value{"rated voltage", "V", c.Rated})
}

func (c SeriesCapacitor) in() terminal  { return terminal{} }
func (c SeriesCapacitor) out() terminal { return terminal{} }

func (c SeriesCapacitor) arms(g *freq.Grid) []arm {
	return []arm{{c.Name, false, impedance(g, c.ESR, 0, c.C)}}
}

// Resistor is a resistor in the way of the signal or across it: two make a pad.
type Resistor struct {
	Name   string
	R      float64 // Ω
	Across bool
}

// Label returns the name.
func (r Resistor) Label() string { return r.Name }

// Validate reports a resistance that is not positive and finite.
func (r Resistor) Validate() error {
	if err := named(r.Name); err != nil {
		return err
	}
	return positive(r.Name, value{"resistance", "Ω", r.R})
}

func (r Resistor) in() terminal  { return terminal{} }
func (r Resistor) out() terminal { return terminal{} }

func (r Resistor) arms(g *freq.Grid) []arm {
	return []arm{{r.Name, r.Across, impedance(g, r.R, 0, 0)}}
}

// impedance returns R + jωL + 1/(jωC) on a grid; c = 0: no capacitor.
func impedance(g *freq.Grid, r, l, c float64) []complex128 {
	z := make([]complex128, g.Len())
	for i, w := range g.Omega() {
		x := w * l
		if c > 0 {
			x -= 1 / (w * c)
		}
		z[i] = complex(r, x)
	}
	return z
}
