package tune_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/tune"
)

// A fit that is split at a frequency is, put together again, the fit.
func TestApartAndTogether(t *testing.T) {
	want := cascade(t, digital.Highpass{F0: 38, Q: 1.7}, digital.LowShelf{F0: 300, Gain: dB(5), Q: 0.6}, digital.Peak{F0: 6000, Gain: dB(3), Q: 1.2})
	goal := tune.Goal{Source: curve(t, "source", freq.Gain(0.1)), Target: curve(t, "target", freq.Series{want, freq.Gain(0.3)}), From: 25, To: 18e3, SampleRate: rate}
	p := tune.Free{Low: digital.Peak{F0: 200, Gain: dB(-12), Q: 0.3}, High: digital.Peak{F0: 15e3, Gain: dB(12), Q: 8}}
	free := []tune.Free{{Low: digital.Highpass{F0: 20, Q: 0.5}, High: digital.Highpass{F0: 60, Q: 3}},
		{Low: digital.LowShelf{F0: 100, Gain: dB(-12), Q: 0.4}, High: digital.LowShelf{F0: 1000, Gain: dB(12), Q: 1}}, p, p}
	r, err := tune.Sections(goal, free, nil)
	if err != nil {
		t.Fatal(err)
	}
	below, above, err := r.Apart(free, 1000)
	if err != nil {
		t.Fatal(err)
	}
	if below.Len() != 2 || below.Gain() != 1 || len(above) != len(r.Sections)-2 || above[0].Low != p.Low {
		t.Fatalf("%d sections below of gain %g, %d above", below.Len(), below.Gain(), len(above))
	}
	parts := freq.Series{below, freq.Gain(r.Gain)}
	for _, f := range above {
		parts = append(parts, cascade(t, f.Start))
	}
	a, b := curve(t, "fit", r.Cascade), curve(t, "parts", parts)
	for i := range a.Len() {
		if math.Abs(a.At(i)-b.At(i)) > 1e-9 {
			t.Fatalf("at %g Hz the parts give %g dB, the fit %g dB", a.Grid().At(i), b.At(i), a.At(i))
		}
	}
	for name, c := range map[string]struct {
		free []tune.Free
		hz   float64
	}{"NaN": {free, math.NaN()}, "0 Hz": {free, 0}, "of 1 that were given": {free[:1], 1000}, "of 4 that": {[]tune.Free{p, p, p, p}, 1000}} {
		if _, _, err := r.Apart(c.free, c.hz); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
