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

// Propagate returns the set of a source in a cabinet: its pressure in half space, of which
// one box model or near-field measurement gives one, times a factor for each direction that
// says what cabinet and directivity make of it, in a full space at the same distance.
//
// The factors are re a point source of the same volume velocity in an infinite baffle at
// the reference point; they go to 1/2 at low frequencies. They are given one direction after
// the other, each over the source's grid, as diffraction.State.SolveTo writes them for the
// receivers diffraction.Toward(r3.Vec{X: right, Y: up, Z: forward}) of Direction.Unit.
func Propagate(source freq.Response, timeZero string, factors []complex128, d ...Direction) (*Set, error) {
	b := source.Basis()
	if b.Quantity != freq.Pressure || b.Space != freq.HalfSpace {
		return nil, fmt.Errorf("directivity: source of a set is %v, want a sound pressure in half space", b)
	}
	n := source.Len()
	if n == 0 || len(factors) != n*len(d) {
		return nil, fmt.Errorf("directivity: %d factors for %d directions of %d frequencies, want %d", len(factors), len(d), n, n*len(d))
	}
	b.Space = freq.FullSpace
	var points []Point
	for k, at := range d {
		v := source.Values()
		for i := range v {
			v[i] *= factors[k*n+i]
		}
		r, err := freq.NewResponse(source.Grid(), v, fmt.Sprintf("%s, %v", source.Label(), at), b)
		if err != nil {
			return nil, err
		}
		points = append(points, Point{Direction: at, Response: r})
	}
	return NewSet(Clock{TimeZero: timeZero}, points...)
}
