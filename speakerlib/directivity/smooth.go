package directivity

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Smoothed returns the set with every response averaged in power over a fraction of an octave
// (freq.Response.SmoothPower), for maps and averages of what was measured fine. Its phases are
// gone: it is of Unknown ones.
func (s *Set) Smoothed(perOctave float64) (*Set, error) {
	points := s.Points()
	for k, p := range points {
		db, err := p.Response.SmoothPower(perOctave, 1)
		if err != nil {
			return nil, err
		}
		v := make([]complex128, db.Len())
		for i := range v {
			v[i] = complex(level.Ratio(db.At(i)), 0)
		}
		if points[k].Response, err = freq.NewResponse(s.grid, v, fmt.Sprintf("%s, 1/%g octave", p.Response.Label(), perOctave), s.basis); err != nil {
			return nil, err
		}
	}
	t, err := NewSet(Clock{Phases: Unknown}, points...)
	if err != nil {
		return nil, err
	}
	t.usable = s.usable
	return t, nil
}
