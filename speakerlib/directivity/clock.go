package directivity

import (
	"fmt"
	"math"
)

// Phases says what the phases of a set mean.
type Phases int

// The kinds of phases.
const (
	// Common: all responses have one time zero: they add to others of the same one.
	Common Phases = iota
	// Separate: each response has a time zero of its own; levels only can be compared.
	Separate
	// Unknown: the responses are magnitudes; their phases are not known.
	Unknown
)

// String tells the kind in words.
func (p Phases) String() string {
	switch p {
	case Common:
		return "phases with one time zero"
	case Separate:
		return "phases without a common time zero"
	case Unknown:
		return "no phases"
	}
	return fmt.Sprintf("Phases(%d)", int(p))
}

// Clock says which time zero the responses of a set share.
type Clock struct {
	Phases   Phases
	TimeZero string  // its name, of Common phases
	Removed  float64 // time of flight that has been taken out of all responses, s
}

func (c Clock) validate() error {
	switch {
	case c.Phases < Common || c.Phases > Unknown:
		return fmt.Errorf("directivity: phases are %d, want Common, Separate or Unknown", int(c.Phases))
	case c.Phases == Common && c.TimeZero == "":
		return fmt.Errorf("directivity: set with %v that does not name it, want the name of the time zero", c.Phases)
	case c.Phases != Common && (c.TimeZero != "" || c.Removed != 0):
		return fmt.Errorf("directivity: set with %v that names the time zero %q with %g s taken out, want none", c.Phases, c.TimeZero, c.Removed)
	case math.IsNaN(c.Removed) || math.IsInf(c.Removed, 0):
		return fmt.Errorf("directivity: time of flight taken out is %g s, want a finite value", c.Removed)
	}
	return nil
}
