package directivity

import (
	"fmt"
	"math"
)

// Orbit is one of the two circles on which a loudspeaker is measured.
type Orbit int

// The orbits.
const (
	Horizontal Orbit = iota // through the axis, left and right
	Vertical                // through the axis, up and down
)

// String names the orbit.
func (o Orbit) String() string {
	switch o {
	case Horizontal:
		return "horizontal"
	case Vertical:
		return "vertical"
	}
	return fmt.Sprintf("Orbit(%d)", int(o))
}

// Direction is a direction from the reference point of a set: an orbit, and the angle on
// it in degrees within −180 (excluded) … 180, positive to the right or upward as seen
// by someone who looks at the front.
type Direction struct {
	Orbit   Orbit
	Degrees float64
}

// Side returns the direction a number of degrees to the right; a negative one is to the
// left. Whole turns are taken out.
func Side(degrees float64) Direction { return Direction{Horizontal, turned(degrees)} }

// Up returns the direction a number of degrees upward; a negative one is downward. Whole
// turns are taken out.
func Up(degrees float64) Direction { return Direction{Vertical, turned(degrees)} }

// axis is the reference axis, 0° of both orbits.
var axis = Side(0)

// turned takes whole turns out: −180 (excluded) … 180.
func turned(degrees float64) float64 {
	d := math.Remainder(degrees, 360)
	if d == -180 {
		return 180
	}
	return d + 0 // no −0
}

// shared reports whether both orbits have the direction.
func (d Direction) shared() bool { return d.Degrees == 0 || d.Degrees == 180 }

// other returns the same direction by the name that the other orbit has for it, for a
// shared one.
func (d Direction) other() Direction { return Direction{1 - d.Orbit, d.Degrees} }

func (d Direction) validate() error {
	if d.Orbit != Horizontal && d.Orbit != Vertical {
		return fmt.Errorf("directivity: orbit is %d, want Horizontal or Vertical", int(d.Orbit))
	}
	if !(d.Degrees > -180 && d.Degrees <= 180) {
		return fmt.Errorf("directivity: angle is %g°, want more than −180° and at most 180°", d.Degrees)
	}
	return nil
}

// String tells the direction in words: "axis", "20° right", "10° down".
func (d Direction) String() string {
	if d.Degrees == 0 {
		return "axis"
	}
	if d.Degrees == 180 {
		return "behind"
	}
	words := [2][2]string{{"right", "left"}, {"up", "down"}}[d.Orbit&1]
	if d.Degrees > 0 {
		return fmt.Sprintf("%g° %s", d.Degrees, words[0])
	}
	return fmt.Sprintf("%g° %s", -d.Degrees, words[1])
}

// Unit returns the unit vector of the direction, to the right, upward and forward as
// seen by someone who looks at the front:
//
//	(sin θ, 0, cos θ) horizontally, (0, sin θ, cos θ) vertically
//
// Forward is from the loudspeaker towards the listener.
func (d Direction) Unit() (right, up, forward float64) {
	sin, cos := math.Sincos(d.Degrees * math.Pi / 180)
	if d.Orbit == Vertical {
		return 0, sin, cos
	}
	return sin, 0, cos
}

// Orbits70 returns the 70 directions of two orbits in steps of 10°, those that
// ANSI/CTA-2034-A measures: 36 horizontal ones and the 34 vertical ones that are not
// among them already.
func Orbits70() []Direction {
	var all []Direction
	for _, o := range []Orbit{Horizontal, Vertical} {
		for a := -170.0; a <= 180; a += 10 {
			if d := (Direction{o, a}); o == Horizontal || !d.shared() {
				all = append(all, d)
			}
		}
	}
	return all
}
