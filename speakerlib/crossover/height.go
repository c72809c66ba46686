package crossover

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// HeightSetup says where one sits and how far one may move up and down.
type HeightSetup struct {
	Place    Place   // of the ears
	Range    float64 // up and down from there, m
	From, To float64 // the band that is judged, Hz
}

// Height is how the sum depends on the height of the ears.
type Height struct {
	Slope   freq.Curve // dB/m, of the level over the height, at the place
	Largest freq.Curve // dB, the change of the largest magnitude within the range, with its sign
	Worst   float64    // the largest of these in the band, dB
	WorstAt float64    // where, Hz
	WorstUp float64    // at which height above the place, m
	// SlopeWorst is the slope of the largest magnitude in the band, in dB/m (a
	// hundredth of it is dB per centimetre), SlopeAt where, Hz.
	SlopeWorst, SlopeAt float64
}

// Height tells how the level changes if the ears move up and down, at a stated
// distance. The slope is the central difference over 2 mm; the largest change is
// looked for every 5 mm, and at the ends.
func (s *Stack) Height(h HeightSetup) (*Height, error) {
	if !(h.Range > 0) || math.IsInf(h.Range, 0) {
		return nil, fmt.Errorf("crossover: ears move by %g m, want a finite value > 0", h.Range)
	}
	i, j := s.grid.Between(h.From, h.To)
	if i >= j || !(s.grid.First() <= h.From) || !(s.grid.Last() >= h.To) {
		return nil, fmt.Errorf("crossover: stack covers %v, want all of %g … %g Hz", s.grid, h.From, h.To)
	}
	at := func(up float64) ([]float64, error) {
		p := h.Place
		p.Height += up
		r, err := s.At(p)
		if err != nil {
			return nil, err
		}
		return level.OfComplex(nil, r.Values()), nil
	}
	here, err := at(0)
	if err != nil {
		return nil, err
	}
	const d = 1e-3
	above, err := at(d)
	if err != nil {
		return nil, err
	}
	below, err := at(-d)
	if err != nil {
		return nil, err
	}
	n := s.grid.Len()
	slope, largest, where := make([]float64, n), make([]float64, n), make([]float64, n)
	for f := range slope {
		slope[f] = (above[f] - below[f]) / (2 * d)
	}
	steps := int(math.Ceil(h.Range / 5e-3))
	for k := -steps; k <= steps; k++ {
		up := h.Range * float64(k) / float64(steps)
		v, err := at(up)
		if err != nil {
			return nil, err
		}
		for f := range v {
			if c := v[f] - here[f]; math.Abs(c) > math.Abs(largest[f]) {
				largest[f], where[f] = c, up
			}
		}
	}
	out := &Height{}
	for f := i; f < j; f++ {
		if math.Abs(largest[f]) > math.Abs(out.Worst) {
			out.Worst, out.WorstAt, out.WorstUp = largest[f], s.grid.At(f), where[f]
		}
		if math.Abs(slope[f]) > math.Abs(out.SlopeWorst) {
			out.SlopeWorst, out.SlopeAt = slope[f], s.grid.At(f)
		}
	}
	what := fmt.Sprintf(" at %.4g m", h.Place.Distance)
	if out.Slope, err = freq.NewCurve(s.grid, slope, "slope over the height"+what, "dB/m", freq.Basis{}); err != nil {
		return nil, fmt.Errorf("crossover: %w", err)
	}
	if out.Largest, err = freq.NewCurve(s.grid, largest, fmt.Sprintf("largest change within ±%.4g m%s", h.Range, what), "dB", freq.Basis{}); err != nil {
		return nil, fmt.Errorf("crossover: %w", err)
	}
	return out, nil
}
