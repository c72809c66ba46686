package directivity

import "fmt"

// EarlyReading is how the early reflections are averaged, which the standard's wording
// leaves open.
type EarlyReading int

// The readings of the early reflections.
const (
	// GroupsAlike: each of the five bounces is averaged, then the five alike. A bounce
	// of three angles counts as much as one of ten.
	GroupsAlike EarlyReading = iota
	// AnglesAlike: all angles that occur in any bounce are averaged alike, each once.
	AnglesAlike
)

// String names the reading.
func (r EarlyReading) String() string {
	switch r {
	case GroupsAlike:
		return "five bounces alike"
	case AnglesAlike:
		return "all angles alike"
	}
	return fmt.Sprintf("EarlyReading(%d)", int(r))
}

// RearReading is which angles the bounce off the rear wall has.
type RearReading int

// The readings of the rear wall.
const (
	// RearThree: behind and 90° to both sides.
	RearThree RearReading = iota
	// RearHalf: all nineteen horizontal angles from 90° over 180° to −90°.
	RearHalf
)

// String names the reading.
func (r RearReading) String() string {
	switch r {
	case RearThree:
		return "behind and ±90°"
	case RearHalf:
		return "the rear half"
	}
	return fmt.Sprintf("RearReading(%d)", int(r))
}

// Reading is how the angle groups of the standard are read where they can be read in two
// ways. The zero value is the reading that most published curves seem to follow (common
// practice, no source): five bounces alike, rear wall of three angles.
type Reading struct {
	Early EarlyReading
	Rear  RearReading
}

func (r Reading) validate() error {
	if r.Early < GroupsAlike || r.Early > AnglesAlike || r.Rear < RearThree || r.Rear > RearHalf {
		return fmt.Errorf("directivity: reading is %d and %d, want one of EarlyReading and one of RearReading", int(r.Early), int(r.Rear))
	}
	return nil
}

// String tells the reading in words, as a caption does.
func (r Reading) String() string {
	return fmt.Sprintf("early reflections: %v; rear wall: %v", r.Early, r.Rear)
}

// around returns ±lo … ±hi in steps of 10° horizontally, 0 and 180 once.
func around(lo, hi float64) []Direction {
	var d []Direction
	for a := lo; a <= hi; a += 10 {
		d = append(d, Side(a))
		if a != 0 && a != 180 {
			d = append(d, Side(-a))
		}
	}
	return d
}

// ListeningWindow returns the nine directions of the listening window: the axis, ±10°,
// ±20° and ±30° horizontally, ±10° vertically (ANSI/CTA-2034-A; A. Devantier,
// "Characterizing the amplitude response of loudspeaker systems", 113th AES Convention,
// 2002; both from memory).
func ListeningWindow() []Direction { return append(around(0, 30), Up(10), Up(-10)) }

// FloorBounce returns the directions of the floor's reflection: 20°, 30° and 40° down.
func FloorBounce() []Direction { return []Direction{Up(-20), Up(-30), Up(-40)} }

// CeilingBounce returns the directions of the ceiling's reflection: 40°, 50° and 60° up.
func CeilingBounce() []Direction { return []Direction{Up(40), Up(50), Up(60)} }

// FrontWallBounce returns the directions of the reflection off the wall that the
// loudspeaker faces (behind the listener): the axis, ±10°, ±20° and ±30°.
func FrontWallBounce() []Direction { return around(0, 30) }

// SideWallBounce returns the directions of the side walls' reflections: ±40° to ±80°.
func SideWallBounce() []Direction { return around(40, 80) }

// RearWallBounce returns the directions of the reflection off the wall behind the
// loudspeaker, in one of two readings.
func RearWallBounce(r RearReading) []Direction {
	if r == RearHalf {
		return around(90, 180)
	}
	return []Direction{Side(180), Side(90), Side(-90)}
}
