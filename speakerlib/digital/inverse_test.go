package digital_test

import (
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// A cascade and its inverse are a wire; the opposite peak of the note is the
// inverse of a peak.
func TestInverse(t *testing.T) {
	peak := digital.Peak{F0: 900, Gain: 2, Q: 3}
	c, err := digital.NewCascade(48000, peak, digital.LowShelf{F0: 100, Gain: 0.4, Q: 0.8}, digital.Relocate{From: digital.Resonance{F: 60, Q: 1}, To: digital.Resonance{F: 35, Q: 0.6}})
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithPolarity(true).WithGain(0.3); err != nil {
		t.Fatal(err)
	}
	inv, err := c.Inverse()
	if err != nil {
		t.Fatal(err)
	}
	both, err := c.Then(inv)
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LogGrid(10, 23000, 6)
	if err != nil {
		t.Fatal(err)
	}
	for i, h := range both.ResponseTo(nil, g) {
		if cmplx.Abs(h-1) > 1e-11 {
			t.Errorf("at %g Hz the two are %v, want 1", g.At(i), h)
		}
	}
	dip, err := digital.Peak{F0: 900, Gain: 0.5, Q: 3}.Biquad(48000)
	if err != nil {
		t.Fatal(err)
	}
	if b := inv.At(0); cmplx.Abs(b.At(700, 48000)-dip.At(700, 48000)) > 1e-13 || inv.Design(0) != "inverse of "+peak.String() {
		t.Errorf("%s is %v, want %v", inv.Design(0), b, dip)
	}
	for want, s := range map[string]digital.Section{
		"Hz has the radius 1 +0.0332":          digital.Allpass{F0: 1000, Q: 2},
		"a zero at 24000 Hz has the radius 1 ": digital.Lowpass{F0: 1000, Q: 2},
		"b0 is 0":                              digital.Given{SampleRate: 48000, Coefficients: digital.Biquad{B1: 1}, Design: "one sample"},
	} {
		c, err := digital.NewCascade(48000, peak, s)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := c.Inverse(); err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "section 2 of 2") {
			t.Errorf("%v: error %v, want one with %q", s, err, want)
		}
	}
	if c, err = c.WithDelay(3); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Inverse(); err == nil || !strings.Contains(err.Error(), "3 samples") {
		t.Errorf("error %v", err)
	}
}
