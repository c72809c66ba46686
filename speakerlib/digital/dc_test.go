package digital_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
)

// A low shelf has its gain at direct current, a high-pass nothing at all (closed forms of
// their prototypes in s at 0).
func TestGainAtDirectCurrent(t *testing.T) {
	for _, c := range []struct {
		s    digital.Section
		want float64
	}{{digital.LowShelf{F0: 80, Gain: 1.5, Q: 0.7}, 1.5}, {digital.Peak{F0: 80, Gain: 1.5, Q: 0.7}, 1}, {digital.Highpass{F0: 40, Q: 1}, 0}} {
		b, err := c.s.Biquad(48000)
		if err != nil {
			t.Fatal(err)
		}
		if got := b.DC(); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%v: %g at direct current, want %g", c.s, got, c.want)
		}
	}
}
