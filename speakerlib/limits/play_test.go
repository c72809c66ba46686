package limits_test

import (
	"bytes"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/signal"
)

// A looped sine comes out with the magnitude of the transfer, 2 V at 50 Hz of the
// closed box with excursion X₀·ω₀²/|D| = X₀/√2; headroom, crest and the share of the
// time beyond a bound of a sine, 1 − (2/π)·asin(bound/peak), are closed forms.
func TestReachesOfASine(t *testing.T) {
	output, cone, x0, p0 := closedBox(t)
	const fs = 48e3
	x := make([]float64, 48000)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 50 * float64(i) / fs)
	}
	p := play(t, fs, x, limits.PlaySetup{Volts: 2, Loop: true})
	if s := p.Input(); math.Abs(s.Peak-2) > 1e-12 || math.Abs(s.Crest()-math.Sqrt2) > 1e-9 {
		t.Errorf("input is %+v", s)
	}
	peak := 2 * x0 / math.Sqrt2
	bounds := []limits.Bound{
		{Cause: limits.Excursion, Way: "woofer", PerVolt: cone, Peak: 2 * peak},
		limits.Amplifier{PeakVolts: 1.6}.Bound("woofer", freq.Gain(1)),
		{Cause: limits.Heat, Way: "woofer", PerVolt: freq.Gain(0.25), Peak: 1},
		{Cause: limits.Heat, Way: "woofer", PerVolt: freq.Gain(1), Peak: 1},
	}
	r, err := p.Reaches(bounds)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r[0].Peak/peak-1) > 1e-6 || math.Abs(r[0].Headroom-level.DB(2)) > 1e-5 || r[0].Over != 0 || math.Abs(r[0].Crest-math.Sqrt2) > 1e-6 || math.Abs(r[0].RMS*math.Sqrt2/peak-1) > 1e-6 {
		t.Errorf("excursion: %+v, want a peak of %g m and %g dB of headroom", r[0], peak, level.DB(2))
	}
	if want := 1 - 2/math.Pi*math.Asin(0.8); math.Abs(r[1].Over-want) > 1e-3 || math.Abs(r[1].Used-1.25) > 1e-9 || math.Abs(r[1].Headroom+level.DB(1.25)) > 1e-9 {
		t.Errorf("clipping: %+v, want %.4f of the time", r[1], want)
	}
	// A sine is what a heat bound is stated for: used by its peak.
	if math.Abs(r[2].Used-0.5) > 1e-9 || r[2].Over != 0 || math.Abs(r[3].Used-2) > 1e-9 || r[3].Over != 1 {
		t.Errorf("heat: used %g and %g, want 0.5 and 2", r[2].Used, r[3].Used)
	}
	last := r[0].Levels[len(r[0].Levels)-1]
	if last.From != -7 { // −6.02 dB
		t.Errorf("highest level of the excursion is in the bin from %g dB, want -7", last.From)
	}
	w := 2 * math.Pi * 50.0
	pressure := &freq.PolyRatio{Num: freq.NewPoly(0, 0, p0), Den: freq.NewPoly(w*w, math.Sqrt2*w, 1)}
	rms, most, err := p.Level(pressure)
	want := level.SPL(p0 * 2 / math.Sqrt2 / math.Sqrt2)
	if err != nil || math.Abs(rms-want) > 1e-6 || math.Abs(most-rms-level.DB(math.Sqrt2)) > 1e-6 {
		t.Errorf("level %.6f dB rms, %.6f peak, %v, want %.6f", rms, most, err, want)
	}
	if _, _, err := p.Level(output); err == nil || !strings.Contains(err.Error(), "resample") {
		t.Errorf("a measured response: %v", err)
	}
}

// The response of a closed box of Qtc 1/√2 to a step of voltage, cut off after a
// while, is its displacement X₀·(1 − √2·e^{−ωt/√2}·sin(ωt/√2 + π/4)), which overshoots
// by e^{−π} = 4.3 % (second-order system, ζ = 1/√2): a peak that no sine shows.
func TestPeakOfAStep(t *testing.T) {
	_, cone, x0, _ := closedBox(t)
	const fs = 48e3
	// Up for 0.1 s and down for 0.1 s, so that there is no direct current.
	x := make([]float64, 9600)
	for i := range x {
		if x[i] = 1; i >= 4800 {
			x[i] = -1
		}
	}
	for _, s := range []limits.PlaySetup{{Volts: 3}, {Volts: 3, Silence: 0.5}} {
		y, err := play(t, fs, x, s).Waveform(cone)
		if err != nil {
			t.Fatal(err)
		}
		var first float64
		for _, v := range y[:4800] {
			first = max(first, v)
		}
		if want := 3 * x0 * (1 + math.Exp(-math.Pi)); math.Abs(first/want-1) > 2e-3 {
			t.Errorf("first peak %.6g m, want %.6g", first, want)
		}
		// The edge down is twice as high, so that it overshoots twice as much.
		if want := 3 * x0 * (1 + 2*math.Exp(-math.Pi)); math.Abs(signal.StatisticsOf(y).Peak/want-1) > 2e-3 {
			t.Errorf("peak %.6g m, want %.6g", signal.StatisticsOf(y).Peak, want)
		}
	}
}

// A loop of a length that is no fast one is played twice, and is in its steady state:
// a sine of whole periods comes out as the one of a fast length.
func TestLoopOfAnyLength(t *testing.T) {
	_, cone, _, _ := closedBox(t)
	const n, fs = 47_999, 47_999.0 // 7·6857
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 50 * float64(i) / fs)
	}
	y, err := play(t, fs, x, limits.PlaySetup{Volts: 1, Loop: true}).Waveform(cone)
	if err != nil || len(y) != n {
		t.Fatalf("%d samples, %v, want %d", len(y), err, n)
	}
	g, _ := freq.NewGrid([]float64{50})
	h := cone.ResponseTo(nil, g)[0]
	for i := range y[:n-2000] { // the end rings into the silence that follows
		want := cmplx.Abs(h) * math.Sin(2*math.Pi*50*float64(i)/fs+cmplx.Phase(h))
		if math.Abs(y[i]-want) > 1e-3*cmplx.Abs(h) {
			t.Fatalf("sample %d is %g m, want %g", i, y[i], want)
		}
	}
}

// Bursts, by way of a WAV file as a user would bring it: testdata/burst.csv, by burst.py
// in the time domain. The cone moves 0.4 % less to 1.6 % farther than in a sine of that
// amplitude. What is left is the burst's own direct current, which a Play takes out.
func TestPeakOfBurstsFromAFile(t *testing.T) {
	_, cone, _, _ := closedBox(t)
	rows := testtable.Read(t, "testdata/burst.csv")
	for _, r := range rows {
		hz, want := r.Number(t, "hz"), r.Number(t, "peak_m")
		c, err := signal.Burst{SampleRate: 48e3, Hz: hz, After: 0.2}.Clip()
		if err != nil {
			t.Fatal(err)
		}
		var file bytes.Buffer
		if err := signal.WriteWAV(&file, c, signal.Float32); err != nil {
			t.Fatal(err)
		}
		wav, err := signal.ReadWAV(&file, "burst.wav", signal.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := limits.NewPlay(limits.PlaySetup{Clip: wav.Clip, Volts: 1})
		if err != nil {
			t.Fatal(err)
		}
		y, err := p.Waveform(cone)
		if err != nil {
			t.Fatal(err)
		}
		if peak := signal.StatisticsOf(y).Peak; math.Abs(peak/want-1) > 2e-4 {
			t.Errorf("%g Hz: peak %.6g m, want %.6g", hz, peak, want)
		}
	}
	if len(rows) != 6 {
		t.Errorf("%d bursts, want 6", len(rows))
	}
}

// Direct current, which no loudspeaker is given, is taken out.
func TestDirectCurrentIsTakenOut(t *testing.T) {
	x := make([]float64, 4800)
	for i := range x {
		x[i] = 0.5 + math.Sin(2*math.Pi*100*float64(i)/48e3)
	}
	y, err := play(t, 48e3, x, limits.PlaySetup{Volts: 1, Loop: true}).Waveform(freq.Gain(1))
	if err != nil {
		t.Fatal(err)
	}
	if s := signal.StatisticsOf(y); math.Abs(s.Mean) > 1e-12 || math.Abs(s.Peak-1) > 1e-9 {
		t.Errorf("what is played has %+v, want a mean of 0 and a peak of 1", s)
	}
}

// Noise of a crest of 2 has more behind a filter (the crest of filtered noise goes
// back to that of any; common practice, no source), and the rms is that of the
// spectrum.
func TestPlayedNoiseHasTheRMSOfItsSpectrum(t *testing.T) {
	_, cone, _, _ := closedBox(t)
	n, err := signal.NewNoise(signal.NoiseSetup{SampleRate: 48e3, Duration: 5, From: 10, To: 20e3, Shape: signal.Pink{}, Crest: 2, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	p, err := limits.NewPlay(limits.PlaySetup{Clip: n.Clip, Volts: 10, Loop: true})
	if err != nil {
		t.Fatal(err)
	}
	r, err := p.Reaches([]limits.Bound{{Cause: limits.Excursion, Way: "woofer", PerVolt: cone, Peak: 6e-3}})
	if err != nil {
		t.Fatal(err)
	}
	g, _ := freq.LogGrid(10, 20e3, 48)
	programme, err := limits.NewProgramme(signal.Pink{}, n.Crest, g)
	if err != nil {
		t.Fatal(err)
	}
	rms, err := programme.RMS(cone)
	if err != nil {
		t.Fatal(err)
	}
	if want := rms * 10 * n.RMS; math.Abs(r[0].RMS/want-1) > 0.01 {
		t.Errorf("rms %g m, want %g", r[0].RMS, want)
	}
	if r[0].Crest < 2.2 {
		t.Errorf("crest of the excursion is %g, that of the noise %g", r[0].Crest, n.Crest)
	}
}

func TestPlayRefusals(t *testing.T) {
	clip, err := signal.NewClip(48e3, make([]float64, 4800))
	if err != nil {
		t.Fatal(err)
	}
	for want, s := range map[string]limits.PlaySetup{
		"want a clip":        {Volts: 1},
		"at 0 V per unit":    {Clip: clip},
		"NaN V per unit":     {Clip: clip, Volts: math.NaN()},
		"silence of -1 s":    {Clip: clip, Volts: 1, Silence: -1},
		"channel of index 1": {Clip: clip, Volts: 1, Channel: 1},
		"clip and silence":   {Clip: clip, Volts: 1, Silence: 1e3},
		"4800000000":         {Clip: clip, Volts: 1, Silence: 1e300},
	} {
		if _, err := limits.NewPlay(s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
	p, err := limits.NewPlay(limits.PlaySetup{Clip: clip, Volts: 1})
	if err != nil {
		t.Fatal(err)
	}
	for want, b := range map[string]limits.Bound{
		"known for sines": {Cause: limits.Distortion, PerVolt: freq.Gain(1), Peak: 1},
		"is 0 V":          {Cause: limits.Volts, PerVolt: freq.Gain(1)},
	} {
		if _, err := p.Reaches([]limits.Bound{b}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
	if r, err := p.Reaches([]limits.Bound{{Cause: limits.Volts, PerVolt: freq.Gain(1), Peak: 1}}); err != nil || !math.IsInf(r[0].Headroom, 1) || r[0].Crest != 0 {
		t.Errorf("silence: %+v, %v", r, err)
	}
}

func BenchmarkReaches(b *testing.B) {
	n, err := signal.NewNoise(signal.NoiseSetup{SampleRate: 48e3, Duration: 10, From: 20, To: 20e3, Shape: signal.Pink{}})
	if err != nil {
		b.Fatal(err)
	}
	p, err := limits.NewPlay(limits.PlaySetup{Clip: n.Clip, Volts: 1, Loop: true})
	if err != nil {
		b.Fatal(err)
	}
	bound := []limits.Bound{{Cause: limits.Volts, PerVolt: &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1e-3)}, Peak: 1}}
	for b.Loop() {
		if _, err := p.Reaches(bound); err != nil {
			b.Fatal(err)
		}
	}
}
