package identify

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
)

// Measurement is an impedance curve of a driver, and what was done for it.
type Measurement struct {
	Impedance freq.Response // Ω, complex, of freq.Impedance
	Setup     Setup         // FreeAir, AddedMass, ClosedBox or VentedBox

	// Kelvin is the temperature of the voice coil and KelvinError its standard
	// uncertainty, K; 0 K means not known, and the resistance is then not
	// referred to another temperature.
	Kelvin, KelvinError float64
	// RunIn is the standard uncertainty of the compliance, relative, that comes
	// from a suspension that has not settled. 0: the driver is run in.
	RunIn float64
}

// Setup is where the driver was: FreeAir, AddedMass, ClosedBox or VentedBox.
type Setup interface {
	check() error
	String() string
}

// FreeAir is a driver in the open, without a box or baffle.
type FreeAir struct{}

// AddedMass is the same with a mass on the cone.
type AddedMass struct {
	Mass     float64 // kg
	Accuracy float64 // its standard uncertainty, relative: 0.003 is 0.3 %
}

// ClosedBox is a driver in a closed box of known net volume, without absorbing
// material (which makes the air softer than the volume says).
type ClosedBox struct {
	Volume   float64 // net, m³
	Accuracy float64 // its standard uncertainty, relative
}

// VentedBox is a driver in a vented box. Its tuning is found from the curve.
type VentedBox struct {
	Volume   float64 // net, m³; 0: not known, then it tells nothing absolute
	Accuracy float64 // its standard uncertainty, relative
}

// String says it in words.
func (FreeAir) String() string { return "free air" }

// String says it in words.
func (s AddedMass) String() string { return fmt.Sprintf("%.4g g added", s.Mass*1e3) }

// String says it in words.
func (s ClosedBox) String() string { return fmt.Sprintf("closed box of %.4g L", s.Volume*1e3) }

// String says it in words.
func (s VentedBox) String() string {
	if s.Volume == 0 {
		return "vented box"
	}
	return fmt.Sprintf("vented box of %.4g L", s.Volume*1e3)
}

func (FreeAir) check() error { return nil }

func (s AddedMass) check() error {
	if err := positive("added mass", "kg", s.Mass); err != nil {
		return err
	}
	if s.Mass > 1 {
		return fmt.Errorf("identify: added mass is %g kg, want at most 1 kg: is it in grams?", s.Mass)
	}
	return share("accuracy of the added mass", s.Accuracy)
}

func (s ClosedBox) check() error {
	if err := volume(s.Volume); err != nil {
		return err
	}
	return share("accuracy of the volume", s.Accuracy)
}

func (s VentedBox) check() error {
	if s.Volume != 0 {
		if err := volume(s.Volume); err != nil {
			return err
		}
	}
	return share("accuracy of the volume", s.Accuracy)
}

func volume(v float64) error {
	if err := positive("volume of the box", "m³", v); err != nil {
		return err
	}
	if v > 2 {
		return fmt.Errorf("identify: volume of the box is %g m³, want at most 2 m³: is it in litres?", v)
	}
	return nil
}

func positive(name, unit string, v float64) error {
	if !(v > 0) || math.IsInf(v, 0) {
		return fmt.Errorf("identify: %s is %g %s, want a finite value > 0", name, v, unit)
	}
	return nil
}

// share checks a relative uncertainty.
func share(name string, v float64) error {
	if !(v >= 0 && v < 0.5) {
		return fmt.Errorf("identify: %s is %g, want a ratio from 0 to below 0.5: 0.003 is 0.3 %%", name, v)
	}
	return nil
}

func (m Measurement) check() error {
	if m.Impedance.Grid() == nil || m.Setup == nil {
		return fmt.Errorf("identify: measurement has no impedance or no setup, want both")
	}
	if err := m.Setup.check(); err != nil {
		return err
	}
	if q := m.Impedance.Basis().Quantity; q != freq.Impedance {
		return fmt.Errorf("identify: %q is a curve of %v, want %v", m.Impedance.Label(), q, freq.Impedance)
	}
	if m.Kelvin != 0 && !(m.Kelvin > 200 && m.Kelvin < 600) {
		return fmt.Errorf("identify: temperature of the coil is %g K, want 200 to 600 K: is it in °C?", m.Kelvin)
	}
	if !(m.KelvinError >= 0) || math.IsInf(m.KelvinError, 0) {
		return fmt.Errorf("identify: uncertainty of the temperature is %g K, want a finite value ≥ 0", m.KelvinError)
	}
	if err := share("uncertainty from run-in", m.RunIn); err != nil {
		return err
	}
	return Plausible(m.Impedance)
}

// Wire is what a voice coil is wound of.
type Wire int

// The wires.
const (
	Copper     Wire = iota
	Aluminium       // EC grade, hard drawn
	CopperClad      // aluminium with a skin of copper, 15 % of the section
)

// String names the wire.
func (w Wire) String() string {
	switch w {
	case Copper:
		return "copper"
	case Aluminium:
		return "aluminium"
	case CopperClad:
		return "copper-clad aluminium"
	}
	return fmt.Sprintf("Wire(%d)", int(w))
}

// Coefficient returns the temperature coefficient of the resistance at 20 °C,
// 1/K: 0.00393 for annealed copper (IEC 60028), 0.00403 for hard-drawn aluminium
// (IEC 60889), 0.00400 for copper-clad aluminium, which lies between. All are from
// memory. The resistance is R = R₂₀·(1 + α·(T − 20 °C)).
func (w Wire) Coefficient() (float64, error) {
	switch w {
	case Copper:
		return 0.00393, nil
	case Aluminium:
		return 0.00403, nil
	case CopperClad:
		return 0.00400, nil
	}
	return 0, fmt.Errorf("identify: wire %d is not known, want Copper, Aluminium or CopperClad", int(w))
}

// Settings of a fit. Nil means the zero value: all models, and no absolute area.
type Settings struct {
	// Sd is the effective area, m², and SdAccuracy its standard uncertainty,
	// relative. Boxes need it; for a mass it only goes into the driver.
	Sd, SdAccuracy float64
	// Re is the resistance at direct current, Ω, and ReError its standard
	// uncertainty, Ω: one more observation of the first curve. 0: not measured.
	Re, ReError float64
	Wire        Wire
	Air         air.Medium // of the boxes
	// Coils are the models to choose from: the kind counts, not the values.
	// Nil: all of package driver.
	Coils []driver.TunableCoil
	// Suspensions are those to choose from. Nil: both.
	Suspensions []Suspension
	// Sheet is what a maker says of the driver. It goes into no value; a result that is
	// further from it than samples are is warned of. Zero: there is none.
	Sheet driver.Sheet
	// From and To are the band that is fitted, Hz; 0: the whole curve.
	From, To float64
}
