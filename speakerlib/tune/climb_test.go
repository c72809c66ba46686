package tune_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/tune"
)

// A target of a shelf and two peaks that lie so close that the first peak of a greedy
// search sits between them: three sections make it, and the ladder ends there with
// nothing left, however many are offered.
func TestClimbFindsTheLeastNumber(t *testing.T) {
	want := cascade(t, digital.LowShelf{F0: 300, Gain: dB(5), Q: 0.6},
		digital.Peak{F0: 2000, Gain: dB(4), Q: 3}, digital.Peak{F0: 3000, Gain: dB(3), Q: 3})
	goal := tune.Goal{Source: curve(t, "source", freq.Gain(1)), Target: curve(t, "target", want), From: 50, To: 18e3, SampleRate: rate}
	peak := tune.Free{Low: digital.Peak{F0: 100, Gain: dB(-12), Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 8}}
	free := []tune.Free{peak, peak, peak, peak, peak, peak,
		{Low: digital.LowShelf{F0: 100, Gain: dB(-12), Q: 0.4}, High: digital.LowShelf{F0: 1000, Gain: dB(12), Q: 1}},
		{Low: digital.HighShelf{F0: 2000, Gain: dB(-12), Q: 0.4}, High: digital.HighShelf{F0: 12000, Gain: dB(12), Q: 1}}}
	l, err := tune.Climb(goal, free, &tune.Settings{Enough: 0.01})
	if err != nil {
		t.Fatal(err)
	}
	best := l.Best()
	if l.Err() != nil || best.Sections != 3 || math.Abs(best.Worst) > 1e-4 || len(best.Fit.Sections) != 3 {
		t.Errorf("%d sections, worst %g dB (%v), want 3 and 0", best.Sections, best.Worst, l.Err())
	}
	for n, r := range l.Rungs {
		if r.Sections != n || n > 0 && r.RMS > l.Rungs[n-1].RMS {
			t.Errorf("rung %d has %d sections and %g dB", n, r.Sections, r.RMS)
		}
	}
	// Out of reach: by how much, and where.
	l, err = tune.Climb(goal, free[:1], &tune.Settings{Enough: 0.01})
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Err(); err == nil || !strings.Contains(err.Error(), "dB too much") || l.Reached != -1 || l.Best().Sections != 1 {
		t.Errorf("one peak: %v, %+v", err, l)
	}
}

// The whole ladder without an error to stop at: a section too many buys nothing, and
// one that is needed stays although it does nothing.
func TestClimbTellsWhereNothingIsBought(t *testing.T) {
	goal := tune.Goal{Source: curve(t, "source", freq.Gain(1)), Target: curve(t, "target", cascade(t, digital.Peak{F0: 1300, Gain: dB(-4), Q: 2})),
		From: 200, To: 10e3, SampleRate: rate}
	peak := tune.Free{Low: digital.Peak{F0: 200, Gain: dB(-12), Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 8}}
	guard := tune.Free{Low: digital.Highpass{F0: 10, Q: 0.5}, High: digital.Highpass{F0: 20, Q: 1}, Needed: true}
	l, err := tune.Climb(goal, []tune.Free{peak, guard, peak}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Rungs) != 3 || l.Rungs[0].Sections != 1 || l.Rungs[1].Gain < 0.98 {
		t.Fatalf("%+v", l.Rungs)
	}
	if _, ok := l.Rungs[0].Fit.Sections[0].(digital.Highpass); !ok {
		t.Errorf("the first rung holds %v, want the needed high-pass", l.Rungs[0].Fit.Sections)
	}
	if err := l.Err(); err != nil {
		t.Errorf("no error was asked for, and it is missed: %v", err)
	}
	if l.Rungs[1].RMS-l.Rungs[2].RMS > 0.01 {
		t.Errorf("a third section takes %g dB to %g dB", l.Rungs[1].RMS, l.Rungs[2].RMS)
	}
	if _, err := tune.Climb(goal, []tune.Free{peak}, &tune.Settings{Enough: math.NaN()}); err == nil {
		t.Error("NaN is enough")
	}
}
