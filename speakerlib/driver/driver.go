// Package driver describes an electrodynamic driver by lumped parameters.
package driver

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Limits are how far the cone may move, in metres peak from rest. Zero means
// not known.
type Limits struct {
	Linear float64 // beyond it distortion rises fast
	Damage float64 // beyond it something is hurt
}

// Params are the lumped small-signal parameters of a driver, in SI units. What
// follows from them is a method.
type Params struct {
	Re  float64 // resistance of the voice coil at direct current, Ω
	Bl  float64 // force factor, N/A
	Mms float64 // moving mass with the air load, kg
	Cms float64 // compliance of the suspension, m/N
	Rms float64 // mechanical loss resistance, kg/s
	Sd  float64 // effective area of the cone, m²

	Coil   Coil // blocked impedance beyond Re; nil is NoCoil
	Limits Limits
}

// Validate reports a parameter that is not positive and finite.
func (p Params) Validate() error {
	for _, v := range []struct {
		name, unit string
		value      float64
	}{
		{"Re", "ohm", p.Re}, {"Bl", "N/A", p.Bl}, {"Mms", "kg", p.Mms}, {"Cms", "m/N", p.Cms}, {"Rms", "kg/s", p.Rms}, {"Sd", "m²", p.Sd},
	} {
		if !(v.value > 0) || math.IsInf(v.value, 0) {
			return fmt.Errorf("driver: %s is %g %s, want a finite value > 0", v.name, v.value, v.unit)
		}
	}
	for _, v := range []float64{p.Limits.Linear, p.Limits.Damage} {
		if !(v >= 0) || math.IsInf(v, 0) {
			return fmt.Errorf("driver: excursion limit is %g m, want a finite value ≥ 0", v)
		}
	}
	if v, ok := p.Coil.(interface{ Validate() error }); ok {
		return v.Validate()
	}
	return nil
}

// Fs returns the free-air resonance 1/(2π√(Mms·Cms)), Hz.
func (p Params) Fs() float64 { return 1 / (2 * math.Pi * math.Sqrt(p.Mms*p.Cms)) }

// Qms returns the mechanical quality factor at Fs, √(Mms/Cms)/Rms.
func (p Params) Qms() float64 { return math.Sqrt(p.Mms/p.Cms) / p.Rms }

// Qes returns the electrical quality factor at Fs, √(Mms/Cms)·Re/Bl².
func (p Params) Qes() float64 { return math.Sqrt(p.Mms/p.Cms) * p.Re / (p.Bl * p.Bl) }

// Qts returns Qms·Qes/(Qms+Qes).
func (p Params) Qts() float64 { return p.Qms() * p.Qes() / (p.Qms() + p.Qes()) }

// Vas returns the volume of air with the compliance of the suspension,
// ρc²·Sd²·Cms, m³.
func (p Params) Vas(m air.Medium) float64 { return m.Stiffness() * p.Sd * p.Sd * p.Cms }

// Eta0 returns the reference efficiency into half space.
func (p Params) Eta0(m air.Medium) float64 {
	fs := p.Fs()
	return 4 * math.Pi * math.Pi / math.Pow(m.SpeedOfSound, 3) * fs * fs * fs * p.Vas(m) / p.Qes()
}

// SPL1W returns the level at 1 m in half space for 1 W into Re, dB.
func (p Params) SPL1W(m air.Medium) float64 {
	return level.SPL(math.Sqrt(p.Eta0(m) * m.Impedance() / (2 * math.Pi)))
}

// SPL2V83 returns the level at 1 m in half space for 2.83 V, dB.
func (p Params) SPL2V83(m air.Medium) float64 { return p.SPL1W(m) + level.PowerDB(8/p.Re) }

// Coil is the blocked impedance of a voice coil beyond Re.
type Coil interface {
	ImpedanceTo(dst []complex128, g *freq.Grid) []complex128
}

// RationalCoil is a coil whose impedance is a ratio of polynomials in jω.
type RationalCoil interface {
	Coil
	Rational() (num, den freq.Poly)
}

// NoCoil has no impedance beyond Re.
type NoCoil struct{}

// Rational implements [RationalCoil].
func (NoCoil) Rational() (num, den freq.Poly) { return freq.Poly{}, freq.NewPoly(1) }

// ImpedanceTo implements [Coil].
func (NoCoil) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	clear(dst)
	return dst
}

// Inductor is a constant inductance.
type Inductor struct{ Le float64 }

// Rational implements [RationalCoil].
func (c Inductor) Rational() (num, den freq.Poly) { return freq.NewPoly(0, c.Le), freq.NewPoly(1) }

// ImpedanceTo implements [Coil].
func (c Inductor) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	return rationalTo(dst, c, g)
}

func rationalTo(dst []complex128, c RationalCoil, g *freq.Grid) []complex128 {
	num, den := c.Rational()
	return (&freq.PolyRatio{Num: num, Den: den}).ResponseTo(dst, g)
}
