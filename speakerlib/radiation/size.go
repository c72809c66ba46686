package radiation

import (
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// The largest sizes: more is mm, cm or cm² where m or m² are wanted. Common practice, no source.
const (
	// MaxRadius is the largest radius, m: hardly a cone, mouth or round cabinet is larger, and
	// one in cm² is.
	MaxRadius = 1.0
	// MaxSide is the longest side of a rectangle, m: a ribbon from the floor to the ceiling.
	MaxSide = 4.0
)

// mostTurn is the largest product of wavenumber and size at which sums whose number of terms
// rises with it are still made.
const mostTurn = 1e5

// wavenumber is no number at a frequency that is below 0 or not finite, and in air that is none,
// such as the zero value.
func wavenumber(hz float64, m air.Medium) float64 {
	if !(hz >= 0) || math.IsInf(hz, 0) || m.Validate() != nil {
		return math.NaN()
	}
	return 2 * math.Pi * hz / m.SpeedOfSound
}

// turned returns an angle, and no number for one of more than a turn: that is degrees.
func turned(angle float64) float64 {
	if !(math.Abs(angle) <= 2*math.Pi*(1+1e-9)) {
		return math.NaN()
	}
	return angle
}

// inFront tells whether a place is in front of the baffle or in it, at a finite distance.
func inFront(z, x float64) bool {
	return z >= 0 && z <= math.MaxFloat64 && math.Abs(x) <= math.MaxFloat64
}
