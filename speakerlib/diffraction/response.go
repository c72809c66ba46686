package diffraction

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
)

// Step returns the solution for a receiver as a response: the dimensionless step from
// half space at the receiver's distance from the reference point to full space there.
func (p *Plan) Step(h []complex128, receiver int, label string) (freq.Response, error) {
	n := p.setup.Grid.Len()
	if len(h) != p.Len() || receiver < 0 || receiver >= len(p.setup.Receivers) {
		return freq.Response{}, fmt.Errorf("diffraction: receiver %d of a solution of %d values, want 0 … %d and %d", receiver, len(h), len(p.setup.Receivers)-1, p.Len())
	}
	return freq.NewResponse(p.setup.Grid, h[receiver*n:(receiver+1)*n], label, freq.Basis{Quantity: freq.Dimensionless, Space: freq.FullSpace})
}

// FullSpace takes a sound pressure in half space to full space by a step, at the same
// distance. It refuses a response that is no pressure in half space: a step on a
// measurement in full space would count the cabinet twice.
func FullSpace(half, step freq.Response) (freq.Response, error) {
	b := half.Basis()
	if b.Quantity != freq.Pressure || b.Space != freq.HalfSpace {
		return freq.Response{}, fmt.Errorf("diffraction: %q is %v, want a sound pressure in half space", half.Label(), b)
	}
	if s := step.Basis(); s.Quantity != freq.Dimensionless || s.Space != freq.FullSpace {
		return freq.Response{}, fmt.Errorf("diffraction: the step %q is %v, want a dimensionless one into full space", step.Label(), s)
	}
	r, err := half.Mul(step)
	if err != nil {
		return freq.Response{}, err
	}
	b.Space = freq.FullSpace
	return r.Stated(b), nil
}
