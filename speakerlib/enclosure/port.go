package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/twoport"
)

// Port is a way out of a chamber, to the outside or into another chamber: a
// [Vent], [Slot] or [Flare] as an air mass, each of them as a lossy line by [Pipe],
// or a [Radiator].
type Port interface {
	// Validate reports what is wrong with it.
	Validate() error
	// Area returns the area of its narrowest part, all of them together, m².
	Area() float64
	way(m air.Medium, outside bool) way
	opening(outside bool) opening
}

// way is a port in some air, as a two-port from the chamber out.
type way interface {
	matrix(hz float64) twoport.Matrix
}

// lump is a mass, a resistance and a stiffness in series.
type lump struct{ mass, resistance, stiffness float64 }

func (l lump) matrix(hz float64) twoport.Matrix {
	w := 2 * math.Pi * hz
	return twoport.Series(complex(l.resistance, w*l.mass-l.stiffness/w))
}

func (v Vent) way(m air.Medium, _ bool) way { return lump{mass: v.Mass(m)} }

func (v Vent) opening(outside bool) opening {
	return opening{area: v.Area(), outside: outside, loss: v.Loss}
}

func (r Radiator) way(air.Medium, bool) way {
	_, mass, stiffness, resistance := r.acoustic()
	return lump{mass: mass, resistance: resistance, stiffness: stiffness}
}

func (r Radiator) opening(outside bool) opening { return opening{area: r.Area(), outside: outside} }

func newSide(c Chamber, p Port, m air.Medium) side {
	s := side{room: c.room(m)}
	if p != nil {
		s.way = p.way(m, true)
	}
	return s
}

// validatePort checks the port of a chamber, which may have none.
func validatePort(p Port, c Chamber) error {
	if p == nil {
		if c.Losses.QP != 0 {
			return fmt.Errorf("enclosure: a closed chamber has QP = %g, want 0: it has no port", c.Losses.QP)
		}
		return nil
	}
	return p.Validate()
}
