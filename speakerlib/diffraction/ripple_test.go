package diffraction_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/diffraction"
)

// A straight slope has no ripple; a sine of the period of the trend's width has its rms
// value, one of twice the period what the mean leaves: 1 − sin(π/2)/(π/2) (closed forms).
func TestRippleOfKnownLevels(t *testing.T) {
	g := logGrid(t, 100, 25600, 48)
	r := diffraction.Ripple{From: 200, To: 12800, Trend: 1}
	of := func(level func(octaves float64) float64) float64 {
		l := make([]float64, g.Len())
		for i := range l {
			l[i] = level(math.Log2(g.At(i) / 200))
		}
		v, err := r.Of(l, g)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	// The ends of the mean need not be on the grid.
	coarse := logGrid(t, 100, 25600, 5)
	slope := make([]float64, coarse.Len())
	for i := range slope {
		slope[i] = 4 * math.Log2(coarse.At(i))
	}
	between, err := diffraction.Ripple{From: 250, To: 10000, Trend: 1.13}.Of(slope, coarse)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ got, want float64 }{
		"between":     {between, 0},
		"slope":       {of(func(u float64) float64 { return 3 - 2*u }), 0},
		"one octave":  {of(func(u float64) float64 { return 2 * math.Sin(2*math.Pi*u) }), math.Sqrt2},
		"two octaves": {of(func(u float64) float64 { return 2 * math.Sin(math.Pi*u) }), math.Sqrt2 * (1 - 2/math.Pi)},
	} {
		if math.Abs(c.got-c.want) > 2e-3 {
			t.Errorf("%s: %v dB, want %v", name, c.got, c.want)
		}
	}
}
