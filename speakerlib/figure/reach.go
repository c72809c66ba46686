package figure

import (
	"fmt"
	"math"
)

// farthest is the largest magnitude that an axis shows: beyond it the steps of an
// axis are lost in rounding, and nobody reads such a figure.
const farthest = 1e18

// drawable reports limits of an axis that cannot be drawn.
func drawable(lo, hi float64) error {
	if !(math.Abs(lo) <= farthest) || !(math.Abs(hi) <= farthest) {
		return fmt.Errorf("figure: values from %g to %g, want magnitudes of at most %g", lo, hi, float64(farthest))
	}
	return nil
}

// reach is the range that the values of a plot cover.
type reach struct {
	log    bool
	lo, hi float64
}

func newReach(log bool) *reach { return &reach{log, math.Inf(1), math.Inf(-1)} }

// add takes a curve's values within from … to into account, and says its range
// in words; ok is false if none of them can be drawn.
func (r *reach) add(x, y []float64, from, to float64) (word string, ok bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, v := range y {
		if x[i] < from || x[i] > to || math.IsInf(v, 0) || r.log && v <= 0 {
			continue
		}
		lo, hi = min(lo, v), max(hi, v)
	}
	if lo > hi {
		return "", false
	}
	r.lo, r.hi = min(r.lo, lo), max(r.hi, hi)
	a, b := rough(lo, max(-lo, hi)), rough(hi, max(-lo, hi))
	if a == b {
		return a, true
	}
	return "from " + a + " to " + b, true
}

// rough prints v to three digits of the largest value of its curve, and what is
// below a millionth of a unit as 0: words shall not depend on rounding errors.
func rough(v, largest float64) string {
	if math.IsInf(v, 0) {
		return number(v)
	}
	quantum := 1e-6
	if largest > 1e-4 {
		quantum = tenTo(int(math.Floor(math.Log(largest)/math.Ln10+1e-9)) - 2)
	}
	return number(quantum * math.Round(v/quantum))
}

// include takes the values of a limit into account.
func (r *reach) include(y []float64) {
	for _, v := range y {
		if !math.IsInf(v, 0) && !math.IsNaN(v) && (!r.log || v > 0) {
			r.lo, r.hi = min(r.lo, v), max(r.hi, v)
		}
	}
}

// scale returns an axis for the range, or from bottom to top if they are given.
// step makes the distance of the labels from the least that there is room for.
func (r *reach) scale(bottom, top float64, labels int, step func(float64) float64) (scale, error) {
	given := bottom != 0 || top != 0
	if err := drawable(r.lo, r.hi); err != nil && !given {
		return scale{}, err
	}
	if given && (drawable(bottom, top) != nil || !(bottom < top) || math.IsInf(top-bottom, 0) || r.log && !(bottom > 0)) {
		return scale{}, fmt.Errorf("figure: axis from %g to %g, want bottom < top (and > 0 on a logarithmic axis)", bottom, top)
	}
	if r.log {
		if !given {
			bottom, top = nice(r.lo/1.05, false), nice(r.hi*1.05, true)
		}
		return logScale(bottom, top, number), nil
	}
	if given {
		return linearScale(bottom, top, step((top-bottom)/float64(labels))), nil
	}
	lo, hi := r.lo, r.hi
	// Values that are all of one sign are shown from zero, unless they vary little.
	if lo > 0 && lo < 0.6*hi {
		lo = 0
	}
	if hi < 0 && hi > 0.6*lo {
		hi = 0
	}
	if hi-lo < 1e-9*max(math.Abs(hi), math.Abs(lo), 1e-3) {
		room := max(0.1*math.Abs(hi), 1e-9)
		lo, hi = lo-room, hi+room
	}
	for room := (hi - lo) / float64(labels); ; room *= 1.1 {
		d := step(room)
		margin := 0.04 * (hi - lo)
		bottom, top := lo, hi
		if lo != 0 {
			bottom = d * math.Floor((lo-margin)/d)
		}
		if hi != 0 {
			top = d * math.Ceil((hi+margin)/d)
		}
		if (top-bottom)/d <= float64(labels)+0.5 {
			return linearScale(bottom, top, d), nil
		}
	}
}

// nice returns the next 1, 2 or 5 times a power of ten above or below v.
func nice(v float64, up bool) float64 {
	s := niceStep(v)
	if up {
		return s
	}
	exp := int(math.Floor(math.Log(v)/math.Ln10 + 1e-12))
	below := tenTo(exp)
	for _, m := range []float64{2, 5} {
		if n := m * tenTo(exp); n <= v*(1+1e-9) {
			below = n
		}
	}
	return below
}
