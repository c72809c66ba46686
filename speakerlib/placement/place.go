package placement

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/room"
)

// Place is where a loudspeaker stands, by what the walls do to it there.
type Place struct {
	Name string
	Gain freq.Curve // re a free field, dB
}

// Near returns a place by the sound power that the loudspeaker gives near the walls, which
// does not depend on where the listener sits: room.Walls.Power of a small source, and
// room.Walls.Radiated of one with a pattern, which gets less from walls that it turns its
// back to. The source is at the place of the low frequencies, the woofer's, and its height
// above the floor belongs to it.
func Near(name string, w *room.Walls, s room.Source, g *freq.Grid) (Place, error) {
	if w == nil {
		return Place{}, fmt.Errorf("placement: %s without walls, want some", name)
	}
	var c freq.Curve
	var err error
	if s.Pattern == nil {
		c, err = w.Power(s.At, 0, g, name)
	} else {
		c, err = w.Radiated(s, g, name)
	}
	if err != nil {
		return Place{}, fmt.Errorf("placement: %s: %w", name, err)
	}
	return Place{name, c}, nil
}

// Heard returns a place by what listeners hear there: the mean of the powers over their
// seats, re the direct sound at each. A single seat has dips of its own and is no base for
// a setting; take several.
func Heard(name string, g *freq.Grid, seats ...*room.Field) (Place, error) {
	s, err := room.Over(g, seats...)
	if err != nil {
		return Place{}, fmt.Errorf("placement: %s: %w", name, err)
	}
	return Place{name, s.Mean.As(name)}, nil
}

// check reports a place that is none, or on another grid.
func (p Place) check(g *freq.Grid) error {
	switch {
	case p.Gain.Grid() == nil:
		return fmt.Errorf("placement: place %q has no gain, want a curve in dB", p.Name)
	case p.Gain.Unit() != "dB":
		return fmt.Errorf("placement: gain of %q is in %q, want dB", p.Name, p.Gain.Unit())
	case g != nil && !p.Gain.Grid().Equal(g):
		return fmt.Errorf("placement: place %q is on %v, want %v as the others", p.Name, p.Gain.Grid(), g)
	}
	for i := range p.Gain.Len() {
		if math.IsInf(p.Gain.At(i), 0) {
			return fmt.Errorf("placement: gain of %q is %g dB at %g Hz, want a finite value", p.Name, p.Gain.At(i), p.Gain.Grid().At(i))
		}
	}
	return nil
}

// noDip is how far in dB a place may be below a free field and still count as one: what rounding
// leaves of a place without walls.
const noDip = 1e-6

// adds returns what the walls add at a point re a reference, in dB, below 0 what is lacking; 0 in
// a dip. See [Derive].
func (p Place) adds(reference Place, i int) float64 {
	here := p.Gain.At(i)
	if here < -noDip {
		return 0
	}
	return here - max(0, reference.Gain.At(i))
}
