// Package network has passive electrical networks of any shape: nodal analysis of
// resistors, coils with their resistance, capacitors with theirs, windings on a common
// core and measured or modelled impedances.
//
// A [Network] is a list of parts between nodes, one of which is the input against
// [Ground]. A [Plan] is the network on a grid behind a [Source]; a [Solution] is the
// workspace of one goroutine, with the voltages of all nodes and the currents of all
// windings per volt of the source's electromotive force. From it follow the
// responses to each driver, the input impedance, what every part dissipates and carries
// (in a [Drive]), and how the responses change with every value ([Sensitivities]).
//
// The network is linear and does not change with time: a coil does not saturate, a
// resistor does not heat up, and wires beside one another are not coupled. All of it is
// for e^{+jωt}, at frequencies above 0.
package network

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// NodeID is the name of a node.
type NodeID string

// Ground is the node that all voltages are against: the cold terminal of the input.
const Ground NodeID = "0"

// Part is what a network is made of: [Resistor], [Inductor], [Capacitor], [Load] or
// [Transformer].
type Part interface {
	// Label returns the name of the part, which is its own within a network.
	Label() string
	// Validate reports values that the part cannot have.
	Validate() error

	ends() [][2]NodeID
}

// Resistor is a resistor of R ohm between two nodes.
type Resistor struct {
	Name string
	A, B NodeID
	R    float64 // Ω, > 0: a wire is one node, not a resistor of 0 Ω
}

// Label returns the name.
func (p Resistor) Label() string { return p.Name }

// Validate reports a resistance that is not positive and finite.
func (p Resistor) Validate() error { return positive(p.Name, "resistance", p.R, "Ω") }

func (p Resistor) ends() [][2]NodeID { return [][2]NodeID{{p.A, p.B}} }

// Inductor is a coil: an inductance in series with the resistance of its wire,
// Z = R + jωL. Eddy currents and a core's losses are not in it.
type Inductor struct {
	Name string
	A, B NodeID
	L    float64 // H, > 0
	R    float64 // Ω, ≥ 0
}

// Label returns the name.
func (p Inductor) Label() string { return p.Name }

// Validate reports an inductance that is not positive and a resistance that is negative.
func (p Inductor) Validate() error {
	if err := positive(p.Name, "inductance", p.L, "H"); err != nil {
		return err
	}
	return notNegative(p.Name, "resistance", p.R, "Ω")
}

func (p Inductor) ends() [][2]NodeID { return [][2]NodeID{{p.A, p.B}} }

// Capacitor is a capacitance in series with its equivalent series resistance,
// Z = ESR + 1/(jωC).
type Capacitor struct {
	Name string
	A, B NodeID
	C    float64 // F, > 0
	ESR  float64 // Ω, ≥ 0
}

// Label returns the name.
func (p Capacitor) Label() string { return p.Name }

// Validate reports a capacitance that is not positive and a resistance that is negative.
func (p Capacitor) Validate() error {
	if err := positive(p.Name, "capacitance", p.C, "F"); err != nil {
		return err
	}
	return notNegative(p.Name, "series resistance", p.ESR, "Ω")
}

func (p Capacitor) ends() [][2]NodeID { return [][2]NodeID{{p.A, p.B}} }

// Load is an impedance in ohm that comes from elsewhere: a measured driver, one in a
// modelled box, or any other transfer. A is the terminal marked plus.
type Load struct {
	Name string
	A, B NodeID
	Z    freq.Transfer
}

// Label returns the name.
func (p Load) Label() string { return p.Name }

// Validate reports a load without an impedance, and a response that states that it is
// something else.
func (p Load) Validate() error {
	if p.Z == nil {
		return fmt.Errorf("network: load %q has no impedance, want a transfer in Ω", p.Name)
	}
	if r, ok := p.Z.(freq.Response); ok && r.Basis().Quantity != freq.Impedance {
		return fmt.Errorf("network: load %q is a response of %v, want impedance", p.Name, r.Basis())
	}
	return nil
}

func (p Load) ends() [][2]NodeID { return [][2]NodeID{{p.A, p.B}} }

// Impedance is an impedance in ohm as a transfer, from a function that writes it as
// those of the drivers and boxes do: Impedance(params.ImpedanceTo). The function must
// not change what it answers.
type Impedance func(dst []complex128, g *freq.Grid) []complex128

// ResponseTo implements [freq.Transfer].
func (z Impedance) ResponseTo(dst []complex128, g *freq.Grid) []complex128 { return z(dst, g) }

// Winding is one winding of a [Transformer]. A is the dotted end.
type Winding struct {
	A, B    NodeID
	Turns   float64 // > 0; only the ratios matter
	R       float64 // of its wire, Ω, ≥ 0
	Leakage float64 // the inductance that the others do not share, H, ≥ 0
}

// Transformer is a number of windings on one core. With e the voltage of a turn,
//
//	V_k = N_k·e + (R_k + jωL_k)·I_k,   e = jω·(L/N₁²)·Σ N_k·I_k
//
// where V_k is from A to B and I_k flows into A. An autotransformer is one whose windings
// are in series: the upper one from the input to the tap, the lower one from the tap to
// the common end. Losses of the core are a resistor across a winding.
type Transformer struct {
	Name        string
	Windings    []Winding
	Magnetising float64 // L, seen at the first winding with the others open, H, > 0; +Inf is an ideal core
}

// Label returns the name.
func (p Transformer) Label() string { return p.Name }

// Validate reports a core without windings and values that they cannot have.
func (p Transformer) Validate() error {
	if len(p.Windings) == 0 {
		return fmt.Errorf("network: transformer %q has no winding, want at least 1", p.Name)
	}
	if !(p.Magnetising > 0) {
		return fmt.Errorf("network: magnetising inductance of %q is %g H, want a value > 0, or +Inf", p.Name, p.Magnetising)
	}
	for _, w := range p.Windings {
		if err := positive(p.Name, "number of turns", w.Turns, "turns"); err != nil {
			return err
		}
		if err := notNegative(p.Name, "resistance of a winding", w.R, "Ω"); err != nil {
			return err
		}
		if err := notNegative(p.Name, "leakage inductance", w.Leakage, "H"); err != nil {
			return err
		}
	}
	return nil
}

func (p Transformer) ends() [][2]NodeID {
	e := make([][2]NodeID, len(p.Windings))
	for i, w := range p.Windings {
		e[i] = [2]NodeID{w.A, w.B}
	}
	return e
}

// Source is what stands between an ideal voltage and the input of the network: the
// amplifier's output impedance and the cable, R + jωL + Z. The zero value is nothing.
type Source struct {
	R float64       // Ω, ≥ 0
	L float64       // H, ≥ 0
	Z freq.Transfer // Ω, what an amplifier was measured to have; nil is nothing
}

// Validate reports values that are negative or not finite.
func (s Source) Validate() error {
	if err := notNegative("the source", "resistance", s.R, "Ω"); err != nil {
		return err
	}
	if err := notNegative("the source", "inductance", s.L, "H"); err != nil {
		return err
	}
	if s.Z == nil {
		return nil
	}
	return Load{Name: "the source", Z: s.Z}.Validate()
}

// Cable is a pair of copper wires.
type Cable struct {
	Length     float64 // of the pair, m: the current goes there and back
	Area       float64 // cross-section of one wire, m²
	Inductance float64 // of the pair, H/m; about 0.6 µH/m for two wires side by side (common practice, no source)
}

// Source returns the resistance 2·ρ·length/area and the inductance of the loop. ρ is that of
// the international annealed copper standard at 20 °C, 1/58 Ω·mm²/m (IEC 60028, from
// memory); hot copper has 0.39 % more a kelvin. The capacitance between the wires is left
// out: it matters where it resonates with the amplifier, far above the audible band.
func (c Cable) Source() (Source, error) {
	for _, v := range []struct {
		what string
		v    float64
		unit string
	}{{"length", c.Length, "m"}, {"cross-section", c.Area, "m²"}} {
		if err := positive("the cable", v.what, v.v, v.unit); err != nil {
			return Source{}, err
		}
	}
	if err := notNegative("the cable", "inductance", c.Inductance, "H/m"); err != nil {
		return Source{}, err
	}
	const rho = 1e-6 / 58
	return Source{R: 2 * rho * c.Length / c.Area, L: c.Inductance * c.Length}, nil
}

func positive(name, what string, v float64, unit string) error {
	if !(v > 0) || math.IsInf(v, 0) {
		return fmt.Errorf("network: %s of %q is %g %s, want a finite value > 0", what, name, v, unit)
	}
	return nil
}

func notNegative(name, what string, v float64, unit string) error {
	if !(v >= 0) || math.IsInf(v, 0) {
		return fmt.Errorf("network: %s of %q is %g %s, want a finite value ≥ 0", what, name, v, unit)
	}
	return nil
}
