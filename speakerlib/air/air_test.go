package air_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/si"
)

// Dry air at 101 325 Pa as an ideal gas, γ = 1.4, M = 28.9647 g/mol: computed
// apart from the library with R = 8.314462618 J/(mol·K).
func TestDryAir(t *testing.T) {
	for _, c := range []struct{ celsius, speed, density float64 }{
		{0, 331.31965, 1.292261},
		{10, 337.32993, 1.246622},
		{15, 340.29526, 1.224991},
		{20, 343.23498, 1.204097},
	} {
		m, err := air.At(air.Conditions{Kelvin: si.ZeroCelsius + c.celsius, Pressure: 101325})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(m.SpeedOfSound-c.speed) > 1e-4 {
			t.Errorf("%g °C: c = %.6f m/s, want %.5f", c.celsius, m.SpeedOfSound, c.speed)
		}
		if math.Abs(m.Density-c.density) > 1e-6*1.2 {
			t.Errorf("%g °C: ρ = %.7f kg/m³, want %.6f", c.celsius, m.Density, c.density)
		}
	}
}

// ICAO standard atmosphere at sea level (ICAO Doc 7488): 15 °C, 1.225 kg/m³,
// 340.294 m/s.
func TestStandardAtmosphere(t *testing.T) {
	m, err := air.At(air.Conditions{Kelvin: 288.15, Pressure: 101325})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(m.Density-1.225) > 5e-5 || math.Abs(m.SpeedOfSound-340.294) > 5e-3 {
		t.Errorf("got %.6f kg/m³ and %.4f m/s, want 1.225 and 340.294", m.Density, m.SpeedOfSound)
	}
}

// Saturation pressure of water at 20 °C is 2339 Pa (IAPWS-IF97, steam tables);
// the density of a mixture of ideal gases is then (p−e)/(Rd·T) + e/(Rv·T) with
// Rd = 287.05 and Rv = 461.5 J/(kg·K) (handbook values, from memory).
func TestMoistAirAgainstSteamTable(t *testing.T) {
	const e, T, p = 0.5 * 2339, 293.15, 101325.0
	want := (p-e)/(287.05*T) + e/(461.5*T)
	m, err := air.At(air.Conditions{Kelvin: T, Pressure: p, Humidity: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(m.Density/want-1) > 1e-4 {
		t.Errorf("ρ = %.6f kg/m³, want %.6f", m.Density, want)
	}
	dry, _ := air.At(air.Conditions{Kelvin: T, Pressure: p})
	// Humidity raises the speed of sound at 20 °C and 50 % by about 0.6 m/s
	// (ISO 9613-1 and handbooks, from memory: 343.2 dry, 343.9 moist).
	if d := m.SpeedOfSound - dry.SpeedOfSound; d < 0.5 || d > 0.8 {
		t.Errorf("humidity changes c by %.3f m/s, want 0.5 to 0.8", d)
	}
}

func TestDerived(t *testing.T) {
	m := air.Medium{Density: 1.18, SpeedOfSound: 345}
	if got := m.Stiffness(); math.Abs(got-140449.5) > 1e-6 {
		t.Errorf("ρc² = %g, want 140449.5", got)
	}
	if got := m.Impedance(); math.Abs(got-407.1) > 1e-9 {
		t.Errorf("ρc = %g, want 407.1", got)
	}
	if got := m.Wavelength(345); got != 1 {
		t.Errorf("λ = %g, want 1", got)
	}
	if err := air.Room().Validate(); err != nil {
		t.Error(err)
	}
}

func TestBadConditions(t *testing.T) {
	good := air.Conditions{Kelvin: 293.15, Pressure: 101325, Humidity: 0.5}
	for name, c := range map[string]struct {
		change func(*air.Conditions)
		want   string
	}{
		"celsius given as kelvin": {func(c *air.Conditions) { c.Kelvin = 20 }, "temperature is 20 K"},
		"hectopascal":             {func(c *air.Conditions) { c.Pressure = 1013 }, "pressure is 1013 Pa"},
		"percent":                 {func(c *air.Conditions) { c.Humidity = 50 }, "humidity is 50"},
		"not a number":            {func(c *air.Conditions) { c.Kelvin = math.NaN() }, "temperature"},
	} {
		bad := good
		c.change(&bad)
		if _, err := air.At(bad); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	for _, m := range []air.Medium{{}, {Density: 1.2}, {Density: math.Inf(1), SpeedOfSound: 343}, {Density: 1.2, SpeedOfSound: math.NaN()}} {
		if m.Validate() == nil {
			t.Errorf("%+v was accepted", m)
		}
	}
}
