package directivity

import (
	"fmt"
	"strconv"
	"strings"
)

// Sense is where the microphone is for a positive angle of a file name, as seen by someone
// who looks at the front of the loudspeaker. It states orbit and sign at once.
type Sense int

// The senses. There is no default.
const (
	ToTheRight Sense = iota + 1
	ToTheLeft
	Upward
	Downward
)

// String names the sense.
func (s Sense) String() string {
	switch s {
	case ToTheRight:
		return "to the right"
	case ToTheLeft:
		return "to the left"
	case Upward:
		return "upward"
	case Downward:
		return "downward"
	}
	return fmt.Sprintf("Sense(%d)", int(s))
}

// direction returns the direction of an angle of that sense.
func (s Sense) direction(degrees float64) Direction {
	switch s {
	case ToTheRight:
		return Side(degrees)
	case ToTheLeft:
		return Side(-degrees)
	case Upward:
		return Up(degrees)
	}
	return Up(-degrees)
}

// Names says what the name of a file means. In the pattern, # stands for the angle in
// degrees (digits, with a sign and a decimal point if need be, within ±360); all else is
// taken as it stands. A pattern without # is the name of the file at 0°.
//
//	{"woofer-side#.txt", ToTheRight}   woofer-side15.txt: 15° to the right
//	{"woofer-up#.txt", Upward}         woofer-up-10.txt: 10° down
//	{"woofer-axis.txt", Upward}        0°
type Names struct {
	Pattern string
	Sense   Sense
}

func (n Names) validate() error {
	if n.Sense < ToTheRight || n.Sense > Downward {
		return fmt.Errorf("directivity: sense of the pattern %q is %d, want ToTheRight, ToTheLeft, Upward or Downward", n.Pattern, int(n.Sense))
	}
	if n.Pattern == "" || strings.Count(n.Pattern, "#") > 1 || strings.ContainsAny(n.Pattern, "/\\") {
		return fmt.Errorf("directivity: pattern %q, want the name of a file without folder, with one # at most for the angle", n.Pattern)
	}
	return nil
}

// match returns the angle that a name states by the pattern.
func (n Names) match(name string) (degrees float64, ok bool) {
	before, after, has := strings.Cut(n.Pattern, "#")
	if !has {
		return 0, name == n.Pattern
	}
	if len(name) <= len(before)+len(after) || !strings.HasPrefix(name, before) || !strings.HasSuffix(name, after) {
		return 0, false
	}
	number := name[len(before) : len(name)-len(after)]
	if strings.Trim(number, "+-.0123456789") != "" {
		return 0, false
	}
	degrees, err := strconv.ParseFloat(number, 64)
	return degrees, err == nil && degrees >= -360 && degrees <= 360
}
