package dsp

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
)

// The norms of a filter of finite length are those of its taps: Σ|h| and √(Σ h²); a
// linear-phase low-pass of positive gain has its largest at direct current or in a ripple
// that a dense sweep finds too.
func TestHeadroomOfFIR(t *testing.T) {
	f, err := fir.Windowed(48000, 401, analog.Lowpass{Fc: 3000}, fir.Rectangular{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := Realise(Chain{Sections: cascade(t, 48000, 1), FIR: []*fir.Filter{f}}, Arithmetic{Signal: Fixed(1, 30), Coefficient: Fixed(0, 31), Accumulator: 72}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	nodes, err := r.Program.Headroom()
	if err != nil {
		t.Fatal(err)
	}
	var top float64
	for hz := 2500.; hz < 3100; hz += 0.05 {
		h := f.At(hz)
		top = math.Max(top, math.Hypot(real(h), imag(h)))
	}
	n := nodes[0]
	if h := f.Taps(); len(nodes) != 1 || math.Abs(n.L1/floats.Norm(h, 1)-1) > 1e-7 || math.Abs(n.L2/floats.Norm(h, 2)-1) > 1e-7 || math.Abs(n.LInf/top-1) > 1e-6 {
		t.Errorf("%+v, want L1 %g, L2 %g, L∞ %g", nodes, floats.Norm(h, 1), floats.Norm(h, 2), top)
	}
	// Rounding noise of one sum of many products: q²/12, white.
	noise, err := r.Program.Noise(0)
	if err != nil {
		t.Fatal(err)
	}
	if want := math.Ldexp(1, -60) / 12; math.Abs(noise.Power/want-1) > 1e-9 {
		t.Errorf("noise %g, want %g", noise.Power, want)
	}
	g, err := freq.NewGrid([]float64{1000, 24000})
	if err != nil {
		t.Fatal(err)
	}
	d, err := noise.Density(g, "noise")
	if err != nil {
		t.Fatal(err)
	}
	if want := noise.Power / 24000; math.Abs(d.At(0)/want-1) > 1e-9 || math.Abs(d.At(1)/want-1) > 1e-9 {
		t.Errorf("density %g and %g FS²/Hz, want %g", d.At(0), d.At(1), want)
	}
	if r.Program.Latency() != 200 {
		t.Errorf("latency %g samples, want 200", r.Program.Latency())
	}
	above, err := freq.NewGrid([]float64{1000, 24001})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := noise.Density(above, "noise"); err == nil || !strings.Contains(err.Error(), "24001 Hz, want at most 24000 Hz") {
		t.Errorf("density above half the sample rate: %v", err)
	}
}

// Rounded linear-phase taps stay symmetric, and long filters are analysed too.
func TestLongFIR(t *testing.T) {
	f, err := fir.Windowed(96000, 8191, analog.Lowpass{Fc: 200}, fir.Kaiser{Beta: 8})
	if err != nil {
		t.Fatal(err)
	}
	a := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(0, 23), Accumulator: 64, Exponent: 12}
	r, err := Realise(Chain{Sections: cascade(t, 96000, 1, digital.Highpass{F0: 30, Q: 0.7}), FIR: []*fir.Filter{f}}, a, Options{Structure: StateVariable})
	if err != nil {
		t.Fatal(err)
	}
	back, err := r.Program.FIR[0].Filter(96000)
	if err != nil {
		t.Fatal(err)
	}
	if !back.LinearPhase() {
		t.Error("rounded taps are not symmetric")
	}
	// The largest tap is 200/48000: with its own shift it fills the word.
	if top := math.Abs(float64(r.Program.FIR[0].Taps[4095].Word)); top < 1<<22 {
		t.Errorf("largest tap is the word %g, want more than half of 2²³", top)
	}
	noise, err := r.Program.Noise(0)
	if err != nil {
		t.Fatal(err)
	}
	// What comes through the low-pass, integrated on a grid finer than its ripples.
	var sum float64
	const m = 1 << 17
	for k := range m / 64 {
		sum += noise.at((float64(k)+0.5)*48000/m) / m
	}
	own := noise.Sources[len(noise.Sources)-1].Variance
	sum += own * (1 - 1./64)
	if math.Abs(sum/noise.Power-1) > 1e-3 {
		t.Errorf("noise %.6g, integrated %.6g", noise.Power, sum)
	}
	if _, err := r.Program.Headroom(); err != nil {
		t.Error(err)
	}
}
