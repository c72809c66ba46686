package identify

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
)

// WithLoad returns a driver as it is in the box of this result: its moving mass is
// larger by the [Load] that the box and its baffle were found to add to that of free
// air. The driver may come from another result of the same sample, so that one that is
// known well from an added mass need not share the misfit of a box.
func (r *Result) WithLoad(p driver.Params) (driver.Params, error) {
	load, ok := r.Value(Load)
	if !ok {
		return p, fmt.Errorf("identify: the load of a box is not known, want a fit of a curve in free air and one in a box")
	}
	p.Mms *= 1 + load.Value
	return p, p.Validate()
}

// Felt returns the net volume that a driver feels in the box of this result, Vas/[Ratio]
// with the compliance at Fs. It is the volume with which a model of the box agrees with
// what was measured, whatever the area was taken for: a wrong Sd, a body of a driver that
// nobody counted and the warmth of a stuffing are all in it.
func (r *Result) Felt(p driver.Params, m air.Medium) (float64, error) {
	alpha, ok := r.Value(Ratio)
	if !ok {
		return 0, fmt.Errorf("identify: Vas/Vb is not known, want a fit of a curve in a box")
	}
	if err := m.Validate(); err != nil {
		return 0, err
	}
	at, err := p.At(p.Fs())
	if err != nil {
		return 0, err
	}
	return at.Vas(m) / alpha.Value, nil
}
