package loudness_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/loudness"
)

func of(t *testing.T, c clipped) loudness.Loudness {
	t.Helper()
	l, err := loudness.Of(clip(t, c.rate, c.duration, c.channels...), c.positions...)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

type clipped struct {
	rate, duration float64
	channels       []func(float64) float64
	positions      []loudness.Position
}

// ITU-R BS.1770-4, Annex 1 (from memory): a sine of 997 Hz at 0 dB re full scale in
// one front channel reads −3.01 LKFS, at any sample rate.
func TestFullScaleSine(t *testing.T) {
	for _, rate := range []float64{32000, 44100, 48000, 88200, 96000, 192000} {
		l := of(t, clipped{rate, 5, []func(float64) float64{sine(997, 1)}, nil})
		t.Logf("%g Hz: %.4f", rate, l.Integrated)
		if math.Abs(l.Integrated+3.01) > 0.01 {
			t.Errorf("at %g Hz: %.4f LKFS, want −3.01", rate, l.Integrated)
		}
	}
}

// The compliance signals of EBU Tech 3341 for integrated loudness (cases 1 to 6; from
// memory): each reads the stated value ±0.1 LU. Levels are of the peak of a 1 kHz sine.
func TestComplianceSignals(t *testing.T) {
	type step struct{ db, s float64 }
	tones := func(steps ...step) (func(float64) float64, float64) {
		var all float64
		for _, s := range steps {
			all += s.s
		}
		return func(t float64) float64 {
			at := t
			for _, s := range steps {
				if at < s.s {
					return level.Ratio(s.db) * math.Sin(2*math.Pi*1000*t)
				}
				at -= s.s
			}
			return 0
		}, all
	}
	for _, c := range []struct {
		name  string
		steps []step
		want  float64
	}{
		{"1", []step{{-23, 20}}, -23},
		{"2", []step{{-33, 20}}, -33},
		{"3", []step{{-36, 10}, {-23, 60}, {-36, 10}}, -23},
		{"4", []step{{-72, 10}, {-36, 10}, {-23, 60}, {-36, 10}, {-72, 10}}, -23},
		{"5", []step{{-26, 20}, {-20, 20.1}, {-26, 20}}, -23},
	} {
		f, s := tones(c.steps...)
		l := of(t, clipped{48000, s, []func(float64) float64{f, f}, nil})
		if math.Abs(l.Integrated-c.want) > 0.1 {
			t.Errorf("case %s: %.3f, want %g ± 0.1", c.name, l.Integrated, c.want)
		}
	}
	tone := func(db float64) func(float64) float64 { return sine(1000, level.Ratio(db)) }
	l := of(t, clipped{48000, 20, []func(float64) float64{tone(-28), tone(-28), tone(-24), tone(0), tone(-30), tone(-30)},
		[]loudness.Position{loudness.Front, loudness.Front, loudness.Front, loudness.Bass, loudness.Surround, loudness.Surround}})
	if math.Abs(l.Integrated+23) > 0.1 {
		t.Errorf("case 6: %.3f, want −23 ± 0.1", l.Integrated)
	}
}

// SciPy: testdata/loudness_scipy.py.
func TestLoudnessAgainstSciPy(t *testing.T) {
	for _, row := range scipy(t, "loudness") {
		rate := row.Number(t, "rate_hz")
		l := of(t, clipped{rate, 9.73, []func(float64) float64{left, right}, []loudness.Position{loudness.Front, loudness.Surround}})
		for column, v := range map[string]float64{"a": l.Integrated, "b": l.Ungated, "c": l.Gate, "d": float64(l.Blocks), "e": float64(l.Passed)} {
			if want := row.Number(t, column); !(math.Abs(v-want) <= 1e-9) {
				t.Errorf("at %g Hz, column %s: %.12g, want %.12g", rate, column, v, want)
			}
		}
		if l.Passed >= l.Blocks-10 || l.Integrated-l.Ungated < 0.5 {
			t.Errorf("at %g Hz the gates do nothing: %+v", rate, l)
		}
	}
}

func TestWeightingAgainstSciPy(t *testing.T) {
	for _, row := range scipy(t, "response") {
		rate, hz := row.Number(t, "rate_hz"), row.Number(t, "a")
		k, err := loudness.Weighting(rate)
		if err != nil {
			t.Fatal(err)
		}
		g, err := freq.NewGrid([]float64{hz})
		if err != nil {
			t.Fatal(err)
		}
		got, want := k.ResponseTo(nil, g)[0], complex(row.Number(t, "b"), row.Number(t, "c"))
		if d := got - want; math.Hypot(real(d), imag(d)) > 1e-9 {
			t.Errorf("K at %g Hz, %g Hz: %v, want %v", rate, hz, got, want)
		}
	}
}

// What the doc comment says of other rates, against the printed coefficients.
func TestRatesHaveOneResponse(t *testing.T) {
	g, err := freq.LogGrid(10, 20000, 12)
	if err != nil {
		t.Fatal(err)
	}
	printed, err := loudness.Weighting(48000)
	if err != nil {
		t.Fatal(err)
	}
	want := level.OfComplex(nil, printed.ResponseTo(nil, g))
	for _, c := range []struct{ rate, most float64 }{{44100, 0.002}, {96000, 0.007}} {
		k, err := loudness.Weighting(c.rate)
		if err != nil {
			t.Fatal(err)
		}
		var off float64
		for i, v := range level.OfComplex(nil, k.ResponseTo(nil, g)) {
			off = max(off, math.Abs(v-want[i]))
		}
		if off > c.most {
			t.Errorf("at %g Hz off by %.5f dB, want at most %g dB", c.rate, off, c.most)
		}
	}
}

// A signal that is silent, or soft enough for the absolute gate, reads −Inf.
func TestSilence(t *testing.T) {
	for _, a := range []float64{0, level.Ratio(-72)} {
		l := of(t, clipped{48000, 1, []func(float64) float64{sine(1000, a)}, nil})
		if !math.IsInf(l.Integrated, -1) || l.Passed != 0 || l.Blocks != 7 {
			t.Errorf("amplitude %g: %+v", a, l)
		}
	}
}

// Just above the absolute gate it counts: −66 dB re full scale, 3.01 dB less in rms.
func TestAbsoluteGate(t *testing.T) {
	l := of(t, clipped{48000, 2, []func(float64) float64{sine(997, level.Ratio(-66))}, nil})
	if math.Abs(l.Integrated+69.01) > 0.01 || l.Passed != l.Blocks {
		t.Errorf("−66 dB: %+v, want −69.01", l)
	}
}

// Silence counts without gates: half of it takes 3.01 dB.
func TestUngatedCountsSilence(t *testing.T) {
	l := of(t, clipped{48000, 40, []func(float64) float64{func(t float64) float64 {
		if t >= 20 {
			return 0
		}
		return math.Sin(2 * math.Pi * 997 * t)
	}}, nil})
	if math.Abs(l.Ungated+6.02) > 0.03 || math.Abs(l.Integrated+3.03) > 0.03 {
		t.Errorf("%+v, want −6.02 without gates and about −3.01 with", l)
	}
}

func TestRefusesWhatHasNoLoudness(t *testing.T) {
	c := clip(t, 48000, 0.39, sine(1000, 1))
	if _, err := loudness.Of(c); err == nil {
		t.Error("0.39 s taken")
	}
	c = clip(t, 48000, 1, sine(1000, 1))
	if _, err := loudness.Of(c, loudness.Front, loudness.Front); err == nil {
		t.Error("two positions for one channel taken")
	}
	if _, err := loudness.Of(c, loudness.Position(3)); err == nil {
		t.Error("position 3 taken")
	}
	for _, rate := range []float64{0, -48000, 4000, math.NaN(), math.Inf(1)} {
		if _, err := loudness.Weighting(rate); err == nil {
			t.Errorf("K weighting at %g Hz taken", rate)
		}
	}
}

// A sine at a quarter of the sample rate, 45° off the samples, has its peaks between
// them: samples at ±0.7071, a peak of 1. At 0.45 of the rate the peaks seen are up to
// 0.554 dB low (BS.1770-4, Annex 2, attachment 1: 20·lg cos(π·f/(n·fs)) for n = 4; from
// memory).
func TestTruePeak(t *testing.T) {
	for _, c := range []struct{ f, phase, most, least float64 }{
		{0.25, math.Pi / 4, 0.01, -0.01},
		{0.25, math.Pi / 16, 0.01, -0.18},
		{0.45, 0.3, 0.02, -0.56},
		{0.1, 0.2, 0.01, -0.03},
	} {
		x := clip(t, 48000, 0.1, func(t float64) float64 {
			// Faded in and out, or the ends ring.
			w := math.Sin(math.Pi * t / 0.1)
			return w * w * math.Sin(2*math.Pi*c.f*48000*t+c.phase)
		})
		if db := level.DB(loudness.TruePeak(x)); db > c.most || db < c.least {
			t.Errorf("at %g of the rate: %.4f dB, want %g … %g", c.f, db, c.least, c.most)
		}
	}
}
