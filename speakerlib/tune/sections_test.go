package tune_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

const rate = 96e3

func curve(t testing.TB, label string, tr freq.Transfer) freq.Curve {
	t.Helper()
	g, err := freq.LogGrid(20, 20e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	r, err := freq.Evaluate(tr, g, label, freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	return r.DB(1)
}

func cascade(t testing.TB, s ...digital.Section) *digital.Cascade {
	t.Helper()
	c, err := digital.NewCascade(rate, s...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func dB(v float64) float64 { return level.Ratio(v) }

// A target that sections can meet must be met, and by the very sections: the
// source is flat, the target a chain of a high-pass, a shelf and two peaks at
// other places than the middle of the bounds.
func TestFindsTheSectionsOfATarget(t *testing.T) {
	want := cascade(t,
		digital.Highpass{F0: 38, Q: 1.7},
		digital.LowShelf{F0: 300, Gain: dB(5), Q: 0.6},
		digital.Peak{F0: 1300, Gain: dB(-4), Q: 2},
		digital.Peak{F0: 6000, Gain: dB(3), Q: 1.2})
	goal := tune.Goal{
		Source: curve(t, "source", freq.Gain(0.1)),
		Target: curve(t, "target", freq.Series{want, freq.Gain(0.3)}),
		From:   25, To: 18e3, SampleRate: rate,
	}
	free := []tune.Free{
		{Low: digital.Highpass{F0: 20, Q: 0.5}, High: digital.Highpass{F0: 60, Q: 3}},
		{Low: digital.LowShelf{F0: 100, Gain: dB(-12), Q: 0.4}, High: digital.LowShelf{F0: 1000, Gain: dB(12), Q: 1}},
		{Low: digital.Peak{F0: 200, Gain: dB(-12), Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 8}},
		{Low: digital.Peak{F0: 200, Gain: dB(-12), Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 8}},
	}
	r, err := tune.Sections(goal, free, nil)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.Worst) > 1e-6 || r.RMS > 1e-6 || math.Abs(r.Gain/3-1) > 1e-6 || len(r.Bound) != 0 {
		t.Errorf("worst %g dB, rms %g dB, gain %g (want 3), on bounds %v, %v", r.Worst, r.RMS, r.Gain, r.Bound, r.Stopped)
	}
	if hp := r.Sections[0].(digital.Highpass); math.Abs(hp.F0-38) > 1e-4 || math.Abs(hp.Q-1.7) > 1e-4 {
		t.Errorf("high-pass %+v, want 38 Hz and Q 1.7", hp)
	}
}

// With Enough, a peak that is not needed is not used.
func TestStopsWhenItIsEnough(t *testing.T) {
	goal := tune.Goal{
		Source: curve(t, "source", freq.Gain(1)),
		Target: curve(t, "target", cascade(t, digital.Peak{F0: 1300, Gain: dB(-4), Q: 2})),
		From:   100, To: 10e3, SampleRate: rate,
	}
	peak := tune.Free{Low: digital.Peak{F0: 200, Gain: dB(-12), Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 8}}
	r, err := tune.Sections(goal, []tune.Free{peak, peak, peak}, &tune.Settings{Enough: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Sections) != 1 || math.Abs(r.Worst) > 0.1 {
		t.Errorf("%d sections with %g dB, want 1 within 0.1 dB", len(r.Sections), r.Worst)
	}
}

// A peak that helps little is not kept: a tilt of 1 dB over the band is no work
// for peaks of high Q, however many are offered.
func TestLeavesOutWhatDoesNotHelp(t *testing.T) {
	goal := tune.Goal{
		Source: curve(t, "source", freq.Gain(1)),
		Target: curve(t, "target", cascade(t, digital.Peak{F0: 1000, Gain: dB(1), Q: 0.2})),
		From:   100, To: 10e3, SampleRate: rate,
	}
	narrow := tune.Free{Low: digital.Peak{F0: 200, Gain: dB(-12), Q: 6}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 9}}
	r, err := tune.Sections(goal, []tune.Free{narrow, narrow, narrow, narrow}, &tune.Settings{Least: 0.3})
	if err != nil {
		t.Fatal(err)
	}
	all, err := tune.Sections(goal, []tune.Free{narrow, narrow, narrow, narrow}, &tune.Settings{Least: 1e-9})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Sections) != 0 || len(all.Sections) != 4 || all.RMS >= r.RMS {
		t.Errorf("%d sections (rms %g dB) where they help little, %d (rms %g dB) where all may stay; want 0 and 4", len(r.Sections), r.RMS, len(all.Sections), all.RMS)
	}
	if _, err := tune.Sections(goal, nil, &tune.Settings{Least: 1}); err == nil {
		t.Error("a peak that takes away everything was asked for")
	}
}

// A bound that keeps the fit from its target is named, and what is reported as
// the residual is what the exported cascade really leaves.
func TestTellsBoundsAndTheTrueResidual(t *testing.T) {
	goal := tune.Goal{
		Source: curve(t, "source", freq.Gain(1)),
		Target: curve(t, "target", cascade(t, digital.Peak{F0: 1000, Gain: dB(-6), Q: 1})),
		From:   100, To: 10e3, SampleRate: rate,
	}
	free := []tune.Free{{Low: digital.Peak{F0: 500, Gain: dB(-3), Q: 0.5}, High: digital.Peak{F0: 2000, Gain: dB(3), Q: 2}}}
	r, err := tune.Sections(goal, free, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Bound) == 0 || !strings.Contains(r.Bound[0], "Gain of peak") {
		t.Errorf("on bounds: %v, want the gain of section 0", r.Bound)
	}
	left, err := curve(t, "filtered", r.Cascade).Minus(goal.Target)
	if err != nil {
		t.Fatal(err)
	}
	for i := range left.Len() {
		if math.Abs(left.At(i)-r.Residual.At(i)) > 1e-12 {
			t.Fatalf("residual at %g Hz is %g dB, and the cascade leaves %g", left.Grid().At(i), r.Residual.At(i), left.At(i))
		}
	}
	most, err := left.Max(100, 10e3)
	if err != nil {
		t.Fatal(err)
	}
	if least, err := left.Min(100, 10e3); err == nil && -least.Value > most.Value {
		most = least
	}
	if math.Abs(most.Value-r.Worst) > 1e-9 || most.Hz != r.WorstAt {
		t.Errorf("worst %g dB at %g Hz, want %+v", r.Worst, r.WorstAt, most)
	}
}

// What does not count must not be chased: a gap of the source where the weight is
// small costs no section, and the worst error is told with its weight.
func TestWeightTellsWhatCounts(t *testing.T) {
	gap := cascade(t, digital.Peak{F0: 8000, Gain: dB(-9), Q: 3})
	goal := tune.Goal{
		Source: curve(t, "source", gap),
		Target: curve(t, "target", cascade(t, digital.Peak{F0: 500, Gain: dB(-4), Q: 1})),
		From:   100, To: 16e3, SampleRate: rate,
	}
	w := make([]float64, goal.Source.Len())
	for i := range w {
		w[i] = 1
		if goal.Source.Grid().At(i) > 3000 {
			w[i] = 0.01
		}
	}
	var err error
	if goal.Weight, err = freq.NewCurve(goal.Source.Grid(), w, "weight", "1", freq.Basis{}); err != nil {
		t.Fatal(err)
	}
	peak := tune.Free{Low: digital.Peak{F0: 200, Gain: dB(-12), Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 8}}
	r, err := tune.Sections(goal, []tune.Free{peak, peak, peak}, &tune.Settings{Enough: 0.3})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Sections) != 1 || math.Abs(r.Worst) > 0.3 {
		t.Fatalf("%d sections, worst %g dB, want 1 section", len(r.Sections), r.Worst)
	}
	if p := r.Sections[0].(digital.Peak); math.Abs(p.F0/500-1) > 0.05 {
		t.Errorf("the peak is at %g Hz, want 500", p.F0)
	}
	least, err := r.Residual.Min(6e3, 10e3)
	if err != nil || least.Value > -5 {
		t.Errorf("the residual tells the gap as it is: %+v, %v", least, err)
	}
	bad := goal
	for name, v := range map[string]float64{"negative": -1, "zero": 0} {
		for i := range w {
			w[i] = v
		}
		if bad.Weight, err = freq.NewCurve(goal.Source.Grid(), w, "weight", "1", freq.Basis{}); err != nil {
			t.Fatal(err)
		}
		if _, err := tune.Sections(bad, []tune.Free{peak}, nil); err == nil || !strings.Contains(err.Error(), "weight") {
			t.Errorf("%s: %v", name, err)
		}
	}
	other, _ := freq.LogGrid(20, 20e3, 12)
	if bad.Weight, err = freq.NewCurve(other, make([]float64, other.Len()), "weight", "1", freq.Basis{}); err != nil {
		t.Fatal(err)
	}
	if _, err := tune.Sections(bad, []tune.Free{peak}, nil); err == nil || !strings.Contains(err.Error(), "same grid") {
		t.Errorf("another grid: %v", err)
	}
}

func TestRefusals(t *testing.T) {
	flat := curve(t, "flat", freq.Gain(1))
	silent, err := freq.NewCurve(flat.Grid(), flat.Plus(math.Inf(-1)).Values(), "silence", "dB", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	peak := tune.Free{Low: digital.Peak{F0: 200, Gain: 0.5, Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: 2, Q: 8}}
	good := tune.Goal{Source: flat, Target: flat, From: 100, To: 10e3, SampleRate: rate}
	for name, c := range map[string]struct {
		change func(*tune.Goal)
		free   []tune.Free
		enough float64
		want   string
	}{
		"nothing":      {func(g *tune.Goal) { *g = tune.Goal{} }, nil, 0, "no source"},
		"unit":         {func(g *tune.Goal) { g.Target = flat.Times(1, "Ω") }, nil, 0, "both in dB"},
		"band":         {func(g *tune.Goal) { g.To = 50 }, nil, 0, "from 100 to 50 Hz"},
		"few points":   {func(g *tune.Goal) { g.To = 103 }, []tune.Free{peak}, 0, "for 4 parameters"},
		"silence":      {func(g *tune.Goal) { g.Source = silent }, []tune.Free{peak}, 0, "-Inf dB"},
		"two kinds":    {func(*tune.Goal) {}, []tune.Free{{Low: peak.Low, High: digital.Highpass{F0: 1, Q: 1}}}, 0, "same kind"},
		"no bound":     {func(*tune.Goal) {}, []tune.Free{{Low: peak.Low}}, 0, "both bounds"},
		"unwarped nil": {func(*tune.Goal) {}, []tune.Free{{Low: tune.Unwarped{}, High: tune.Unwarped{}}}, 0, "both bounds"},
		"reversed":     {func(*tune.Goal) {}, []tune.Free{{Low: peak.High, High: peak.Low}}, 0, "in order"},
		"zero gain":    {func(*tune.Goal) {}, []tune.Free{{Low: digital.Peak{F0: 200, Q: 1}, High: peak.High}}, 0, "bound of section 0: digital: gain ratio of peak is 0"},
		"decibels":     {func(*tune.Goal) {}, []tune.Free{{Low: digital.Peak{F0: 200, Gain: -9, Q: 1}, High: digital.Peak{F0: 900, Gain: 9, Q: 1}}}, 0, "bound of section 0: digital: gain ratio of peak is -9"},
		"reversed, Hz": {func(*tune.Goal) {}, []tune.Free{{Low: digital.Peak{F0: 5e3, Gain: 0.5, Q: 1}, High: digital.Peak{F0: 500, Gain: 2, Q: 1}}}, 0, "peak 5000 Hz"},
		"nyquist":      {func(*tune.Goal) {}, []tune.Free{{Low: peak.Low, High: digital.Peak{F0: 50e3, Gain: 2, Q: 8}}}, 0, "50000"},
		"bad enough":   {func(*tune.Goal) {}, []tune.Free{peak}, math.NaN(), "NaN"},
		"sample rate":  {func(g *tune.Goal) { g.SampleRate = 0 }, []tune.Free{peak}, 0, "sample rate"},
		"rate too low": {func(g *tune.Goal) { g.SampleRate = 32e3; g.To = 18e3 }, []tune.Free{peak}, 0, "sample rate"},
	} {
		goal := good
		c.change(&goal)
		if _, err := tune.Sections(goal, c.free, &tune.Settings{Enough: c.enough}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}

func BenchmarkFourSections(b *testing.B) {
	want := cascade(b, digital.Highpass{F0: 38, Q: 1.7}, digital.LowShelf{F0: 300, Gain: dB(5), Q: 0.6},
		digital.Peak{F0: 1300, Gain: dB(-4), Q: 2}, digital.Peak{F0: 6000, Gain: dB(3), Q: 1.2})
	goal := tune.Goal{Source: curve(b, "source", freq.Gain(0.1)), Target: curve(b, "target", want), From: 25, To: 18e3, SampleRate: rate}
	peak := tune.Free{Low: digital.Peak{F0: 200, Gain: dB(-12), Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 8}}
	free := []tune.Free{
		{Low: digital.Highpass{F0: 20, Q: 0.5}, High: digital.Highpass{F0: 60, Q: 3}},
		{Low: digital.LowShelf{F0: 100, Gain: dB(-12), Q: 0.4}, High: digital.LowShelf{F0: 1000, Gain: dB(12), Q: 1}},
		peak, peak,
	}
	for b.Loop() {
		if _, err := tune.Sections(goal, free, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// With nothing but a gain to choose, the fit is the mean weighted by w² and log
// frequency, whatever the spacing of the grid: here of a level of 0 dB over the
// lower octave and 1 dB over the upper, where an error counts by half. From
// g = ∫w²·d/∫w² = 0.25/1.25 follows a gain of −0.2 dB, errors of −0.2 and 0.8 dB,
// rms √((0.2² + 0.25·0.8²)/1.25) = 0.4 dB, and the worst, weighted, 0.8·0.5 dB.
// (Written out from the definition; no source.)
func TestGainIsTheWeightedMean(t *testing.T) {
	even, err := freq.LogGrid(100, 400, 960)
	if err != nil {
		t.Fatal(err)
	}
	uneven, err := freq.LinearGrid(100, 400, 3001)
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range []*freq.Grid{even, uneven} {
		source, target, weight := make([]float64, g.Len()), make([]float64, g.Len()), make([]float64, g.Len())
		for i := range source {
			weight[i] = 1
			if g.At(i) > 200 {
				source[i], weight[i] = 1, 0.5
			}
		}
		curve := func(v []float64, unit string) freq.Curve {
			c, err := freq.NewCurve(g, v, "step", unit, freq.Basis{})
			if err != nil {
				t.Fatal(err)
			}
			return c
		}
		r, err := tune.Sections(tune.Goal{Source: curve(source, "dB"), Target: curve(target, "dB"), Weight: curve(weight, "1"), From: 100, To: 400, SampleRate: rate}, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		// Which octave the point at the edge belongs to is worth less than 1e-3 dB.
		if got := level.DB(r.Gain); math.Abs(got+0.2) > 2e-3 || math.Abs(r.RMS-0.4) > 2e-3 || math.Abs(r.Worst-0.4) > 2e-3 || r.WorstAt <= 200 {
			t.Errorf("%v: gain %.4f dB, rms %.4f dB, worst %.4f dB at %g Hz; want −0.2, 0.4 and 0.4 above 200 Hz", g, got, r.RMS, r.Worst, r.WorstAt)
		}
	}
}
