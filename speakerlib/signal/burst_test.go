package signal_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/signal"
)

// Closed forms: A is reached in the middle; the energy is 3/16·A²·T (the mean of
// sin⁴ is 3/8, that of sin² 1/2, and they do not mix); the power of a Hann window
// falls to a half 0.7200 lines from its middle, so that the burst is 1.44/T wide:
// 0.32 octaves.
func TestBurst(t *testing.T) {
	const fs, f = 48e3, 50.0
	c, err := signal.Burst{SampleRate: fs, Hz: f, Amplitude: 2, Before: 0.1, After: 1.5}.Clip()
	if err != nil {
		t.Fatal(err)
	}
	x := samples(t, c)
	if want := 1 + int((0.1+6.5/f+1.5)*fs); len(x) != want {
		t.Errorf("%d samples, want %d", len(x), want)
	}
	if mid := int(0.1*fs + 3.25/f*fs); math.Abs(x[mid]-2) > 1e-9 || c.Peak() > 2 {
		t.Errorf("%g in the middle and a peak of %g, want 2", x[mid], c.Peak())
	}
	var energy float64
	for _, v := range x {
		energy += v * v / fs
	}
	if want := 3.0 / 16 * 4 * 6.5 / f; math.Abs(energy/want-1) > 1e-9 {
		t.Errorf("energy %g, want %g", energy, want)
	}
	power := func(hz float64) float64 {
		var re, im float64
		for i, v := range x {
			s, c := math.Sincos(2 * math.Pi * hz * float64(i) / fs)
			re, im = re+v*c, im+v*s
		}
		return re*re + im*im
	}
	for _, side := range []float64{-0.72, 0.72} {
		if p := power(f+side*f/6.5) / power(f); math.Abs(p-0.5) > 0.01 {
			t.Errorf("power %g lines off the middle is %.4f, want 0.5", side, p)
		}
	}
}

func TestBurstRefusals(t *testing.T) {
	good := signal.Burst{SampleRate: 48e3, Hz: 50}
	for want, change := range map[string]func(*signal.Burst){
		"sample rate of a burst is 0": func(b *signal.Burst) { b.SampleRate = 0 },
		"below half":                  func(b *signal.Burst) { b.Hz = 24e3 },
		"0.5 cycles":                  func(b *signal.Burst) { b.Cycles = 0.5 },
		"amplitude of a burst is NaN": func(b *signal.Burst) { b.Amplitude = math.NaN() },
		"silence of -1 s":             func(b *signal.Burst) { b.Before = -1 },
		"samples, want at most":       func(b *signal.Burst) { b.After = math.Inf(1) },
	} {
		b := good
		change(&b)
		if _, err := b.Clip(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want an error with %q", b, err, want)
		}
	}
}
