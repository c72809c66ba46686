package report

import (
	"math"
	"testing"
)

// Factors after the SI Brochure, 9th edition: prefixes (table 7), litre and
// degree (table 8).
func TestUnitsShowSIValues(t *testing.T) {
	for _, c := range []struct {
		unit  Unit
		value float64
		want  float64
		si    string
	}{
		{"mm", 0.006, 6, "m"},
		{"mm peak", 0.006, 6, "m peak"},
		{"m/s peak", 20, 20, "m/s peak"},
		{"ms", 0.028, 28, "s"},
		{"µs", 18.7e-6, 18.7, "s"},
		{"μs", 18.7e-6, 18.7, "s"}, // Greek mu, as many keyboards have it
		{"cm²", 138e-4, 138, "m²"},
		{"L", 15.2e-3, 15.2, "m³"},
		{"cm³", 1e-6, 1, "m³"},
		{"g", 15.2e-3, 15.2, "kg"},
		{"kg", 2, 2, "kg"},
		{"mg", 340e-6, 340, "kg"},
		{"mH", 0.42e-3, 0.42, "H"},
		{"kHz", 2300, 2.3, "Hz"},
		{"mm/N", 1e-3, 1, "m/N"},
		{"T·m", 7, 7, "T·m"},
		{"N·s/m", 2, 2, "N·s/m"},
		{"L/s", 2e-3, 2, "m³/s"},
		{"m/ms", 1000, 1, "m/s"},
		{"%", 0.05, 5, "1"},
		{"°", math.Pi / 2, 90, "rad"},
		{"dB", -3, -3, "dB"},
		{"dB(A)", 0, 0, "dB(A)"},
		{"dB/octave", 24, 24, "dB/octave"},
		{"", 0.39, 0.39, ""},
		{"[pieces]", 2, 2, "[pieces]"},
	} {
		got, err := c.unit.Show(c.value)
		if err != nil {
			t.Errorf("%q: %v", c.unit, err)
			continue
		}
		if math.Abs(got-c.want) > 2e-16*math.Abs(c.want) {
			t.Errorf("%g shown in %q is %.17g, want %.17g", c.value, c.unit, got, c.want)
		}
		if si, _ := c.unit.SI(); si != c.si {
			t.Errorf("%q: SI unit %q, want %q", c.unit, si, c.si)
		}
	}
}

func TestUnitsRefuseWhatTheyDoNotKnow(t *testing.T) {
	for _, u := range []Unit{"mms", "pieces", "m/s max", "xm", "/", "m/", "·", "[", "[]", "°C", "cL²", "m²²", " ", "k1"} {
		if v, err := u.Show(1); err == nil {
			t.Errorf("%q: shown as %g, want an error", u, v)
		}
	}
}
