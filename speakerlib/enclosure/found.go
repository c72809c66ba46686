package enclosure

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/air"
)

// EndFor returns the vent with the inner end correction with which it tunes a net
// volume to a frequency that was measured,
//
//	e₁ = c²·S/(ωb²·Vb·a) − L/a − e₂
//
// with all that a drawing does not say of the mass of its air: a wall close by, a flare, a
// bend. As a multiple of the radius it carries over to a vent of another length or nearly
// the same bore in the same place. It is an error if no end correction from 0 to 2 radii
// does it: then length, bore, volume or frequency is not that of the vent.
func (v Vent) EndFor(fb, vb float64, m air.Medium) (Vent, error) {
	if err := v.Validate(); err != nil {
		return Vent{}, err
	}
	bare := v
	bare.Inner, bare.Outer = 0, 0
	whole, err := bare.LengthFor(fb, vb, m)
	if err != nil {
		return Vent{}, err
	}
	e := (whole.Length-v.Length)/(v.Diameter/2) - float64(v.Outer)
	if !(e >= 0 && e <= 2) {
		return Vent{}, fmt.Errorf("enclosure: a vent of %g m bore and %g m length tunes %g m³ to %g Hz with an inner end correction of %.3g radii, want 0 to 2: is length, bore, volume or tuning another one?", v.Diameter, v.Length, vb, fb, e)
	}
	v.Inner = End(e)
	return v, nil
}
