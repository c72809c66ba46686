package driver

import (
	"fmt"
	"math"
	"strings"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/quantity"
)

// Sheet is what a data sheet says of a driver, in SI units. Zero means that it
// does not say it: none of these can be zero. A sheet may say less than a driver
// needs, and it may say things twice: [Sheet.Params] tells.
type Sheet struct {
	Re  float64 // resistance of the voice coil at direct current, Ω
	Fs  float64 // resonance in free air, Hz
	Qms float64 // mechanical quality factor at Fs
	Qes float64 // electrical quality factor at Fs
	Qts float64 // total quality factor at Fs
	Vas float64 // volume of air with the compliance of the suspension, m³
	Bl  float64 // force factor, N/A
	Mms float64 // moving mass with the air load, kg
	Cms float64 // compliance of the suspension, m/N
	Rms float64 // mechanical loss resistance, kg/s
	Sd  float64 // effective area of the cone, m²

	Eta0    float64 // reference efficiency into half space, a ratio
	SPL1W   float64 // level at 1 m in half space for 1 W into Re, dB re 20 µPa
	SPL2V83 float64 // level at 1 m in half space for √8 V, dB re 20 µPa

	Le float64 // inductance of the voice coil, H
	L2 float64 // inductance in series with Le, H
	R2 float64 // resistance across L2, Ω

	Linear float64 // linear excursion, m peak
	Damage float64 // excursion that hurts something, m peak
}

// entry is a line of a sheet. A value outside least … most in a file is no
// loudspeaker's: from a dome of a few millimetres to the largest cone it lies well
// inside (common practice, no source), so that most likely a unit is wrong.
type entry struct {
	key         string
	unit        quantity.Unit
	value       *float64
	least, most float64
}

// entries returns the lines of the sheet by their keys in a file. The first
// [lumped] are in the order in which [Sheet.Params] takes them.
func (s *Sheet) entries() [19]entry {
	return [...]entry{
		re:      {"Re", quantity.Ohm, &s.Re, 0.1, 1000},
		sd:      {"Sd", quantity.SquareMetre, &s.Sd, 1e-5, 1},
		fs:      {"Fs", quantity.Hertz, &s.Fs, 1, 2e4},
		qms:     {"Qms", quantity.One, &s.Qms, 0.05, 200},
		qes:     {"Qes", quantity.One, &s.Qes, 0.02, 20},
		mms:     {"Mms", quantity.Kilogram, &s.Mms, 1e-5, 5},
		vas:     {"Vas", quantity.CubicMetre, &s.Vas, 1e-7, 20},
		bl:      {"Bl", quantity.NewtonPerAmpere, &s.Bl, 0.05, 200},
		cms:     {"Cms", quantity.MetrePerNewton, &s.Cms, 1e-7, 0.1},
		rms:     {"Rms", quantity.KilogramPerSecond, &s.Rms, 1e-4, 1000},
		qts:     {"Qts", quantity.One, &s.Qts, 0.02, 20},
		eta0:    {"eta0", quantity.One, &s.Eta0, 1e-6, 100},
		spl1W:   {"SPL1W", quantity.Decibel, &s.SPL1W, 40, 140},
		spl2V83: {"SPL2V83", quantity.Decibel, &s.SPL2V83, 40, 140},
		lumped:  {"Le", quantity.Henry, &s.Le, 1e-7, 0.1},
		{"L2", quantity.Henry, &s.L2, 1e-7, 0.1},
		{"R2", quantity.Ohm, &s.R2, 1e-3, 1e4},
		{"linear", quantity.Metre, &s.Linear, 1e-5, 0.1},
		{"damage", quantity.Metre, &s.Damage, 1e-5, 0.1},
	}
}

// Validate reports a value that is negative or not finite, an efficiency of 1 or
// more, half a ladder of the coil, and a linear excursion beyond that of damage.
// It does not ask whether the sheet is complete or agrees with itself.
func (s Sheet) Validate() error {
	for _, e := range s.entries() {
		if !(*e.value >= 0) || math.IsInf(*e.value, 0) {
			return fmt.Errorf("driver: %s of the sheet is %s, want a finite value > 0, or 0 if it does not say", e.key, valueOf(*e.value, e.unit))
		}
	}
	if s.Eta0 >= 1 {
		return fmt.Errorf("driver: eta0 of the sheet is %g, want a ratio < 1 (1 %% is 0.01)", s.Eta0)
	}
	if (s.L2 > 0) != (s.R2 > 0) {
		had, want := "L2", "R2"
		if s.R2 > 0 {
			had, want = want, had
		}
		return fmt.Errorf("driver: the sheet has %s and no %s, want both or none", had, want)
	}
	return Limits{Linear: s.Linear, Damage: s.Damage}.Validate()
}

// Coil returns the coil of the sheet: [Ladder] if it has L2 and R2, else
// [Inductor] if it has Le, else [NoCoil].
func (s Sheet) Coil() Coil {
	switch {
	case s.L2 > 0:
		return Ladder{Le: s.Le, L2: s.L2, R2: s.R2}
	case s.Le > 0:
		return Inductor{Le: s.Le}
	}
	return NoCoil{}
}

// Sheet returns the full sheet of a driver in some air, with everything said
// several times. A sheet knows [Inductor] and [Ladder]; any other coil is left
// out. Of a suspension that changes with frequency it has what [Params.At] has at
// Fs, or, where that is nothing, what Cms and Rms say.
func (p Params) Sheet(m air.Medium) Sheet {
	if q, err := p.At(p.Fs()); err == nil {
		p = q
	}
	s := Sheet{
		Re: p.Re, Fs: p.Fs(), Qms: p.Qms(), Qes: p.Qes(), Qts: p.Qts(), Vas: p.Vas(m),
		Bl: p.Bl, Mms: p.Mms, Cms: p.Cms, Rms: p.Rms, Sd: p.Sd,
		Eta0: p.Eta0(m), SPL1W: p.SPL1W(m), SPL2V83: p.SPL2V83(m),
		Linear: p.Limits.Linear, Damage: p.Limits.Damage,
	}
	switch c := p.Coil.(type) {
	case Inductor:
		s.Le = c.Le
	case Ladder:
		s.Le, s.L2, s.R2 = c.Le, c.L2, c.R2
	}
	return s
}

// Discrepancy is what a sheet says of one value, and what follows for it from
// others that it says.
type Discrepancy struct {
	Key     string   // as in a file: Fs, Vas, SPL1W …
	Unit    string   // SI, or dB
	Sheet   float64  // what the sheet says
	Follows float64  // what follows
	From    []string // the keys of what it follows from
	// Relative is Sheet/Follows − 1; for a level, that of the sound pressure.
	Relative float64
}

// String says it in a sentence.
func (d Discrepancy) String() string {
	unit := d.Unit
	if unit != "" {
		unit = " " + unit
	}
	return fmt.Sprintf("%s is %.4g%s, and %.4g%s follows from %s (%+.2g %%)",
		d.Key, d.Sheet, unit, d.Follows, unit, strings.Join(d.From, ", "), 100*d.Relative)
}

// valueOf returns a value with its unit, a plain number without.
func valueOf(v float64, u quantity.Unit) string {
	return fmt.Sprintf("%g%s", v, space(symbol(u)))
}

// symbol returns the symbol of a unit, nothing for a plain number.
func symbol(u quantity.Unit) string {
	if u == quantity.One {
		return ""
	}
	return u.String()
}
