package export

import "fmt"

// Side is where a cabinet stands, if it is built for a side.
type Side int

// The sides.
const (
	NoSide Side = iota
	Left
	Right
)

var sides = [...]string{"none", "left", "right"}

// String returns the side in the words of the document.
func (s Side) String() string {
	if s < 0 || int(s) >= len(sides) {
		return fmt.Sprintf("Side(%d)", int(s))
	}
	return sides[s]
}

// Unit says for which loudspeaker the coefficients are, for whoever services it. Its
// zero value is any.
type Unit struct {
	Side   Side
	Serial string // of the loudspeaker; may be empty
	Board  string // of its electronics, with its revision; may be empty
}

func (u Unit) validate() error {
	if u.Side < 0 || int(u.Side) >= len(sides) {
		return fmt.Errorf("export: cabinet side is %v, want one of %q", u.Side, sides)
	}
	for _, f := range []struct{ name, value string }{{"serial number", u.Serial}, {"board", u.Board}} {
		if err := checkText(f.name, f.value); err != nil && f.value != "" {
			return err
		}
	}
	return nil
}
