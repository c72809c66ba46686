// Package air gives the density and the speed of sound of air.
//
// Nothing in the library has an air of its own: whatever needs one takes a
// [Medium], so that a study, a rig and a published example can each state theirs.
package air

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/si"
)

// Medium is the air that sound travels in.
type Medium struct {
	Density      float64 // ρ, kg/m³
	SpeedOfSound float64 // c, m/s
}

// Validate reports a density or speed of sound that is not positive and finite.
func (m Medium) Validate() error {
	if !(m.Density > 0) || math.IsInf(m.Density, 0) {
		return fmt.Errorf("air: density is %g kg/m³, want a finite value > 0", m.Density)
	}
	if !(m.SpeedOfSound > 0) || math.IsInf(m.SpeedOfSound, 0) {
		return fmt.Errorf("air: speed of sound is %g m/s, want a finite value > 0", m.SpeedOfSound)
	}
	return nil
}

// Stiffness returns ρc², in Pa: the stiffness per relative volume of a small
// volume of air that has no time to exchange heat. A volume V has the acoustic
// compliance V/ρc².
func (m Medium) Stiffness() float64 { return m.Density * m.SpeedOfSound * m.SpeedOfSound }

// Impedance returns the characteristic impedance ρc, in Pa·s/m.
func (m Medium) Impedance() float64 { return m.Density * m.SpeedOfSound }

// Wavelength returns c/f, in metres.
func (m Medium) Wavelength(hz float64) float64 { return m.SpeedOfSound / hz }

// Conditions are what a barometer, a thermometer and a hygrometer show.
type Conditions struct {
	Kelvin   float64 // temperature, K (20 °C is si.ZeroCelsius + 20)
	Pressure float64 // static pressure, Pa
	Humidity float64 // relative humidity, 0 … 1
}

// Room returns the air of 20 °C, 101 325 Pa and 50 % relative humidity:
// about 1.199 kg/m³ and 343.9 m/s.
func Room() Medium {
	m, err := At(Conditions{Kelvin: si.ZeroCelsius + 20, Pressure: 101325, Humidity: 0.5})
	if err != nil {
		panic("air: the conditions of Room are not valid")
	}
	return m
}

// Molar masses in kg/mol and ratios of specific heats. Dry air: 28.9647 g/mol
// (U.S. Standard Atmosphere, 1976: 28.9644); water: 18.0153 g/mol; γ of dry air
// 7/5 and of water vapour 4/3, the rigid-molecule values.
const (
	gasConstant = 8.31446261815324 // J/(mol·K), exact since 2019
	molarAir    = 28.9647e-3
	molarWater  = 18.0153e-3
	cpAir       = 3.5 // in units of the gas constant: γ/(γ−1) with γ = 7/5
	cpWater     = 4.0 // γ = 4/3
)

// At returns the air of the conditions as a mixture of two ideal gases, dry air
// and water vapour:
//
//	x = h·pw/p,  M = (1−x)·Ma + x·Mw,  γ = cp/(cp−1) with cp = (1−x)·7/2 + x·4
//	ρ = p·M/(R·T),  c = √(γ·R·T/M)
//
// pw is the saturation pressure of water by the Magnus form, 611.2 Pa ·
// exp(17.62·θ/(243.12+θ)) with θ in °C (World Meteorological Organization,
// Guide to Instruments and Methods of Observation, WMO-No. 8, annex 4.B,
// without the enhancement factor of about 0.4 %).
//
// Valid from −45 to 60 °C, where the Magnus form is; within about 0.1 % of the
// density and the speed of sound of real air near sea level. The carbon dioxide
// content is that of the dry molar mass.
func At(c Conditions) (Medium, error) {
	theta := c.Kelvin - si.ZeroCelsius
	if !(theta >= -45 && theta <= 60) {
		return Medium{}, fmt.Errorf("air: temperature is %g K (%.4g °C), want -45 to 60 °C", c.Kelvin, theta)
	}
	if !(c.Pressure >= 30e3 && c.Pressure <= 120e3) {
		return Medium{}, fmt.Errorf("air: static pressure is %g Pa, want 30 to 120 kPa", c.Pressure)
	}
	if !(c.Humidity >= 0 && c.Humidity <= 1) {
		return Medium{}, fmt.Errorf("air: relative humidity is %g, want 0 to 1", c.Humidity)
	}
	saturation := 611.2 * math.Exp(17.62*theta/(243.12+theta))
	x := c.Humidity * saturation / c.Pressure
	molar := (1-x)*molarAir + x*molarWater
	cp := (1-x)*cpAir + x*cpWater
	gamma := cp / (cp - 1)
	rt := gasConstant * c.Kelvin
	return Medium{Density: c.Pressure * molar / rt, SpeedOfSound: math.Sqrt(gamma * rt / molar)}, nil
}
