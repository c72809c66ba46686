package activerc_test

import (
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/activerc"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
)

// The sections are the prototypes in s of the digital ones, which have tables of their own (R.
// Bristow-Johnson's note): at a sample rate of 10 MHz the warping of the bilinear transform at
// 3 kHz is (π·f/fs)²/3, 3e-7 of the frequency.
func TestSectionsAreTheAnaloguePrototypes(t *testing.T) {
	const fs = 10e6
	g := grid(t, 40, 3e3, 6)
	for _, c := range []struct {
		s analog.Section
		d digital.Section
	}{
		{activerc.Lowpass(300, 1.3, 1), digital.Lowpass{F0: 300, Q: 1.3}},
		{activerc.Highpass(300, 1.3, 1), digital.Highpass{F0: 300, Q: 1.3}},
		{activerc.Bandpass(300, 1.3, 1), digital.Bandpass{F0: 300, Q: 1.3}},
		{activerc.Notch(310, 1.3), digital.Notch{F0: 310, Q: 1.3}},
		{activerc.Allpass(300, 1.3), digital.Allpass{F0: 300, Q: 1.3}},
		{activerc.Peak(300, 2.5, 1.3), digital.Peak{F0: 300, Gain: 2.5, Q: 1.3}},
		{activerc.LowShelf(300, 2.5, 0.8), digital.LowShelf{F0: 300, Gain: 2.5, Q: 0.8}},
		{activerc.HighShelf(300, 0.4, 0.8), digital.HighShelf{F0: 300, Gain: 0.4, Q: 0.8}},
		{activerc.FirstLowpass(300, 1), digital.FirstLowpass{F0: 300}},
		{activerc.FirstHighpass(300, 1), digital.FirstHighpass{F0: 300}},
		{activerc.FirstAllpass(300), digital.FirstAllpass{F0: 300}},
		{activerc.FirstShelf(600, 150, 1), digital.FirstLowShelf{F0: 300, Gain: 4}},
		{activerc.Relocate(62, 1.1, 36, 0.7), digital.Relocate{From: digital.Resonance{F: 62, Q: 1.1}, To: digital.Resonance{F: 36, Q: 0.7}}},
	} {
		d, err := digital.NewCascade(fs, c.d)
		if err != nil {
			t.Fatal(err)
		}
		for i, want := range d.ResponseTo(nil, g) {
			if got := response(c.s, g.At(i)); cmplx.Abs(got-want) > 1e-5*cmplx.Abs(want)+1e-9 {
				t.Errorf("%v at %g Hz is %v, want %v", c.d, g.At(i), got, want)
			}
		}
	}
}
