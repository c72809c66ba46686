package freq

import (
	"fmt"
	"math"
)

// Join puts two curves of one unit together: what low has below the frequency at,
// and what high has from it on. Points are taken as they are, on a grid of their
// own; nothing is interpolated and nothing is smoothed over. It is for
// differences that mean the same on both sides (how much is missing to a target)
// although the curves themselves do not (half space below, full space above): the
// caller answers for that.
func Join(low, high Curve, at float64) (Curve, error) {
	if low.unit != high.unit {
		return Curve{}, fmt.Errorf("freq: join of %q in %s and %q in %s: want the same unit", low.label, low.unit, high.label, high.unit)
	}
	if !(at > low.grid.First()) || !(at <= high.grid.Last()) || math.IsInf(at, 0) {
		return Curve{}, fmt.Errorf("freq: join of %q (%v) and %q (%v) at %g Hz, want a frequency inside", low.label, low.grid, high.label, high.grid, at)
	}
	var hz, v []float64
	for i, f := range low.grid.hz {
		if f < at {
			hz, v = append(hz, f), append(v, low.values[i])
		}
	}
	for i, f := range high.grid.hz {
		if f >= at {
			hz, v = append(hz, f), append(v, high.values[i])
		}
	}
	g, err := NewGrid(hz)
	if err != nil {
		return Curve{}, err
	}
	b := high.basis
	if b != low.basis {
		b = Basis{}
	}
	return NewCurve(g, v, high.label, high.unit, b)
}
