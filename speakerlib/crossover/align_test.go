package crossover_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// Over one octave both ways are alike and in phase, over the four octaves above
// the upper is at 0.3 and in opposite phase. By the definition, with w·|L·H| the
// square of the lower of the two levels and log frequency,
//
//	C = (1·1² − 4·0.3²)/(1·1² + 4·0.3²) = 0.4706
//
// on any grid: where the upper way is 10 dB below, its phase counts little, and it
// is not inverted. Weighted by |L·H| alone, or by bare frequency, it would be.
func TestAlignCountsWhereBothAreHeard(t *testing.T) {
	even, err := freq.LogGrid(500, 16e3, 192)
	if err != nil {
		t.Fatal(err)
	}
	uneven, err := freq.LinearGrid(500, 16e3, 15501)
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range []*freq.Grid{even, uneven} {
		l, h := make([]complex128, g.Len()), make([]complex128, g.Len())
		for i := range l {
			l[i], h[i] = 1, 1
			if g.At(i) > 1000 {
				h[i] = -0.3
			}
		}
		b := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}
		lower, err := freq.NewResponse(g, l, "lower", b)
		if err != nil {
			t.Fatal(err)
		}
		upper, err := freq.NewResponse(g, h, "upper", b)
		if err != nil {
			t.Fatal(err)
		}
		a, err := crossover.Align(lower, upper, 500, 16e3, 0)
		if err != nil {
			t.Fatal(err)
		}
		// The step lies between two points of the grid: 1/192 octave.
		want := (1 - 0.36) / (1 + 0.36)
		if a.Inverted || a.Delay != 0 || math.Abs(a.Coherence-want) > 0.01 || math.Abs(a.Other+want) > 0.01 {
			t.Errorf("%v: %+v, want a coherence of %.4f as it is and %.4f inverted", g, a, want, -want)
		}
	}
}
