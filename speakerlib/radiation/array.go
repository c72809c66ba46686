package radiation

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// Placed is a source of an [Array]: a radiator by its elements, which carry its place
// and delay, and the response of its volume velocity: re the others', per volt, or what
// else the sum is to be in. A vent is one with a response of its own.
type Placed struct {
	Elements []Element
	Response freq.Transfer // nil is unity
}

// Array is several sources in one infinite baffle, or without any cabinet in the free
// field: woofer and vent, woofer and tweeter. What the cabinet does, and what a
// vent in the back has to go around, is the subject of package diffraction.
type Array struct {
	Sources   []Placed
	Reference r3.Vec // distances and times count from here, m
}

// Validate reports an array without sources, or with elements that are not finite.
func (a Array) Validate() error {
	if len(a.Sources) == 0 {
		return fmt.Errorf("radiation: an array without sources, want at least one")
	}
	for i, s := range a.Sources {
		if err := CheckElements(s.Elements); err != nil {
			return fmt.Errorf("source %d of the array: %w", i, err)
		}
	}
	if v := a.Reference.X + a.Reference.Y + a.Reference.Z; math.IsNaN(v - v) {
		return fmt.Errorf("radiation: the array counts from %v, want finite coordinates", a.Reference)
	}
	return nil
}

// Toward returns the sum far away in a direction,
//
//	Σ U(f)·w·e^{jk·direction·(x − reference)}·e^{−jωτ}
//
// re a point source of unit volume velocity at the reference point, in the same space
// and at the same distance.
func (a Array) Toward(direction r3.Vec, m air.Medium, g *freq.Grid) ([]complex128, error) {
	if s := r3.Norm(direction); !(s > 0) || math.IsInf(s, 0) {
		return nil, fmt.Errorf("radiation: the direction is %v, want a finite vector that is not 0", direction)
	}
	u := r3.Unit(direction)
	return a.sum(m, g, func(at r3.Vec) (ratio, longer float64, err error) {
		return 1, -r3.Dot(u, r3.Sub(at, a.Reference)), nil
	})
}

// At returns the sum at a point, re a point source of unit volume velocity at the
// reference point: exact in the baffle or without cabinet.
func (a Array) At(point r3.Vec, m air.Medium, g *freq.Grid) ([]complex128, error) {
	far := r3.Norm(r3.Sub(point, a.Reference))
	if !(far > 0) || math.IsInf(far, 0) {
		return nil, fmt.Errorf("radiation: the point %v is %g m from the reference, want a finite distance > 0", point, far)
	}
	return a.sum(m, g, func(at r3.Vec) (ratio, longer float64, err error) {
		r := r3.Norm(r3.Sub(point, at))
		if r == 0 {
			return 0, 0, fmt.Errorf("radiation: the point %v is in an element of a source, want some distance", point)
		}
		return far / r, r - far, nil
	})
}

func (a Array) sum(m air.Medium, g *freq.Grid, way func(r3.Vec) (ratio, longer float64, err error)) ([]complex128, error) {
	if err := a.Validate(); err != nil {
		return nil, err
	}
	if err := m.Validate(); err != nil {
		return nil, err
	}
	if g == nil {
		return nil, fmt.Errorf("radiation: the sum has no frequency grid")
	}
	total := make([]complex128, g.Len())
	for i, s := range a.Sources {
		h := make([]complex128, g.Len())
		for _, e := range s.Elements {
			ratio, longer, err := way(e.At)
			if err != nil {
				return nil, err
			}
			late := longer/m.SpeedOfSound + e.Delay
			for k, w := range g.Omega() {
				h[k] += complex(e.Weight*ratio, 0) * cmplx.Exp(complex(0, -w*late))
			}
		}
		if s.Response != nil {
			if err := freq.CheckGrid(s.Response, g); err != nil {
				return nil, fmt.Errorf("source %d of the array: %w", i, err)
			}
			for k, u := range s.Response.ResponseTo(nil, g) {
				h[k] *= u
			}
		}
		for k := range total {
			total[k] += h[k]
		}
	}
	return total, nil
}
