package largesignal

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
)

// TestSlopeOfForceFactorModulates: where the mass rules and the voltage makes the current,
// the force is Bl(0)·(1+b·x)·i, so that both sidebands together are b·X of the carrier
// (perturbation of first order, X the amplitude of the low tone).
func TestSlopeOfForceFactorModulates(t *testing.T) {
	w, _ := woofer()
	w.Box, w.Driver.Coil, w.Driver.Bl = nil, driver.NoCoil{}, 1
	const b = 20.0 // 1/m
	bl, _ := driver.NewPolynomial([]float64{1, b}, -0.02, 0.02)
	m := build(t, w, driver.LargeSignal{Bl: bl}, Options{})
	i, err := m.TwoTone(Tone{Hz: 41, RMS: 1}, Tone{Hz: 800, RMS: 0.2}, nil)
	if err != nil {
		t.Fatal(err)
	}
	x := math.Sqrt2 * cmplx.Abs(m.linear(41, m.re).x)
	if got, want := i.Order(2), b*x; !(math.Abs(got-want) < 0.02*want) {
		t.Errorf("d2 is %.5g, want %.5g", got, want)
	}
	if i.High.Hz != 41*19.5 {
		t.Errorf("the high tone is at %g Hz, want the odd multiple of 20.5 Hz nearest 800 Hz", i.High.Hz)
	}
	if !(i.Order(3) < 0.1*i.Order(2)) {
		t.Errorf("d3 is %.3g beside a d2 of %.3g, want the second order to rule", i.Order(3), i.Order(2))
	}
}

// TestSoftSpring: far below resonance the displacement solves K₀·x·(1+κx) = F, whose
// second order is −κX²/2 at direct current and κX²/2 in magnitude at twice the frequency
// (perturbation).
func TestSoftSpring(t *testing.T) {
	w, _ := woofer()
	w.Box, w.Driver.Coil = nil, driver.NoCoil{}
	w.Driver.Cms = 0.97e-5 // 415 Hz
	const kappa = 30.0     // 1/m
	k, _ := driver.NewPolynomial([]float64{1 / w.Driver.Cms, kappa / w.Driver.Cms}, -0.02, 0.02)
	m := build(t, w, driver.LargeSignal{Kms: k}, Options{})
	h, err := m.Harmonics(Tone{Hz: 10, RMS: 5}, nil)
	if err != nil {
		t.Fatal(err)
	}
	x := cmplx.Abs(h.Cone[1])
	if want := -kappa * x * x / 2; !(math.Abs(h.Offset()-want) < 0.01*math.Abs(want)) {
		t.Errorf("offset is %.4g m, want %.4g", h.Offset(), want)
	}
	if want := kappa * x * x / 2; !(math.Abs(cmplx.Abs(h.Cone[2])-want) < 0.02*want) {
		t.Errorf("second harmonic is %.4g m, want %.4g", cmplx.Abs(h.Cone[2]), want)
	}
	if !h.Settled {
		t.Errorf("not settled: change of %.2g", h.Change)
	}
}

// TestMultitone: every excited line of a whisper is that of the linear model of package
// enclosure; loud, there are others.
func TestMultitone(t *testing.T) {
	w, l := woofer()
	m := build(t, w, l, Options{})
	h, err := m.Harmonics(Tone{Hz: 40, RMS: 1e-5}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !(math.Abs(h.Compression-1) < 1e-5) {
		t.Errorf("a whisper is compressed to %.7f, want 1", h.Compression)
	}
	c := Comb{From: 32, To: 1000, PerOctave: 3, RMS: 1e-5, Seed: 7}
	quiet, err := m.Multitone(c, nil)
	if err != nil {
		t.Fatal(err)
	}
	motion, err := w.Motion()
	if err != nil {
		t.Fatal(err)
	}
	tones := 0
	for _, o := range quiet.Lines {
		if o.Excited {
			tones++
		}
	}
	for _, o := range quiet.Lines {
		if !o.Excited {
			continue
		}
		g, _ := freq.NewGrid([]float64{o.Hz})
		want := cmplx.Abs(motion.Pressure.ResponseTo(nil, g)[0]) * 1e-5 / math.Sqrt(float64(tones))
		if !(math.Abs(o.Pa-want) < 2e-5*want) {
			t.Errorf("%g Hz: %.8g Pa, want %.8g", o.Hz, o.Pa, want)
		}
	}
	if tones != 15 || !(quiet.Distortion < 1e-5) {
		t.Errorf("%d tones with distortion %.2g, want 15 and none", tones, quiet.Distortion)
	}
	c.RMS = 8
	loud, err := m.Multitone(c, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !(loud.Distortion > 0.01) || !(loud.Distortion < 0.5) {
		t.Errorf("distortion at 8 V is %.3g, want some percent", loud.Distortion)
	}
}

// Periods that no memory holds, and silence.
func TestTonesThatCannotBe(t *testing.T) {
	w, l := woofer()
	m, err := New(w, l, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		hz, rate float64
	}{{1e-9, 0}, {1e-300, 0}, {40, 1e12}, {40, math.MaxFloat64}} {
		if _, err := m.Harmonics(Tone{Hz: c.hz, RMS: 1}, &Settings{Rate: c.rate}); err == nil {
			t.Errorf("a tone of %g Hz at %g Hz was run", c.hz, c.rate)
		}
	}
	if _, err := m.TwoTone(Tone{Hz: 1e-5, RMS: 1}, Tone{Hz: 300, RMS: 1}, nil); err == nil {
		t.Error("two tones of 1e-5 and 300 Hz were run")
	}
	var silence Products
	if silence.THD() != 0 || silence.Relative(2) != 0 {
		t.Errorf("silence has a distortion of %g", silence.THD())
	}
}
