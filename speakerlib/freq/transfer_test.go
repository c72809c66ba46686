package freq_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// The inverse of the first-order low-pass 1/(1 + jx), x = f/100, is 1 + jx, also
// in a chain and with a delay, whose inverse is an advance.
func TestInverseOfALowpassAndADelay(t *testing.T) {
	g := logGrid(t, 10, 1000, 6)
	low := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1/(2*math.Pi*100))}
	got := freq.Series{freq.Inverse{Of: freq.Series{low, freq.Delay(1e-4)}}, freq.Gain(2)}.ResponseTo(nil, g)
	for i, w := range g.Omega() {
		want := complex(2, 2*g.At(i)/100) * cmplx.Rect(1, w*1e-4)
		if cmplx.Abs(got[i]/want-1) > 1e-12 {
			t.Errorf("%g Hz: %v, want %v", g.At(i), got[i], want)
		}
	}
}
