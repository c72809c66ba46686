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
}

// CheckElements reports a list without elements and one with a value that is not
// finite.
func CheckElements(elements []Element) error {
	if len(elements) == 0 {
		return fmt.Errorf("radiation: a source without elements, want at least one")
	}
	for i, e := range elements {
		if s := e.At.X + e.At.Y + e.At.Z + e.Weight + e.Delay; math.IsNaN(s - s) {
			return fmt.Errorf("radiation: element %d is %+v, want finite values", i, e)
		}
	}
	return nil
}
