package figure

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
)

// Impedance draws the magnitude of impedances in ohm and, in a panel of its own
// below, their phase in degrees. The Y, Bottom, Top, Limits and Masks of the
// options are those of the magnitude.
func Impedance(o Options, responses ...freq.Response) *Figure {
	magnitude := Panel{Y: o.Y, Bottom: o.Bottom, Top: o.Top, Limits: o.Limits, Masks: o.Masks}
	if magnitude.Y == "" {
		magnitude.Y = "Impedance, magnitude"
	}
	phase := Panel{Y: "Impedance, phase"}
	for _, r := range responses {
		if r.Basis().Quantity != freq.Impedance {
			return failed(fmt.Errorf("figure: response %q is a %v, want an impedance", r.Label(), r.Basis().Quantity))
		}
		magnitude.Curves = append(magnitude.Curves, r.Magnitude())
		phase.Curves = append(phase.Curves, r.Phase())
	}
	o.Y, o.Bottom, o.Top, o.Limits, o.Masks = "", 0, 0, nil, nil
	return Stack(o, magnitude, phase)
}
