package tune_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/tune"
)

// A peak near half the sample rate that was made without warping is found by
// unwarped sections, and by others is not.
func TestUnwarpedSectionsFindAnaloguePeaks(t *testing.T) {
	const low = 48e3
	g, err := freq.LogGrid(1e3, 22e3, 48)
	if err != nil {
		t.Fatal(err)
	}
	// The prototype in s, G = 4, Q = 1.4 at 15 kHz.
	target := flat(t, g, "dB", func(f float64) float64 {
		y2 := f / 15e3 * f / 15e3
		d := (1 - y2) * (1 - y2)
		return 10 * math.Log((d+4/(1.4*1.4)*y2)/(d+y2/(4*1.4*1.4))) / math.Ln10
	})
	goal := tune.Goal{Source: flat(t, g, "dB", constant(0)), Target: target, From: 1e3, To: 21e3, SampleRate: low}
	peak := tune.Free{Low: digital.Peak{F0: 5e3, Gain: 0.3, Q: 0.7}, High: digital.Peak{F0: 18e3, Gain: 6, Q: 4}}
	warped, err := tune.Sections(goal, []tune.Free{peak}, nil)
	if err != nil {
		t.Fatal(err)
	}
	peak.Low, peak.High = tune.Unwarped{Of: peak.Low}, tune.Unwarped{Of: peak.High}
	held, err := tune.Sections(goal, []tune.Free{peak}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !(warped.RMS > 2*held.RMS) || held.RMS > 0.2 {
		t.Errorf("unwarped leaves %.3f dB rms, bilinear %.3f dB: want at most 0.2, and half of it", held.RMS, warped.RMS)
	}
	// The gain at F0 is that of a peak (Orfanidis, JAES 45, 1997), not what a match at
	// three frequencies happens to leave.
	c, err := tune.Unwarped{Of: digital.Peak{F0: 15e3, Gain: 4, Q: 1.4}}.Biquad(low)
	if err != nil {
		t.Fatal(err)
	}
	if g := cmplx.Abs(c.At(15e3, low)); math.Abs(g-4) > 1e-9 {
		t.Errorf("gain %g at F0, want 4", g)
	}
	if _, err := (tune.Unwarped{Of: tune.Unwarped{Of: digital.Peak{F0: 100, Gain: 2, Q: 1}}}).Biquad(low); err == nil {
		t.Error("unwarped twice was accepted")
	}
}
