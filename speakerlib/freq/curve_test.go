package freq_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// The mean of a level that rises by 6 dB an octave, over 100 … 200 Hz, is that at
// √2·100 Hz. A curve that begins at 140 Hz, or ends there, has no such mean: that
// of its part would be 1.5 dB off. One that lacks less than a step has it.
func TestMeanWantsItsWholeBand(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		want   string // of the error
	}{{50, 400, ""}, {100, 200, ""}, {101, 400, ""}, {50, 199, ""}, {140, 400, "want all of the band"}, {50, 140, "want all of the band"}} {
		g := logGrid(t, c.lo, c.hi, 24)
		v := make([]float64, g.Len())
		for i := range v {
			v[i] = 6 * math.Log2(g.At(i)/100)
		}
		curve, err := freq.NewCurve(g, v, "slope", "dB", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		mean, err := curve.Mean(100, 200)
		if c.want != "" {
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("from %g to %g Hz: mean %g, error %v, want one with %q", c.lo, c.hi, mean, err, c.want)
			}
			continue
		}
		// Both ends may lie a step of 1/24 octave inside: 0.25 dB, of which the mean
		// moves by half at one end.
		if err != nil || math.Abs(mean-3) > 0.13 {
			t.Errorf("from %g to %g Hz: mean %g dB (%v), want 3", c.lo, c.hi, mean, err)
		}
	}
}

// A response with a deep notch far below its corner crosses the level three times:
// its corner is the highest of them, the first that is met going down.
func TestLowCornerIsTheFirstOneDownward(t *testing.T) {
	g, err := freq.NewGrid([]float64{10, 20, 40, 80, 160, 320})
	if err != nil {
		t.Fatal(err)
	}
	curve, err := freq.NewCurve(g, []float64{-20, 0, -12, 0, 0, 0}, "notch", "dB", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	// −6 dB lies half way, over log f, from 40 to 80 Hz.
	if hz, err := curve.LowCorner(160, 320, 6); err != nil || math.Abs(hz-40*math.Sqrt2) > 1e-9 {
		t.Errorf("corner at %g Hz (%v), want %g", hz, err, 40*math.Sqrt2)
	}
}
