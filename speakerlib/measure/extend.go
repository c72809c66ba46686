package measure

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Extend returns the response on a grid that is wider than what was measured. Within, it
// is that of [Resample]; beyond, the magnitude goes on along the slopes of the tails, in dB per
// octave of rising frequency,
//
//	|r(f)| = |r(f₀)|·10^(slope·log₂(f/f₀)/20)
//
// from the first or the last measured frequency f₀, with the phase that it has there. That
// is nobody's measurement: it is for what needs numbers everywhere and plays nothing there,
// such as a transform of a band-limited programme. The slope in front of the first frequency must
// not be negative, that behind the last one not positive: nothing is invented that
// grows without end. A grid without a point within what was measured is refused.
func Extend(r freq.Response, g *freq.Grid, t freq.Tails) (freq.Response, error) {
	if g == nil {
		return freq.Response{}, fmt.Errorf("measure: extending %q on no grid", r.Label())
	}
	if !(t.Below >= 0) || math.IsInf(t.Below, 0) || !(t.Above <= 0) || math.IsInf(t.Above, 0) {
		return freq.Response{}, fmt.Errorf("measure: extending %q by %g dB an octave below and %g above, want at least 0 below and at most 0 above", r.Label(), t.Below, t.Above)
	}
	from := r.Grid()
	if from == nil {
		return freq.Response{}, fmt.Errorf("measure: extending %q, which has no grid, want a response that was measured", r.Label())
	}
	i, j := g.Between(from.First(), from.Last())
	if i == j {
		return freq.Response{}, fmt.Errorf("measure: extending %q, which is known on %v, on %v: want a grid that has points within", r.Label(), from, g)
	}
	inner, err := freq.NewGrid(g.Hz()[i:j])
	if err != nil {
		return freq.Response{}, err
	}
	known, err := Resample(r, inner)
	if err != nil {
		return freq.Response{}, err
	}
	values := make([]complex128, g.Len())
	tail := func(k int, at complex128, hz, slope float64) {
		values[k] = cmplx.Rect(cmplx.Abs(at)*level.Ratio(slope*math.Log2(g.At(k)/hz)), cmplx.Phase(at))
	}
	for k := range values {
		switch {
		case k < i:
			tail(k, r.At(0), from.First(), t.Below)
		case k >= j:
			tail(k, r.At(r.Len()-1), from.Last(), t.Above)
		default:
			values[k] = known.At(k - i)
		}
	}
	return freq.NewResponse(g, values, r.Label(), r.Basis())
}
