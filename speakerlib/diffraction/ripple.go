package diffraction

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Ripple is a measure of unevenness: the rms, over log frequency from one frequency to
// another, of what a level deviates from its own trend, in dB. The trend is the mean of
// the level over an octave range around each frequency; it follows the step from full to
// half space, so that the step counts for nothing and what is left is ripple. A narrow
// trend follows slow ripple too.
//
// It is this library's own measure, and not one of a standard.
type Ripple struct {
	From, To float64 // Hz
	Trend    float64 // width of the mean, octaves, not below the steps of the grid; 0: 2
}

func (r Ripple) trend() float64 {
	if r.Trend == 0 {
		return 2
	}
	return r.Trend
}

// check reports a range that the grid does not cover together with the trend beside it.
func (r Ripple) check(g *freq.Grid) error {
	if !(r.From > 0 && r.To > r.From) || math.IsInf(r.To, 0) || !(r.trend() > 0) || math.IsInf(r.Trend, 0) {
		return fmt.Errorf("diffraction: ripple from %g to %g Hz about a trend of %g octaves, want 0 < from < to and a finite width > 0", r.From, r.To, r.trend())
	}
	half := math.Exp2(r.trend() / 2)
	const hair = 1e-9
	if lo, hi := r.From/half, r.To*half; g.First() > lo*(1+hair) || g.Last() < hi*(1-hair) {
		return fmt.Errorf("diffraction: ripple from %g to %g Hz needs its trend from %.4g to %.4g Hz, but the grid has %v", r.From, r.To, lo, hi, g)
	}
	i, j := g.Between(r.From, r.To)
	if j-i < 3 {
		return fmt.Errorf("diffraction: %d frequencies from %g to %g Hz, want at least 3", j-i, r.From, r.To)
	}
	for ; i+1 < j; i++ {
		if step := math.Log2(g.At(i+1) / g.At(i)); r.trend() < step {
			return fmt.Errorf("diffraction: a trend of %g octaves, want at least the %.3g octaves from %g to %g Hz: what is narrower is the level itself", r.trend(), step, g.At(i), g.At(i+1))
		}
	}
	return nil
}

// Of returns the ripple of a level in dB over a grid. The level is taken as linear over
// log frequency between the points.
func (r Ripple) Of(levels []float64, g *freq.Grid) (float64, error) {
	if g == nil || g.Len() == 0 || len(levels) != g.Len() {
		return 0, fmt.Errorf("diffraction: %d levels, want one for each point of a grid", len(levels))
	}
	if err := r.check(g); err != nil {
		return 0, err
	}
	for i, l := range levels {
		if math.IsNaN(l - l) {
			return 0, fmt.Errorf("diffraction: the level is %g dB at %g Hz, want a finite one: a silent source has no ripple", l, g.At(i))
		}
	}
	// The running integral of the level over log₂ f.
	u, sum := make([]float64, g.Len()), make([]float64, g.Len())
	for i := range u {
		u[i] = math.Log2(g.At(i))
		if i > 0 {
			sum[i] = sum[i-1] + (levels[i]+levels[i-1])/2*(u[i]-u[i-1])
		}
	}
	at := 0
	integral := func(x float64) float64 { // x rises from call to call but for the width
		for at > 0 && u[at] > x {
			at--
		}
		for at < len(u)-2 && u[at+1] < x {
			at++
		}
		d := math.Min(math.Max(x, u[at]), u[at+1]) - u[at]
		slope := (levels[at+1] - levels[at]) / (u[at+1] - u[at])
		return sum[at] + d*(levels[at]+d*slope/2)
	}
	first, end := g.Between(r.From, r.To)
	var square, weight, before float64
	for i := first; i < end; i++ {
		mean := (integral(u[i]+r.trend()/2) - integral(u[i]-r.trend()/2)) / r.trend()
		d := (levels[i] - mean) * (levels[i] - mean)
		if i > first {
			square += (d + before) / 2 * (u[i] - u[i-1])
			weight += u[i] - u[i-1]
		}
		before = d
	}
	return math.Sqrt(square / weight), nil
}
