package digital_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// closedBox is Small's closed-box response s²/(s² + s·ω/Q + ω²).
func closedBox(r digital.Resonance) *freq.PolyRatio {
	w := 2 * math.Pi * r.F
	return &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1), Den: freq.NewPoly(w*w, w/r.Q, 1)}
}

// Box times section is the target box: exactly in s, and in z to the accuracy
// that the comment of Relocate states.
func TestRelocateGivesTheTarget(t *testing.T) {
	for _, c := range []struct {
		s  digital.Relocate
		fs float64
	}{
		{digital.Relocate{digital.Resonance{80, 1.1}, digital.Resonance{40, math.Sqrt(0.5)}}, 48000},
		{digital.Relocate{digital.Resonance{62, 0.9}, digital.Resonance{35, 0.5}}, 96000},
		{digital.Relocate{digital.Resonance{45, 0.6}, digital.Resonance{70, 1.3}}, 44100},
		{digital.Relocate{digital.Resonance{980, 0.7}, digital.Resonance{1900, 0.5}}, 96000}, // a tweeter
	} {
		g, err := freq.LogGrid(5, 20000, 12)
		if err != nil {
			t.Fatal(err)
		}
		a, err := c.s.Analog()
		if err != nil {
			t.Fatal(err)
		}
		d, err := digital.NewCascade(c.fs, c.s)
		if err != nil {
			t.Fatal(err)
		}
		want := closedBox(c.s.To).ResponseTo(nil, g)
		exact := freq.Series{closedBox(c.s.From), a}.ResponseTo(nil, g)
		real := freq.Series{closedBox(c.s.From), d}.ResponseTo(nil, g)
		x0, x1 := math.Pi*c.s.From.F/c.fs, math.Pi*c.s.To.F/c.fs
		// (tan x₀/tan x₁)² = (x₀/x₁)²·(1 + 2/3·(x₀² − x₁²) + …), and 20/ln 10 ·
		// 2/3 = 5.79.
		stated := 5.79 * (x0*x0 - x1*x1)
		worst := 0.0
		for i := range want {
			if e := cmplx.Abs(exact[i]/want[i] - 1); e > 1e-13 {
				t.Errorf("%v at %g Hz: off by %g in s", c.s, g.At(i), e)
			}
			worst = max(worst, math.Abs(level.DB(cmplx.Abs(real[i]/want[i]))))
		}
		if low := level.DB(cmplx.Abs(real[0] / want[0])); math.Abs(low/stated-1) > 0.05 {
			t.Errorf("%v at %g Hz sample rate: off by %.3g dB at 5 Hz, want %.3g dB", c.s, c.fs, low, stated)
		}
		if worst > 2*math.Abs(stated) {
			t.Errorf("%v at %g Hz sample rate: off by %.3g dB somewhere, want less than twice %.3g dB", c.s, c.fs, worst, stated)
		}
		// Poles and zeros ring at the very frequencies: e^{±jω√(1−1/4Q²)/fs} in
		// the bilinear plane, p = (1−z⁻¹)/(1+z⁻¹) has |p| = tan(π·F/fs).
		b := d.At(0)
		for what, z := range map[float64]complex128{c.s.From.F: b.Zeros()[0], c.s.To.F: b.Poles()[0]} {
			z2 := z
			if imag(z) == 0 { // two real ones: the geometric mean
				continue
			}
			p := (z2 - 1) / (z2 + 1)
			if w := math.Tan(math.Pi * what / c.fs); math.Abs(cmplx.Abs(p)/w-1) > 1e-9 {
				t.Errorf("%v: rings at tan %.12g, want %.12g", c.s, cmplx.Abs(p), w)
			}
		}
		if got, want := c.s.Gain(), (c.s.From.F/c.s.To.F)*(c.s.From.F/c.s.To.F); math.Abs(got/want-1) > 1e-14 {
			t.Errorf("gain %g, want %g", got, want)
		}
	}
}

func TestRelocateRefuses(t *testing.T) {
	ok := digital.Resonance{60, 1}
	for _, s := range []digital.Relocate{
		{digital.Resonance{0, 1}, ok}, {ok, digital.Resonance{30000, 1}}, {ok, digital.Resonance{30, 0}}, {digital.Resonance{60, math.NaN()}, ok},
	} {
		if _, err := digital.NewCascade(48000, s); err == nil || !strings.HasPrefix(err.Error(), "digital: ") {
			t.Errorf("%v: error %v", s, err)
		}
	}
	if _, err := (digital.Relocate{digital.Resonance{-1, 1}, ok}).Analog(); err == nil {
		t.Error("negative frequency accepted")
	}
}
