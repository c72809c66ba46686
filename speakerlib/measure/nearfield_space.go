package measure

import (
	"fmt"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
)

// smallCabinet is the frequency below which any cabinet is small against the
// wavelength (6.9 m), so that the step from half to full space is a half there.
const smallCabinet = 50.0

// ToFullSpace returns the sound pressure in full space of a response in half space,
// multiplied by the step between them: what the cabinet's front radiates in a free
// field over what it radiates in an infinite wall, at the same distance and
// direction. The step is for the caller to choose, from a computation of diffraction,
// from a comparison with a measurement or as a [SphereStep]; it is dimensionless, goes
// to 1/2 at low frequencies (twice the solid angle) and is not a constant.
//
// The source must be one for which the step holds: of cone and vent together only
// where both are one source against the wavelength, or sit in the same place. It
// refuses a response that is not a pressure in half space, a step that is not known
// on its grid, and one that at 50 Hz or below is not within 0.4 … 0.7: that is no
// step from half to full space, but perhaps its inverse.
func ToFullSpace(half freq.Response, step freq.Transfer) (freq.Response, error) {
	b := half.Basis()
	if b.Quantity != freq.Pressure || b.Space != freq.HalfSpace {
		return freq.Response{}, fmt.Errorf("measure: %q is %v, want a sound pressure in half space", half.Label(), b)
	}
	g := half.Grid()
	if r, ok := step.(freq.Response); ok && r.Basis().Quantity != freq.Dimensionless {
		return freq.Response{}, fmt.Errorf("measure: the step to full space of %q is %q (%v), want a ratio", half.Label(), r.Label(), r.Basis())
	}
	if err := freq.CheckGrid(step, g); err != nil {
		return freq.Response{}, fmt.Errorf("measure: the step to full space of %q: %w", half.Label(), err)
	}
	v := step.ResponseTo(nil, g)
	if low := cmplx.Abs(v[0]); g.First() <= smallCabinet && !(low >= 0.4 && low <= 0.7) {
		return freq.Response{}, fmt.Errorf("measure: the step to full space of %q is %.3g at %g Hz, want near 0.5: is it the step back, or in dB?", half.Label(), low, g.First())
	}
	for i := range v {
		v[i] *= half.At(i)
	}
	b.Space = freq.FullSpace
	return freq.NewResponse(g, v, half.Label(), b)
}
