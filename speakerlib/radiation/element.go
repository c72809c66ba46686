package radiation

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Element is a small part of a radiating surface, or of a field of sources: a point
// source at a place, with a share of the volume velocity and a delay. The weights of
// one radiator add up to 1.
type Element struct {
	At     r3.Vec  // m
	Weight float64 // share of the volume velocity
	Delay  float64 // s
	Rim    Rim     // of the surface that it is a part of; the zero value is a point's
}

// Rim is where the surface ends that an element is a part of: all that is within Radius of
// the rectangle Centre ± Across ± Up, as seen from the element, so that it moves with it. It
// radiates nothing; it tells whether the surface fits where elements fit, however few
// they are.
type Rim struct {
	Centre     r3.Vec  // of the surface re the element, m
	Radius     float64 // of a round surface, m
	Across, Up r3.Vec  // from the centre of a rectangle to the middles of two of its sides, m
}

// Reach returns how far beyond the element the surface reaches in a direction of its plane,
// which is a vector of unit length: direction·Centre + Radius + |direction·Across| +
// |direction·Up|. Exact.
func (r Rim) Reach(direction r3.Vec) float64 {
	return r3.Dot(direction, r.Centre) + r.Radius + math.Abs(r3.Dot(direction, r.Across)) + math.Abs(r3.Dot(direction, r.Up))
}

// CheckElements reports a list without elements, one with a value that is not finite,
// and a rim with a negative radius.
func CheckElements(elements []Element) error {
	if len(elements) == 0 {
		return fmt.Errorf("radiation: a source without elements, want at least one")
	}
	for i, e := range elements {
		if s := e.At.X + e.At.Y + e.At.Z + e.Weight + e.Delay; math.IsNaN(s - s) {
			return fmt.Errorf("radiation: element %d is %+v, want finite values", i, e)
		}
		if !finite(e.Rim.Centre) || !finite(e.Rim.Across) || !finite(e.Rim.Up) || !(e.Rim.Radius >= 0) || math.IsInf(e.Rim.Radius, 0) {
			return fmt.Errorf("radiation: the rim of element %d is %+v, want finite values and a radius ≥ 0", i, e.Rim)
		}
	}
	return nil
}
