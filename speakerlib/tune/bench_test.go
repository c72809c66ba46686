package tune_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

// eight is the fit of testdata/scipy_fits.py: eight peaks, 24 parameters, 481
// points, to a target of eight peaks elsewhere and a ripple that they cannot follow.
func eight(tb testing.TB) (tune.Goal, []tune.Free) {
	tb.Helper()
	g, err := freq.LogGrid(20, 20480, 48)
	if err != nil {
		tb.Fatal(err)
	}
	var want []digital.Section
	var free []tune.Free
	for k := range 8 {
		f, sign := 40*math.Exp2(float64(k)), float64(1-2*(k%2))
		want = append(want, digital.Peak{F0: f * (1 + 0.1*math.Sin(float64(k))), Gain: level.Ratio(sign * (2 + float64(k%4))), Q: 1.2 + 0.2*float64(k%3)})
		free = append(free, tune.Free{
			Low: digital.Peak{F0: f / 2, Gain: level.Ratio(-12), Q: 0.3}, High: digital.Peak{F0: f * 2, Gain: level.Ratio(12), Q: 8},
			Start: digital.Peak{F0: f, Gain: level.Ratio(sign), Q: 1}})
	}
	r, err := freq.Evaluate(cascade(tb, want...), g, "target", freq.Basis{})
	if err != nil {
		tb.Fatal(err)
	}
	target := r.DB(1).Values()
	for i := range target {
		target[i] += level.DB(math.Exp(0.02 * math.Sin(float64(i))))
	}
	t, err := freq.NewCurve(g, target, "target", "dB", freq.Basis{})
	if err != nil {
		tb.Fatal(err)
	}
	s, err := freq.NewCurve(g, make([]float64, g.Len()), "source", "dB", freq.Basis{})
	if err != nil {
		tb.Fatal(err)
	}
	return tune.Goal{Source: s, Target: t, From: 20, To: 20480, SampleRate: 96e3}, free
}

// The peer of this benchmark is printed by testdata/scipy_fits.py.
func BenchmarkEightPeaks(b *testing.B) {
	goal, free := eight(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := tune.Sections(goal, free, &tune.Settings{Cosine: 1e-3}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEightPeaksToTheLast(b *testing.B) {
	goal, free := eight(b)
	for b.Loop() {
		if _, err := tune.Sections(goal, free, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// A whole ladder of eight rungs, some 150 fits.
func BenchmarkClimbEight(b *testing.B) {
	goal, free := eight(b)
	for k := range free {
		free[k].Start = nil
		free[k].Low, free[k].High = free[0].Low, free[7].High
	}
	for b.Loop() {
		if _, err := tune.Climb(goal, free, &tune.Settings{Cosine: 1e-3}); err != nil {
			b.Fatal(err)
		}
	}
}
