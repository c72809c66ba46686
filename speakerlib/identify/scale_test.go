package identify

import (
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
)

// Each limit by itself, with what it says and which way the mass is off. A piston of 138
// cm² (a = 66.3 mm) moves 8/3·1.2·a³ = 0.93 g of air in the open.
func TestScaleFaults(t *testing.T) {
	room := air.Medium{Density: 1.2, SpeedOfSound: 343}
	for _, c := range []struct {
		re, mms, bl, cms, sd float64
		air                  air.Medium
		had                  string // "": no fault
		light, impossible    bool
	}{
		{5.5, 15.2e-3, 7.48, 0.97e-3, 138e-4, room, "", false, false},
		{5.5, 15.2e-3, 7.48, 0.97e-3, 0, air.Medium{}, "", false, false},
		{5.5, 0.92e-3, 1.84, 16e-3, 138e-4, room, "weighs 0.932 g", true, true},
		{5.5, 0.94e-3, 0.5, 16e-3, 138e-4, room, "", false, false},
		{5.5, 0.94e-3, 7.48, 16e-3, 138e-4, room, "the reference efficiency is 122 %", true, true},
		// (ρ/2πc)·Bl²·Sd²/(Re·Mms²) = 5.568e-4·56·1.904e-4/(5.5·4e-6) = 0.27
		{5.5, 2e-3, 7.48, 7e-3, 138e-4, room, "the reference efficiency is 27 %", true, false},
		{5.5, 0.2e-3, 7.48, 7e-3, 138e-4, air.Medium{}, "Mms/Sd is 0.0145", true, false},
		{5.5, 0.5, 43, 0.03e-3, 138e-4, room, "Mms/Sd is 36.2", false, false},
		{5.5, 9e-6, 0.2, 10e-3, 0, air.Medium{}, "Mms is 0.009 g", true, false},
		{5.5, 2.5, 90, 6e-6, 0, air.Medium{}, "Mms is 2.5e+03 g", false, false},
		{5.5, 1e-3, 1, 60e-3, 0, air.Medium{}, "Cms is 60 mm/N", true, false},
		{5.5, 1, 90, 1e-6, 0, air.Medium{}, "Cms is 0.001 mm/N", false, false},
		{5.5, 15.2e-3, 0.09, 0.97e-3, 0, air.Medium{}, "Bl is 0.09 N/A", true, false},
		{5.5, 15.2e-3, 120, 0.97e-3, 0, air.Medium{}, "Bl is 120 N/A", false, false},
	} {
		r := &Result{Parameters: []Parameter{{Symbol: Re, Value: c.re}, {Symbol: Mms, Value: c.mms}, {Symbol: Bl, Value: c.bl}, {Symbol: Cms, Value: c.cms}}}
		f, bad := r.scale(&Settings{Sd: c.sd, Air: c.air})
		if bad != (c.had != "") || !strings.Contains(f.had, c.had) || f.light != c.light || f.impossible != c.impossible {
			t.Errorf("%+v: %v %+v", c, bad, f)
		}
	}
	for _, c := range []struct {
		light bool
		setup Setup
		want  []string
	}{
		{true, AddedMass{Mass: 1e-5}, []string{"0.01 g stated too small", "138 cm² too large"}},
		{false, AddedMass{Mass: 1}, []string{"1e+03 g stated too large", "138 cm² too small"}},
		// Mms ∝ Sd²/Vb.
		{true, ClosedBox{Volume: 1.5}, []string{"1500 L stated too large", "138 cm² too small"}},
		{false, VentedBox{Volume: 15e-6}, []string{"0.015 L stated too small", "138 cm² too large"}},
	} {
		text := scaleFault{light: c.light}.cause(c.setup, 138e-4)
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%v, light %v: says %q, want %q", c.setup, c.light, text, want)
			}
		}
	}
}
