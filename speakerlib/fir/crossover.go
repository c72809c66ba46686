package fir

import (
	"fmt"
	"math"
	"strings"

	"example.org/loudspeaker/speakerlib/analog"
)

// Crossover returns the linear-phase ways of a crossover, from the lowest to the
// highest: windowed low-passes of one length, and their differences. All ways are
// symmetric and of one latency, (taps−1)/2 samples, and their sum is a pure delay of
// it: exactly, since taps are rounded to multiples of 2⁻⁵⁰, whose differences and
// sums are without rounding in float64. Each way is −6 dB at its corner.
//
// The sum is exact on the axis where the drivers are equally far away; off it,
// slopes this steep ring before and after the signal.
func Crossover(sampleRate float64, taps int, w Window, corners ...float64) ([]*Filter, error) {
	if taps%2 == 0 || taps < 3 || taps > MaxTaps {
		return nil, fmt.Errorf("fir: linear-phase crossover of %d taps, want an odd number from 3 to %d: the delay of the sum is whole", taps, MaxTaps)
	}
	if len(corners) == 0 {
		return nil, fmt.Errorf("fir: linear-phase crossover without corners, want at least 1")
	}
	const grid = 1 << 50
	below := make([]float64, taps) // the low-pass before
	var ways []*Filter
	last := 0.0
	for i := 0; i <= len(corners); i++ {
		upTo := make([]float64, taps)
		var name string
		switch {
		case i == len(corners):
			upTo[taps/2] = 1
			name = fmt.Sprintf("high-pass %.6g Hz", last)
		default:
			if !(corners[i] > last) {
				return nil, fmt.Errorf("fir: corner %d of %d of a crossover is %g Hz, want more than %g Hz", i+1, len(corners), corners[i], last)
			}
			lp, err := Windowed(sampleRate, taps, analog.Lowpass{Fc: corners[i]}, w)
			if err != nil {
				return nil, err
			}
			for k, v := range lp.taps {
				upTo[k] = math.Round(v*grid) / grid
			}
			name = fmt.Sprintf("low-pass %.6g Hz", corners[i])
			if i > 0 {
				name = fmt.Sprintf("band-pass %.6g to %.6g Hz", last, corners[i])
			}
			last = corners[i]
		}
		way := make([]float64, taps)
		for k := range way {
			way[k] = upTo[k] - below[k]
		}
		f, err := New(sampleRate, way, float64(taps/2), strings.Join([]string{name, "complementary", "linear phase", w.String()}, ", "))
		if err != nil {
			return nil, err
		}
		ways = append(ways, f)
		below = upTo
	}
	return ways, nil
}
