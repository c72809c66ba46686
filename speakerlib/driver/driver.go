// Package driver describes an electrodynamic driver by lumped parameters.
//
// [Params] are the parameters themselves, in SI units, with everything that
// follows from them as methods. [Sheet] is what a maker's data sheet says, which
// is less or more than needed: [Sheet.Params] derives the parameters and checks
// what the sheet says twice. [Read] reads a sheet from a text file. [LargeSignal] is
// what changes with displacement and current, and how far that lets the cone move;
// [ReadLargeSignal] reads it. Coils and suspensions that a fit may vary are
// [TunableCoil] and [TunableSuspension].
//
// The model is the small-signal one of A. N. Thiele, "Loudspeakers in Vented
// Boxes", Proc. IRE Australia 22 (1961), and R. H. Small, "Direct-Radiator
// Loudspeaker System Analysis", J. Audio Eng. Soc. 20 (1972): a piston whose mass,
// compliance and losses do not change with frequency or level, unless a
// [Suspension] says how the compliance does. No parameter knows heat. Formulas are
// from those papers, stated from memory.
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

// Validate reports a limit that is negative or not finite, and a linear limit
// beyond that of damage.
func (l Limits) Validate() error {
	if err := notNegative("the linear excursion limit", "m", l.Linear); err != nil {
		return err
	}
	if err := notNegative("the damage excursion limit", "m", l.Damage); err != nil {
		return err
	}
	if l.Damage > 0 && l.Linear > l.Damage {
		return fmt.Errorf("driver: the linear excursion limit is %g m, want at most that of damage, %g m", l.Linear, l.Damage)
	}
	return nil
}

// Params are the lumped small-signal parameters of a driver, in SI units. What
// follows from them is a method. Those that are one number, Fs to SPL2V83, take
// Cms and Rms as they stand; with a Suspension, ask them of [Params.At].
type Params struct {
	Re  float64 // resistance of the voice coil at direct current, Ω
	Bl  float64 // force factor, N/A
	Mms float64 // moving mass with the air load, kg
	Cms float64 // compliance of the suspension, m/N
	Rms float64 // mechanical loss resistance, kg/s
	Sd  float64 // effective area of the cone, m²

	Coil       Coil       // blocked impedance beyond Re; nil is NoCoil
	Suspension Suspension // how the compliance changes with frequency; nil is not at all
	Limits     Limits
}

// Validate reports a parameter that is not positive and finite.
func (p Params) Validate() error {
	for _, v := range []struct {
		name, unit string
		value      float64
	}{
		{"Re", "ohm", p.Re}, {"Bl", "N/A", p.Bl}, {"Mms", "kg", p.Mms}, {"Cms", "m/N", p.Cms}, {"Rms", "kg/s", p.Rms}, {"Sd", "m²", p.Sd},
	} {
		if err := positive(v.name, v.unit, v.value); err != nil {
			return err
		}
	}
	if err := p.Limits.Validate(); err != nil {
		return err
	}
	for _, part := range []any{p.Coil, p.Suspension} {
		if v, ok := part.(interface{ Validate() error }); ok {
			if err := v.Validate(); err != nil {
				return err
			}
		}
	}
	return nil
}

// Fs returns the free-air resonance 1/(2π√(Mms·Cms)), Hz.
func (p Params) Fs() float64 { return 1 / (2 * math.Pi * math.Sqrt(p.Mms*p.Cms)) }

// Qms returns the mechanical quality factor at Fs, √(Mms/Cms)/Rms.
func (p Params) Qms() float64 { return math.Sqrt(p.Mms/p.Cms) / p.Rms }

// Qes returns the electrical quality factor at Fs, √(Mms/Cms)·Re/Bl².
func (p Params) Qes() float64 { return math.Sqrt(p.Mms/p.Cms) * p.Re / (p.Bl * p.Bl) }

// Qts returns the total quality factor at Fs of a driver on a source without
// resistance, Qms·Qes/(Qms+Qes).
func (p Params) Qts() float64 { return p.Qms() * p.Qes() / (p.Qms() + p.Qes()) }

// Vas returns the volume of air with the compliance of the suspension,
// ρc²·Sd²·Cms, m³.
func (p Params) Vas(m air.Medium) float64 { return m.Stiffness() * p.Sd * p.Sd * p.Cms }

// Eta0 returns the reference efficiency, a plain ratio: the acoustic power that
// the driver radiates into half space where its mass controls it, over the
// electrical power that its source would put into Re,
//
//	η₀ = (4π²/c³)·Fs³·Vas/Qes = (ρ/2πc)·Bl²·Sd²/(Re·Mms²)
//
// (Small 1972, the equation of the reference efficiency, for half space).
func (p Params) Eta0(m air.Medium) float64 {
	fs, c := p.Fs(), m.SpeedOfSound
	return 4 * math.Pi * math.Pi / (c * c * c) * fs * fs * fs * p.Vas(m) / p.Qes()
}

// SPL1W returns the sound pressure level in dB re 20 µPa at 1 m in half space for
// 1 W, where 1 W is that of the source's voltage across Re: V = √Re. It is that
// of η₀, p² = η₀·ρc/(2π), so that 100 % is near 112.1 dB.
func (p Params) SPL1W(m air.Medium) float64 { return splOf(p.Eta0(m), m) }

// Radius returns that of a round piston of the same area, √(Sd/π), in metres.
func (p Params) Radius() float64 { return math.Sqrt(p.Sd / math.Pi) }

// SPL2V83 returns the sound pressure level in dB re 20 µPa at 1 m in half space
// for 2.83 V, taken as exactly √8 V: 1 W across 8 Ω.
func (p Params) SPL2V83(m air.Medium) float64 { return p.SPL1W(m) + level.PowerDB(8/p.Re) }

// splOf returns the level of a reference efficiency.
func splOf(eta0 float64, m air.Medium) float64 {
	return level.SPL(math.Sqrt(eta0 * m.Impedance() / (2 * math.Pi)))
}

// etaOf is the inverse of splOf.
func etaOf(spl float64, m air.Medium) float64 {
	p := level.Pascal(spl)
	return p * p * 2 * math.Pi / m.Impedance()
}

// ImpedanceTo writes the electrical impedance in free air, in ohm, into dst (nil
// allocates, another length panics) and returns it:
//
//	Z = Re + Zcoil + Bl²/(Rms + jω·Mms + 1/(jω·C))
//
// with C = Cms, or what the suspension makes of it. The air load is that in Mms: it
// does not change with frequency. At Fs, without coil and with a constant
// suspension, it is Re·(1 + Qms/Qes). It does not allocate if dst is given and coil
// and suspension are of this package. Call Validate first: a zero parameter gives
// NaN or Inf.
func (p Params) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	if p.Coil == nil {
		dst = NoCoil{}.ImpedanceTo(dst, g)
	} else {
		dst = p.Coil.ImpedanceTo(dst, g)
	}
	b2 := p.Bl * p.Bl
	if p.Suspension != nil {
		for i, w := range g.Omega() {
			zm := complex(p.Rms, w*p.Mms) + 1/(complex(0, w*p.Cms)*p.Suspension.Relative(g.At(i)))
			dst[i] += complex(p.Re, 0) + complex(b2, 0)/zm
		}
		return dst
	}
	for i, w := range g.Omega() {
		x := w*p.Mms - 1/(w*p.Cms)
		q := b2 / (p.Rms*p.Rms + x*x)
		dst[i] += complex(p.Re+p.Rms*q, -x*q)
	}
	return dst
}
