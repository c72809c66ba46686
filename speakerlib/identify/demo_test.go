package identify_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
	"example.org/loudspeaker/speakerlib/measure"
)

func demo(tb testing.TB, name string) freq.Response {
	tb.Helper()
	f, err := os.Open(filepath.Join("../../datasets/standmount/impedance", name))
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	table, err := measure.ReadImpedance(f, name, measure.Format{})
	if err != nil {
		tb.Fatal(err)
	}
	r, err := table.Stated()
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

func pair(tb testing.TB) []identify.Measurement {
	return []identify.Measurement{
		{Impedance: demo(tb, "woofer-free-air.txt"), Setup: identify.FreeAir{}, Kelvin: 293.15, KelvinError: 1},
		{Impedance: demo(tb, "woofer-added-mass.txt"), Setup: identify.AddedMass{Mass: 10e-3, Accuracy: 0.003}},
	}
}

// The demo woofer comes from a generator with another coil (fractional elements in
// two rungs) and a resonance of the surround, which no model here has. The truth is
// in datasets/README.md. Re comes out 0.5 % too high and Qes 0.6 %, because the
// surround's resonance leans on the coil; everything else within 0.3 %, and the creep
// 3.3 % too low. All are within two of their standard errors, which count the misfit
// that hangs together as few independent points.
func TestDemoWoofer(t *testing.T) {
	r, err := identify.Fit(pair(t), &identify.Settings{Sd: 138e-4, Air: air.Room()})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range r.Candidates {
		t.Logf("%-45s %-20v rms %.4f AICc %8.1f %v", identify.CoilName(c.Coil), c.Suspension, c.RMS, c.AICc, c.Chosen)
	}
	t.Logf("rms %.4g", r.RMS)
	for i, c := range r.Residual {
		p, err := c.Max(0, 1e6)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("largest misfit of curve %d: %.3g at %.4g Hz", i, p.Value, p.Hz)
	}
	for _, p := range r.Parameters {
		t.Log(p)
	}
	for _, w := range r.Warnings {
		t.Log(w.Text)
	}
	// The noise of the files is 0.3 % and 2 mΩ; twice that is left, and it is said.
	if r.RMS > 0.005 || !warned(r, identify.Systematic) {
		t.Errorf("misfit %.3g with warnings %v, want at most 0.005 and one of it", r.RMS, r.Warnings)
	}
	const re, fs, qms, qes, mms, creep = 5.5, 41.5, 4.7, 0.39, 15.2e-3, 0.07
	w := 2 * math.Pi * fs
	for _, c := range []struct {
		s           identify.Symbol
		want, bound float64
	}{
		{identify.Re, re, 0.01}, {identify.Fs, fs, 0.002}, {identify.Qms, qms, 0.01}, {identify.Qes, qes, 0.01},
		{identify.Mms, mms, 0.01}, {identify.Cms, 1 / (w * w * mms), 0.01}, {identify.Bl, math.Sqrt(w * mms * re / qes), 0.01},
		{identify.Decay, creep, 0.1},
	} {
		p := value(t, r, c.s)
		t.Logf("%s: bias %+.2f %% (%.1f standard errors)", c.s, 100*(p.Value/c.want-1), (p.Value-c.want)/p.Error)
		if math.Abs(p.Value/c.want-1) > c.bound || math.Abs(p.Value-c.want) > 2*p.Error {
			t.Errorf("%v: want %g within %g %% and two errors", p, c.want, 100*c.bound)
		}
	}
}

func TestDemoTweeter(t *testing.T) {
	r, err := identify.Fit([]identify.Measurement{{Impedance: demo(t, "tweeter-free-air.txt"), Setup: identify.FreeAir{}}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range r.Candidates {
		t.Logf("%-45s %-20v rms %.4f AICc %8.1f %v", identify.CoilName(c.Coil), c.Suspension, c.RMS, c.AICc, c.Chosen)
	}
	for _, w := range r.Warnings {
		t.Log(w.Text)
	}
	for s, c := range map[identify.Symbol][2]float64{identify.Re: {4.9, 0.005}, identify.Fs: {980, 0.01}, identify.Qms: {1.6, 0.05}, identify.Qes: {1.15, 0.05}} {
		p := value(t, r, s)
		t.Logf("%v: bias %+.2f %% (%.1f standard errors)", p, 100*(p.Value/c[0]-1), (p.Value-c[0])/p.Error)
		if math.Abs(p.Value/c[0]-1) > c[1] {
			t.Errorf("%v: want %g within %g %%", p, c[0], 100*c[1])
		}
	}
}
