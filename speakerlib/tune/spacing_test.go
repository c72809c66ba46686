package tune_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/tune"
)

// With a gain only, an error of 0 dB below 1 kHz and 1 dB above is made even by the
// share of the band above: of ln f here ½, and of the ear's bands by the formula of
// Glasberg and Moore (1990, eq. 4; from memory), E = 21.4·log10(4.37·f/kHz + 1).
func TestSpacingCountsTheEarsBands(t *testing.T) {
	e := func(khz float64) float64 { return 21.4 * math.Log10(4.37*khz+1) }
	share := (e(10) - e(1)) / (e(10) - e(0.1))
	g, err := freq.LogGrid(100, 10e3, 480)
	if err != nil {
		t.Fatal(err)
	}
	for s, want := range map[tune.Spacing]float64{tune.LogFrequency: 0.5, tune.EarBands: share} {
		r, err := tune.Sections(tune.Goal{Source: flat(t, g, "dB", func(f float64) float64 {
			if f > 1000 {
				return 1
			}
			return 0
		}), Target: flat(t, g, "dB", constant(0)), Spacing: s, From: 100, To: 10e3, SampleRate: rate}, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		got := -20 * math.Log(r.Gain) / math.Ln10
		if math.Abs(got-want) > 1e-3 {
			t.Errorf("%v: a gain of %.4f dB, want −%.4f", s, -got, want)
		}
	}
	// What its comment says: f/ERB at 0.1, 1 and 10 kHz.
	d := func(khz float64) float64 { return e(khz*1.001) - e(khz) }
	if math.Abs(d(0.1)/d(1)-0.37) > 0.005 || math.Abs(d(10)/d(1)-1.20) > 0.005 {
		t.Errorf("ratios %.3f and %.3f", d(0.1)/d(1), d(10)/d(1))
	}
}
