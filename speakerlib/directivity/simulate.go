package directivity

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
)

// Simulate returns the set of a model that gives a pressure for each direction, on a grid
// and a basis. The name of its time zero says what the phases refer to; ways of one
// loudspeaker that are to be added must be computed about the same point and have the
// same name.
func Simulate(g *freq.Grid, b freq.Basis, timeZero string, toward func(Direction) (freq.Transfer, error), d ...Direction) (*Set, error) {
	var points []Point
	for _, at := range d {
		if err := at.validate(); err != nil {
			return nil, err
		}
		t, err := toward(at)
		if err != nil {
			return nil, fmt.Errorf("directivity: model %v (%v): %w", at, at.Orbit, err)
		}
		r, err := freq.Evaluate(t, g, fmt.Sprint(at), b)
		if err != nil {
			return nil, fmt.Errorf("directivity: model %v (%v): %w", at, at.Orbit, err)
		}
		points = append(points, Point{Direction: at, Response: r})
	}
	return NewSet(Clock{TimeZero: timeZero}, points...)
}
