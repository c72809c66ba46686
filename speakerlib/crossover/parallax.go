package crossover

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// Parallax is the geometry of two ways above one another, heard from a point on
// the axis of the upper one.
type Parallax struct {
	Separation float64 // d, from way to way, m
	Air        air.Medium
}

// Lag returns by how much the sound of the lower way arrives later than that of
// the upper one at a distance r on the upper one's axis, in seconds, both starting
// at the baffle:
//
//	(√(r² + d²) − r)/c
//
// An alignment made at one distance is off by the difference of the lags at
// another. Exact for points on a plane; acoustic centres behind the baffle change
// the lag, but hardly its difference.
func (p Parallax) Lag(distance float64) (float64, error) {
	if err := p.Air.Validate(); err != nil {
		return 0, err
	}
	if !(p.Separation >= 0) || math.IsInf(p.Separation, 0) {
		return 0, fmt.Errorf("crossover: ways are %g m apart, want a finite value ≥ 0", p.Separation)
	}
	if !(distance > 0) || math.IsInf(distance, 0) {
		return 0, fmt.Errorf("crossover: distance is %g m, want a finite value > 0", distance)
	}
	d := p.Separation
	return d * d / (math.Hypot(distance, d) + distance) / p.Air.SpeedOfSound, nil
}

// Shift returns the lag at one distance less that at another, in seconds: by how
// much later the lower way is there, relative to the upper one, than where it was
// aligned. It is negative farther away.
func (p Parallax) Shift(aligned, heard float64) (float64, error) {
	a, err := p.Lag(aligned)
	if err != nil {
		return 0, err
	}
	h, err := p.Lag(heard)
	return h - a, err
}
