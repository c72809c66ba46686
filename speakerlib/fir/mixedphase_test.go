package fir_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// A crossover's all-pass, a peak and a delay: what comes out must be a delay of
// Ahead and what the system had, at even magnitude, in the band, once there is room
// ahead; and with less room the bound on what rings ahead must hold.
func TestMixedPhase(t *testing.T) {
	const fs = 48000.0
	system, err := digital.NewCascade(fs, digital.Allpass{F0: 300, Q: 0.7071}, digital.Peak{F0: 1000, Gain: level.Ratio(5), Q: 1}, digital.HighShelf{F0: 4000, Gain: level.Ratio(-3), Q: 0.7})
	if err != nil {
		t.Fatal(err)
	}
	bare, err := digital.NewCascade(fs, digital.Peak{F0: 1000, Gain: level.Ratio(5), Q: 1}, digital.HighShelf{F0: 4000, Gain: level.Ratio(-3), Q: 0.7})
	if err != nil {
		t.Fatal(err)
	}
	if system, err = system.WithDelay(37); err != nil {
		t.Fatal(err)
	}
	g, err := freq.LogGrid(60, 15000, 12)
	if err != nil {
		t.Fatal(err)
	}
	h := system.ResponseTo(nil, g)
	ask := fir.Correction{Taps: 8192, Lo: 30, Hi: 18000, Boost: level.Ratio(6), Ahead: 0.02, Ringing: 0.5, Guard: 1e-4}
	off := func(d *fir.MixedPhaseDesign) (phase, magnitude float64) {
		c := d.ResponseTo(nil, g)
		var ref float64
		for i := range h {
			y := h[i] * c[i] * cmplx.Rect(1, 2*math.Pi*g.At(i)*(d.Latency()+37/fs))
			if i == 0 {
				ref = cmplx.Abs(y)
			}
			phase = math.Max(phase, math.Abs(cmplx.Phase(y)))
			magnitude = math.Max(magnitude, math.Abs(level.DB(cmplx.Abs(y)/ref)))
		}
		return phase, magnitude
	}
	d, err := fir.MixedPhase(fs, system, ask)
	if err != nil {
		t.Fatal(err)
	}
	p, m := off(d)
	// The level is that of the mean over octaves, which the correction leaves alone.
	octaves, err := freq.LogGrid(30, 18000, 48)
	if err != nil {
		t.Fatal(err)
	}
	var mean float64
	for _, v := range system.ResponseTo(nil, octaves) {
		mean += level.DB(cmplx.Abs(v)) / float64(octaves.Len())
	}
	if l := level.DB(cmplx.Abs(h[0] * d.At(g.At(0)))); math.Abs(l-mean) > 0.05 {
		t.Errorf("%v: corrected level is %.3f dB, want the mean of %.3f dB", d, l, mean)
	}
	if p > 0.06 || m > 0.1 || d.Begins != 0.02 || d.Samples() != 960 {
		t.Errorf("%v: phase within %.3g rad, magnitude within %.3g dB", d, p, m)
	}
	last := p
	for _, bound := range []float64{0.02, 0.003} {
		ask.Ringing, ask.Guard = bound, 5e-4
		d, err := fir.MixedPhase(fs, system, ask)
		if err != nil {
			t.Fatal(err)
		}
		p, m := off(d)
		// What is said of the ringing, seen by running the filter and a system
		// without the all-pass.
		x := make([]float64, 16384)
		x[0] = 1
		y := bare.NewFilter().Process(nil, d.NewRunner().Process(nil, x))
		peak, at := 0.0, 0
		for i, v := range y {
			if math.Abs(v) > peak {
				peak, at = math.Abs(v), i
			}
		}
		var ring float64
		for i := range at - 24 {
			ring = math.Max(ring, math.Abs(y[i])/peak)
		}
		worst := math.Max(ring, d.Corrected.Ringing)
		if said := d.Uncancelled.Ringing; worst > bound*1.02 || worst < bound*0.8 || math.Abs(ring-said) > 0.02*bound || d.Latency() != 0.02 {
			t.Errorf("%v: rings at %.3g and %.3g ahead, said %.3g, want just below %g", d, ring, d.Corrected.Ringing, said, bound)
		}
		if m > 0.2 || p < last {
			t.Errorf("%v: magnitude within %.3g dB, phase within %.3g rad, want 0.2 dB and more than %.3g rad", d, m, p, last)
		}
		last = p
	}
	// The boost is bounded.
	ask = fir.Correction{Taps: 4096, Lo: 30, Hi: 18000, Boost: level.Ratio(2), Ahead: 0, Ringing: 0.5}
	dip, err := digital.NewCascade(fs, digital.Peak{F0: 500, Gain: level.Ratio(-20), Q: 2})
	if err != nil {
		t.Fatal(err)
	}
	if d, err = fir.MixedPhase(fs, dip, ask); err != nil {
		t.Fatal(err)
	}
	if b := level.DB(cmplx.Abs(d.At(500))); b > 2.1 || d.Latency() != 0 {
		t.Errorf("%v boosts by %.2f dB, want at most 2 dB", d, b)
	}
}

func TestMixedPhaseRefuses(t *testing.T) {
	wire, err := digital.NewCascade(48000)
	if err != nil {
		t.Fatal(err)
	}
	ok := fir.Correction{Taps: 1024, Lo: 200, Hi: 18000, Boost: 2, Ahead: 0.005, Ringing: 0.1}
	for want, change := range map[string]func(c *fir.Correction){
		"8 taps":               func(c *fir.Correction) { c.Taps = 8 },
		"40000 taps":           func(c *fir.Correction) { c.Taps = 40000 },
		"200 to 30000 Hz":      func(c *fir.Correction) { c.Hi = 30000 },
		"boost":                func(c *fir.Correction) { c.Boost = 0.5 },
		"half its length":      func(c *fir.Correction) { c.Ahead = 1 },
		"ringing ahead is":     func(c *fir.Correction) { c.Ringing = math.NaN() },
		"guard before":         func(c *fir.Correction) { c.Guard = -1 },
		"has 1 points":         func(c *fir.Correction) { c.Lo, c.Hi = 201, 215 },
		"the magnitude 0 at":   nil,
		"half the sample rate": func(c *fir.Correction) { c.Lo = -1 },
	} {
		c := ok
		system := freq.Transfer(wire)
		if change == nil {
			system = freq.Gain(0)
		} else {
			change(&c)
		}
		if _, err := fir.MixedPhase(48000, system, c); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: error %v, want one with %q", c, err, want)
		}
	}
}
