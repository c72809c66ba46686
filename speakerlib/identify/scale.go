package identify

import (
	"fmt"
	"math"
)

// The ranges of absolute parameters beyond which something was typed in another unit.
// An impedance cannot tell it: a mass that is stated 1000 times too large makes Mms and
// Rms 1000 times, Bl √1000 times too large and Cms 1000 times too small, and fits as
// well. They are wide: from the diaphragms of headphones to the largest woofers. All
// are common practice, no source.
const (
	lightest, heaviest   = 10e-6, 2.0  // Mms, kg
	thinnest, thickest   = 0.02, 30.0  // Mms/Sd, kg/m²; a dome has 0.4, a long-throw woofer 6
	stiffest, softest    = 2e-6, 50e-3 // Cms, m/N
	weakest, strongest   = 0.1, 100.0  // Bl, N/A
	efficient, perpetual = 0.25, 1.0   // η₀; direct radiators have up to 0.06
	diskLoad             = 8.0 / 3     // of ρ·a³, both sides of a disk in the open
)

// A scaleFault is an absolute parameter that no driver has.
type scaleFault struct {
	had        string
	light      bool // the moving mass is too small, or the area too large; else the reverse
	impossible bool // by physics, not by custom
}

// scale looks for what is wrong with the absolute parameters of a driver. What is
// impossible comes first:
//
//   - Mms below the air that a disk of area Sd = πa² moves with it in the open,
//     8/3·ρ·a³ on both sides together (H. Lamb, Hydrodynamics, 6th ed., 1932, art. 102
//     and 108, from memory). A cone moves somewhat more.
//   - η₀ = (ρ/2πc)·Bl²·Sd²/(Re·Mms²) of 1 and more.
//
// Then what no driver is known to have. The first two need the air, and they and
// Mms/Sd the area.
func (r *Result) scale(set *Settings) (scaleFault, bool) {
	v := map[Symbol]float64{}
	for _, p := range r.Parameters {
		v[p.Symbol] = p.Value
	}
	mms, bl, cms := v[Mms], v[Bl], v[Cms]
	if mms == 0 {
		return scaleFault{}, false
	}
	var eta float64
	if set.Sd > 0 && set.Air.Validate() == nil {
		a := math.Sqrt(set.Sd / math.Pi)
		if load := diskLoad * set.Air.Density * a * a * a; mms < load {
			return scaleFault{fmt.Sprintf("Mms is %.3g g, and the air alone that moves with %.4g cm² weighs %.3g g", 1e3*mms, 1e4*set.Sd, 1e3*load), true, true}, true
		}
		eta = set.Air.Density / (2 * math.Pi * set.Air.SpeedOfSound) * bl * bl * set.Sd * set.Sd / (v[Re] * mms * mms)
		if eta >= perpetual {
			return scaleFault{fmt.Sprintf("the reference efficiency is %.3g %%", 100*eta), true, true}, true
		}
	}
	outside := func(what string, value, lo, hi, factor float64, unit string, small bool) (scaleFault, bool) {
		if value >= lo && value <= hi {
			return scaleFault{}, false
		}
		return scaleFault{fmt.Sprintf("%s is %.3g %s, and drivers have %.3g to %.3g", what, factor*value, unit, factor*lo, factor*hi), (value < lo) == small, false}, true
	}
	if set.Sd > 0 {
		if f, bad := outside("Mms/Sd", mms/set.Sd, thinnest, thickest, 1, "kg/m²", true); bad {
			return f, true
		}
	}
	if f, bad := outside("the reference efficiency", eta, 0, efficient, 100, "%", false); bad {
		return f, true
	}
	if f, bad := outside("Mms", mms, lightest, heaviest, 1e3, "g", true); bad {
		return f, true
	}
	if f, bad := outside("Cms", cms, stiffest, softest, 1e3, "mm/N", false); bad {
		return f, true
	}
	return outside("Bl", bl, weakest, strongest, 1, "N/A", true)
}

// cause says what of a setup may be stated wrongly.
func (f scaleFault) cause(s Setup, sd float64) string {
	small, large := "too small", "too large"
	if !f.light {
		small, large = large, small
	}
	if m, ok := s.(AddedMass); ok {
		if sd > 0 {
			return fmt.Sprintf("is the added mass of %.3g g stated %s (grams or milligrams?), or Sd of %.4g cm² %s?", 1e3*m.Mass, small, 1e4*sd, large)
		}
		return fmt.Sprintf("is the added mass of %.3g g stated %s (grams or milligrams?)", 1e3*m.Mass, small)
	}
	vb, _ := boxVolume(s)
	return fmt.Sprintf("is the volume of %.4g L stated %s (litres or m³?), or Sd of %.4g cm² %s?", 1e3*vb, large, 1e4*sd, small)
}
