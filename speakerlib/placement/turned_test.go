package placement_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/placement"
)

// A low shelf has its gain at direct current, a high shelf at half the sample rate, a peak at its
// frequency (R. Bristow-Johnson, "Cookbook formulae for audio EQ biquad filter coefficients"); of
// a cut nothing is to be taken off.
func TestTurnedDown(t *testing.T) {
	for name, c := range map[string]struct {
		section digital.Section
		gain    float64
		want    float64
	}{
		"low shelf":        {digital.LowShelf{F0: 80, Gain: level.Ratio(2), Q: 0.7}, 0, -2},
		"high shelf":       {digital.HighShelf{F0: 4000, Gain: level.Ratio(3), Q: 0.7}, 0, -3},
		"at the bottom":    {digital.LowShelf{F0: 0.4, Gain: level.Ratio(2), Q: 0.7}, 0, -2},
		"at the top":       {digital.HighShelf{F0: 47.5e3, Gain: level.Ratio(3), Q: 0.7}, 0, -3},
		"narrow peak":      {digital.Peak{F0: 61.7, Gain: level.Ratio(9), Q: 20}, 0, -9},
		"with a gain":      {digital.LowShelf{F0: 80, Gain: level.Ratio(2), Q: 0.7}, 1, -2},
		"turned down more": {digital.LowShelf{F0: 80, Gain: level.Ratio(2), Q: 0.7}, -5, -5},
		"cut":              {digital.LowShelf{F0: 80, Gain: level.Ratio(-4), Q: 0.7}, 0, 0},
	} {
		f := must[*digital.Cascade](t)(placement.TurnedDown(cascade(t, c.gain, c.section)))
		if got := level.DB(f.Gain()); math.Abs(got-c.want) > 1e-3 || f.Len() != 1 {
			t.Errorf("%s: gain %.4f dB, want %.4f", name, got, c.want)
		}
	}
	if _, err := placement.TurnedDown(nil); err == nil {
		t.Error("no filter was turned down")
	}
}

// Maxima between sections, and of what peaks off its pole, against steps of 10⁻⁵ of the
// frequency: nothing is larger than 0 dB, and something is 0 dB.
func TestTurnedDownBetweenThePoles(t *testing.T) {
	for name, s := range map[string][]digital.Section{
		"two peaks":          {digital.Peak{F0: 1000, Gain: level.Ratio(6), Q: 5}, digital.Peak{F0: 1130, Gain: level.Ratio(6), Q: 8}},
		"a peak and a dip":   {digital.Peak{F0: 18e3, Gain: level.Ratio(12), Q: 5}, digital.Peak{F0: 18.5e3, Gain: level.Ratio(-9), Q: 3}},
		"a shelf that rings": {digital.HighShelf{F0: 40e3, Gain: level.Ratio(10), Q: 2}},
		"a broad peak":       {digital.Peak{F0: 41e3, Gain: level.Ratio(15), Q: 3}},
		"a high-pass":        {digital.Highpass{F0: 44e3, Q: 8}},
		"very narrow peaks":  {digital.Peak{F0: 1000, Gain: level.Ratio(12), Q: 20}, digital.Peak{F0: 1030, Gain: level.Ratio(12), Q: 20}},
	} {
		f := must[*digital.Cascade](t)(placement.TurnedDown(cascade(t, 0, s...)))
		most := 0.0
		for hz := 500.0; hz < fs/2; hz *= 1.00001 {
			h := complex(f.Gain(), 0)
			for k := range f.Len() {
				h *= f.At(k).At(hz, fs)
			}
			most = max(most, cmplx.Abs(h))
		}
		if db := level.DB(most); db > 1e-6 || db < -1e-3 {
			t.Errorf("%s: %.6f dB are left, want 0", name, db)
		}
	}
}

// Whatever is combined of positions that were turned down, no sine is larger than in neutral.
func TestTurnedDownNeedsNoHeadroom(t *testing.T) {
	g := grid(t, 10, 40e3, 24)
	c := panel(t)
	for _, k := range c.Controls {
		for i, p := range k.Positions {
			k.Positions[i].Cascade = must[*digital.Cascade](t)(placement.TurnedDown(p.Cascade))
		}
	}
	c.Controls[2].Neutral = 3
	h := must[*placement.Headroom](t)(c.Headroom(g, placement.Way{Name: "w"}))
	if h.SafeOf != 36 || h.Combinations != 36 || h.Sine.Sine > 1e-9 || h.Neutral[0].Sine != 0 {
		t.Errorf("%d of %d are safe, most gain %g dB", h.SafeOf, h.Combinations, h.Sine.Sine)
	}
}
