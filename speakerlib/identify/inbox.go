package identify

import (
	"fmt"

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
