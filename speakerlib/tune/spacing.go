package tune

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// Spacing is the scale on which the errors of a fit are averaged.
type Spacing int

const (
	// LogFrequency counts every octave alike.
	LogFrequency Spacing = iota
	// EarBands counts every band of the ear's filter alike: the scale is
	// [freq.ERBNumber] (B. R. Glasberg and B. C. J. Moore, Hearing Research 47,
	// 1990). Against LogFrequency an interval at 100 Hz counts for 0.37 of one
	// at 1 kHz, and one at 10 kHz for 1.20.
	EarBands
)

// String says it in words.
func (s Spacing) String() string {
	switch s {
	case LogFrequency:
		return "log frequency"
	case EarBands:
		return "ERB number"
	}
	return fmt.Sprintf("spacing %d", int(s))
}

// Between returns the length of an interval of frequencies on the scale.
func (s Spacing) Between(lo, hi float64) float64 {
	switch s {
	case LogFrequency:
		return math.Log(hi / lo)
	case EarBands:
		return freq.ERBNumber(hi) - freq.ERBNumber(lo)
	}
	panic("tune: unknown spacing")
}

// kind names the kind of a section, and of what an [Unwarped] one is.
func kind(t digital.Tunable) string {
	if u, ok := t.(Unwarped); ok {
		return fmt.Sprintf("unwarped %T", u.Of)
	}
	return fmt.Sprintf("%T", t)
}

func isPeak(t digital.Tunable) bool {
	if u, ok := t.(Unwarped); ok {
		t = u.Of
	}
	_, ok := t.(digital.Peak)
	return ok
}
