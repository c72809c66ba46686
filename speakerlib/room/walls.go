package room

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// Point is a place, in metres: from the front wall, from the left wall, above the floor.
type Point struct{ X, Y, Z float64 }

// To returns the distance to another place in metres.
func (p Point) To(q Point) float64 {
	return math.Sqrt((p.X-q.X)*(p.X-q.X) + (p.Y-q.Y)*(p.Y-q.Y) + (p.Z-q.Z)*(p.Z-q.Z))
}

func (p Point) axes() [3]float64 { return [3]float64{p.X, p.Y, p.Z} }

// Wall is one of six plane boundaries.
type Wall int

// The walls.
const (
	Front   Wall = iota // X = 0, behind the loudspeaker
	Rear                // X = Length, behind the listener
	Left                // Y = 0
	Right               // Y = Width
	Floor               // Z = 0
	Ceiling             // Z = Height
)

const walls = 6

// String names the wall.
func (w Wall) String() string {
	switch w {
	case Front:
		return "front wall"
	case Rear:
		return "rear wall"
	case Left:
		return "left wall"
	case Right:
		return "right wall"
	case Floor:
		return "floor"
	case Ceiling:
		return "ceiling"
	}
	return fmt.Sprintf("Wall(%d)", int(w))
}

// Walls are the boundaries that there are, from one wall to all six:
//
//	Walls{Surfaces: [6]Surface{Front: Rigid{}, Floor: carpet}, Air: air.Room()}
type Walls struct {
	Surfaces              [walls]Surface // by Wall; nil: there is none
	Length, Width, Height float64        // m; each is needed with the wall on its far side
	Air                   air.Medium
}

// size returns the dimensions by axis.
func (w *Walls) size() [3]float64 { return [3]float64{w.Length, w.Width, w.Height} }

// Validate reports air that is none, a room without walls, and a far wall without its
// distance.
func (w *Walls) Validate() error {
	if err := w.Air.Validate(); err != nil {
		return err
	}
	there := 0
	for k, s := range w.Surfaces {
		if s == nil {
			continue
		}
		there++
		if z, ok := s.(Impedance); ok && z.Zeta == nil {
			return fmt.Errorf("room: %v has no impedance, want a transfer", Wall(k))
		}
		if a, ok := s.(*Absorber); ok && (a == nil || len(a.bands) == 0) {
			return fmt.Errorf("room: %v is an absorber without bands, want one of NewAbsorber", Wall(k))
		}
		if l := w.size()[k/2]; k%2 == 1 && !(l > 0) {
			return fmt.Errorf("room: %v at %g m, want a distance > 0 from the wall at 0", Wall(k), l)
		}
	}
	if there == 0 {
		return fmt.Errorf("room: no wall, want at least 1")
	}
	for k, l := range w.size() {
		if !(l >= 0) || math.IsInf(l, 0) {
			return fmt.Errorf("room: %s is %g m, want a finite value ≥ 0", [3]string{"length", "width", "height"}[k], l)
		}
	}
	return nil
}

// inside reports a place that is not on the inner side of all walls.
func (w *Walls) inside(what string, p Point) error {
	for k, x := range p.axes() {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("room: %s is at %v, want finite places", what, p)
		}
		if w.Surfaces[2*k] != nil && x < 0 {
			return fmt.Errorf("room: %s is %g m behind the %v, want it in the room", what, -x, Wall(2*k))
		}
		if l := w.size()[k]; w.Surfaces[2*k+1] != nil && x > l {
			return fmt.Errorf("room: %s is %g m behind the %v, want it in the room", what, x-l, Wall(2*k+1))
		}
	}
	return nil
}

// parallel reports whether two walls face each other, so that images have no end.
func (w *Walls) parallel() bool {
	for k := 0; k < walls; k += 2 {
		if w.Surfaces[k] != nil && w.Surfaces[k+1] != nil {
			return true
		}
	}
	return false
}

// checkGrid reports a surface that cannot be evaluated.
func (w *Walls) checkGrid(g *freq.Grid) error {
	if g == nil {
		return fmt.Errorf("room: no grid, want one")
	}
	for k, s := range w.Surfaces {
		if s == nil {
			continue
		}
		if err := s.CheckGrid(g); err != nil {
			return fmt.Errorf("room: %v: %w", Wall(k), err)
		}
	}
	return nil
}
