package release_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/release"
)

func mustGrid(t testing.TB, hz ...float64) *freq.Grid {
	t.Helper()
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func fit(t testing.TB, p *release.Prediction, b release.Bounds) *release.Correction {
	t.Helper()
	c, err := release.Fit(p, rate, b)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A prototype with faults of the kind that a correction is for: a sensitivity, a broad
// hump, a shallow trough, some samples. The correction must be their inverse, which is
// known, relative to the level of the whole.
func TestCorrectionIsTheInverseOfTheFault(t *testing.T) {
	hump := digital.Peak{F0: 300, Gain: level.Ratio(1.8), Q: 0.8}
	trough := digital.Peak{F0: 7000, Gain: level.Ratio(-0.8), Q: 0.7}
	low := freq.Series{sections(t, level.Ratio(0.3), hump)}
	high := freq.Series{sections(t, level.Ratio(-0.9), trough), freq.Delay(3.2 / rate)}
	p := compare(t, pairs(t, low, high), release.Judge{Smoothing: 48, Guard: 0.3})
	c := fit(t, p, release.Bounds{Enough: 0.02})
	g := grid(t)
	for i, fault := range []freq.Series{low, high[:1]} {
		w := c.Ways[i]
		both := level.OfComplex(nil, append(freq.Series{w.Cascade}, fault...).ResponseTo(nil, g))
		for k := range both {
			if f := g.At(k); f < p.Ways[i].Pair.From || f > p.Ways[i].Pair.To {
				continue
			}
			if d := both[k] - p.Sum.Level; math.Abs(d) > 0.05 {
				t.Errorf("%s is off by %.3f dB at %.0f Hz after the correction", w.Name, d, g.At(k))
				break
			}
		}
		if len(w.Dips) != 0 {
			t.Errorf("%s has dips %+v", w.Name, w.Dips)
		}
	}
	// The phase of the fault shifts the delay found by less than half a sample.
	if c.Ways[0].Samples != 0 || c.Ways[1].Samples != -3 {
		t.Errorf("delays of %d and %d samples, want 0 and −3", c.Ways[0].Samples, c.Ways[1].Samples)
	}
	if len(c.After.Sum.Beyond) != 0 || len(p.Sum.Beyond) == 0 {
		t.Errorf("beyond the guard band before %+v, after %+v", p.Sum.Beyond, c.After.Sum.Beyond)
	}
	if d := math.Abs(c.After.Lag(1)); d > 0.5/rate {
		t.Errorf("ways are %.3g s apart after the correction", d)
	}
}

// A common level is that of a microphone, an amplifier or a volume control.
func TestCommonLevelIsNotCorrected(t *testing.T) {
	k := freq.Gain(level.Ratio(2.5))
	p := compare(t, pairs(t, freq.Series{k, sections(t, 1, digital.Peak{F0: 200, Gain: level.Ratio(1), Q: 0.7})}, freq.Series{k}), release.Judge{Guard: 0.3})
	c := fit(t, p, release.Bounds{})
	if db := level.DB(c.Ways[1].Cascade.Gain()); math.Abs(db) > 0.3 {
		t.Errorf("tweeter is moved by %.3f dB", db)
	}
	// Stated as what it is.
	if math.Abs(p.Sum.Level-2.5) > 0.3 {
		t.Errorf("level of the whole %.3f dB, want about 2.5", p.Sum.Level)
	}
}

// The reflection of a floor: 1 + a·e^{−jωτ} with the path longer by one metre, a comb
// whose first notch is at 171 Hz.
func reflection(t testing.TB, a, notch float64) freq.Transfer {
	t.Helper()
	g := grid(t)
	z := make([]complex128, g.Len())
	for i := range z {
		x := math.Pi * g.At(i) / notch
		z[i] = complex(1+a*math.Cos(x), -a*math.Sin(x))
	}
	r, err := freq.NewResponse(g, z, "reflection", ratio)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestRefusesACorrectionThatFillsADip(t *testing.T) {
	p := compare(t, pairs(t, freq.Series{reflection(t, 0.6, 400)}, nil), release.Judge{Guard: 0.5})
	_, err := release.Fit(p, rate, release.Bounds{Boost: 12, Cut: 12})
	if err == nil || !strings.Contains(err.Error(), "fills the dip at 397") || !strings.Contains(err.Error(), "leave") {
		t.Fatalf("comb corrected: %v", err)
	}
	// With one deep dip left alone the rest is corrected, and the dip is listed.
	notch := sections(t, 1, digital.Peak{F0: 400, Gain: level.Ratio(-6), Q: 8})
	p = compare(t, pairs(t, freq.Series{notch, sections(t, 1, digital.Peak{F0: 90, Gain: level.Ratio(1.5), Q: 0.7})}, nil), release.Judge{Guard: 0.5})
	c := fit(t, p, release.Bounds{Leave: []release.Leave{{"woofer", 260, 610}}})
	if d := c.Ways[0].Dips; len(d) != 1 || math.Abs(d[0].At/400-1) > 0.02 || d[0].Depth < 4 || d[0].From < 300 || d[0].To > 530 {
		t.Errorf("dips %+v", d)
	}
	// It goes from where the notch is half of Bounds.Dip, 1 dB, deep to there again.
	skirt := level.OfComplex(nil, notch.ResponseTo(nil, mustGrid(t, c.Ways[0].Dips[0].From, c.Ways[0].Dips[0].To)))
	if math.Abs(skirt[0]+1) > 0.35 || math.Abs(skirt[1]+1) > 0.35 {
		t.Errorf("dip ends where it is %.2f and %.2f dB deep, want −1", skirt[0], skirt[1])
	}
	at := func(f float64) float64 {
		return level.OfComplex(nil, c.Ways[0].Cascade.ResponseTo(nil, grid(t)))[grid(t).Nearest(f)]
	}
	if v := at(400); v > 0.3 {
		t.Errorf("lifts the dip by %.2f dB", v)
	}
	if v := at(90); math.Abs(v+1.5) > 0.3 {
		t.Errorf("takes %.2f dB of the hump of 1.5 dB", v)
	}
}

// A dip of 1.5 dB is none by the bound of 2 dB.
func TestShallowDipIsNone(t *testing.T) {
	notch := sections(t, 1, digital.Peak{F0: 400, Gain: level.Ratio(-1.5), Q: 8}, digital.Peak{F0: 90, Gain: level.Ratio(1.5), Q: 0.7})
	p := compare(t, pairs(t, freq.Series{notch}, nil), release.Judge{Guard: 0.5})
	if d := fit(t, p, release.Bounds{}).Ways[0].Dips; len(d) != 0 {
		t.Errorf("dips %+v", d)
	}
	if d := fit(t, p, release.Bounds{Dip: 0.8, Fill: 3}).Ways[0].Dips; len(d) != 1 {
		t.Errorf("by a bound of 0.8 dB: dips %+v", d)
	}
}

// A hump on the edge of the band is corrected beyond it, and that is said: by as much
// as the hump has there.
func TestOutsideTheBandIsTold(t *testing.T) {
	hump := sections(t, 1, digital.Peak{F0: 40, Gain: level.Ratio(1.6), Q: 0.5})
	ways := pairs(t, freq.Series{hump}, nil)
	p := compare(t, ways, release.Judge{Smoothing: 48, Guard: 0.5})
	w := fit(t, p, release.Bounds{Enough: 0.02, Q: 1}).Ways[0]
	at := mustGrid(t, w.OutsideAt)
	want := -level.OfComplex(nil, hump.ResponseTo(nil, at))[0]
	if w.OutsideAt >= 30 || w.OutsideAt < 25 || math.Abs(w.Outside-want) > 0.1 {
		t.Errorf("outside %.3f dB at %g Hz, want about %.3f just below 30 Hz", w.Outside, w.OutsideAt, want)
	}
}

// What both ways measured together have beyond their sum is not of the coefficients,
// and stays.
func TestCorrectionOfWaysMeasuredTogether(t *testing.T) {
	ways := pairs(t, freq.Series{sections(t, 1, digital.Peak{F0: 300, Gain: level.Ratio(1.8), Q: 0.8})}, nil)
	s, err := ways[0].Measured.Add(ways[1].Measured)
	if err != nil {
		t.Fatal(err)
	}
	w := whole
	if w.Measured, err = s.Mul(write(t, freq.Gain(level.Ratio(0.5)), ratio)); err != nil {
		t.Fatal(err)
	}
	p, err := release.Compare(ways, w, release.Judge{Guard: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	c := fit(t, p, release.Bounds{})
	if a := c.After.Together; a == nil || math.Abs(a.Level-0.5) > 1e-6 {
		t.Errorf("together after the correction: %+v", a)
	}
}

func TestRefusesWhatIsNoCorrection(t *testing.T) {
	peak := func(f, db, q float64) freq.Series {
		return freq.Series{sections(t, 1, digital.Peak{F0: f, Gain: level.Ratio(db), Q: q})}
	}
	for want, c := range map[string]struct {
		low, high freq.Series
		b         release.Bounds
	}{
		"boosts by":                  {peak(200, -5, 0.6), nil, release.Bounds{}},
		"cuts by":                    {peak(200, 4, 0.8), nil, release.Bounds{Cut: 2}},
		"a wire is crossed":          {nil, freq.Series{freq.Gain(-1)}, release.Bounds{}},
		"a phase that no delay":      {nil, freq.Series{freq.Delay(1.5e-3)}, release.Bounds{}},
		"µs later than":              {nil, freq.Series{freq.Delay(250e-6)}, release.Bounds{}},
		"it does not help":           {nil, nil, release.Bounds{}},
		`no way "midrange"`:          {nil, nil, release.Bounds{Leave: []release.Leave{{"midrange", 1, 2}}}},
		"left alone from 2 to 1":     {nil, nil, release.Bounds{Leave: []release.Leave{{"woofer", 2, 1}}}},
		"of 11 sections":             {nil, nil, release.Bounds{Sections: 11}},
		"highest Q":                  {nil, nil, release.Bounds{Q: 0.1}},
		"boost in dB":                {nil, nil, release.Bounds{Boost: -1}},
		"error that is small enough": {nil, nil, release.Bounds{Enough: math.NaN()}},
	} {
		p := compare(t, pairs(t, c.low, c.high), release.Judge{Guard: 0.5})
		if _, err := release.Fit(p, rate, c.b); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if _, err := release.Fit(nil, rate, release.Bounds{}); err == nil {
		t.Error("no prediction corrected")
	}
	p := compare(t, pairs(t, peak(200, 1, 0.7), nil), release.Judge{Guard: 0.5})
	if _, err := release.Fit(p, 20000, release.Bounds{}); err == nil {
		t.Error("corrected beyond half the sample rate")
	}
}

// The bound of the delay is between any two ways: 150 µs late and 150 µs early are 300 µs apart,
// though each is within 200 µs of the first.
func TestDelayBetweenAnyTwoWays(t *testing.T) {
	p := pairs(t, nil, freq.Series{freq.Delay(300e-6)})
	p[0].Measured = write(t, append(woofer(t), freq.Delay(150e-6)), pressure)
	p = append(p, p[1])
	p[2].Name, p[2].Measured = "second tweeter", write(t, tweeter(t), pressure)
	if _, err := release.Fit(compare(t, p, release.Judge{Guard: 0.5}), rate, release.Bounds{}); err == nil ||
		!strings.Contains(err.Error(), `"second tweeter" is -300.0 µs later than "tweeter"`) {
		t.Error(err)
	}
}
