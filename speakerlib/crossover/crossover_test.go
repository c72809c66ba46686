package crossover_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// lr4 is the Linkwitz–Riley pair of fourth order: the squares of Butterworth
// filters of second order. Their sum is the all-pass of second order with
// Q = 1/√2 (S. Linkwitz, JAES 24, 1976).
func lr4(fc float64) (low, high freq.Transfer) {
	w := 2 * math.Pi * fc
	den := freq.NewPoly(1, math.Sqrt2/w, 1/(w*w))
	l := &freq.PolyRatio{Num: freq.NewPoly(1), Den: den}
	h := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(w*w)), Den: den}
	return freq.Series{l, l}, freq.Series{h, h}
}

func evaluate(t *testing.T, tr freq.Transfer, label string) freq.Response {
	t.Helper()
	g, err := freq.LogGrid(100, 20e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	r, err := freq.Evaluate(tr, g, label, freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestChainIsProductWithDelayAndPolarity(t *testing.T) {
	low, _ := lr4(2000)
	c := crossover.Chain{Name: "woofer", Stages: freq.Series{low, freq.Gain(0.5)}, Delay: 1e-4, Inverted: true}
	if err := c.Validate(); err != nil {
		t.Fatal(err)
	}
	got := evaluate(t, c, "chain")
	want := evaluate(t, low, "low")
	for i := range got.Len() {
		w := want.At(i) * complex(-0.5, 0) * cmplx.Exp(complex(0, -2*math.Pi*got.Grid().At(i)*1e-4))
		if cmplx.Abs(got.At(i)-w) > 1e-13 {
			t.Fatalf("%g Hz: %v, want %v", got.Grid().At(i), got.At(i), w)
		}
	}
	longer := c.With(freq.Gain(2))
	if len(c.Stages) != 2 || len(longer.Stages) != 3 {
		t.Error("With changed the chain that it extends")
	}
}

// An LR4 pair with the upper way 83 µs late and inverted must get the lower way
// delayed by 83 µs and the inversion taken back; an aligned one must be left
// alone, and its coherence is exactly 1 because both are in phase everywhere.
func TestAlignFindsDelayAndPolarity(t *testing.T) {
	low, high := lr4(2300)
	l := evaluate(t, low, "low")
	for _, late := range []float64{0, 83e-6, -151e-6} {
		for _, sign := range []freq.Gain{1, -1} {
			h := evaluate(t, freq.Series{high, freq.Delay(late), sign}, "high")
			a, err := crossover.Align(l, h, 800, 7000, 0.3e-3)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(a.Delay+late) > 1e-9 || a.Inverted != (sign < 0) || math.Abs(a.Coherence-1) > 1e-9 || a.Other > 0.9 {
				t.Errorf("late by %g s, sign %g: %+v", late, sign, a)
			}
		}
	}
}

func TestSamples(t *testing.T) {
	for _, c := range []struct {
		delay        float64
		lower, upper int
	}{{0, 0, 0}, {83e-6, 0, 8}, {-83e-6, 8, 0}, {5e-6, 0, 0}, {5.3e-6, 0, 1}} {
		if l, u := (crossover.Alignment{Delay: c.delay}).Samples(96e3); l != c.lower || u != c.upper {
			t.Errorf("%g s are %d and %d samples at 96 kHz, want %d and %d", c.delay, l, u, c.lower, c.upper)
		}
	}
}

// The band may be open at the top; searches that would not end are refused.
func TestAlignSearchesWhatThereIs(t *testing.T) {
	low, high := lr4(2300)
	l, h := evaluate(t, low, "low"), evaluate(t, freq.Series{high, freq.Delay(83e-6)}, "high")
	for _, top := range []float64{1e12, math.Inf(1)} {
		a, err := crossover.Align(l, h, 800, top, 0.3e-3)
		if err != nil || math.Abs(a.Delay+83e-6) > 1e-9 {
			t.Errorf("up to %g Hz: %+v, %v", top, a, err)
		}
	}
	if _, err := crossover.Align(l, h, 800, 7000, 1e9); err == nil || !strings.Contains(err.Error(), "narrow the window") {
		t.Errorf("a window of 1e9 s: %v", err)
	}
}

func TestSamplesOfNoRate(t *testing.T) {
	for _, rate := range []float64{0, -48e3, math.NaN(), math.Inf(1)} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("a sample rate of %g Hz was accepted", rate)
				}
			}()
			crossover.Alignment{Delay: 1e-3}.Samples(rate)
		}()
	}
}

func TestReverseNullOfLinkwitzRiley(t *testing.T) {
	low, high := lr4(1600)
	n, err := crossover.ReverseNull(evaluate(t, low, "low"), evaluate(t, high, "high"))
	if err != nil {
		t.Fatal(err)
	}
	// |1 − x⁴| / |1 + x⁴|·… : both are in phase, so the ratio is |l−h|/(l+h)
	// with l = 1/(1+x⁴), h = x⁴/(1+x⁴).
	for i := range n.Len() {
		x := math.Pow(n.Grid().At(i)/1600, 4)
		if want := math.Abs(1-x) / (1 + x); math.Abs(n.At(i)-want) > 1e-12 {
			t.Fatalf("%g Hz: %g, want %g", n.Grid().At(i), n.At(i), want)
		}
	}
}

func TestBadNetworks(t *testing.T) {
	for name, c := range map[string]struct {
		net  crossover.Active
		want string
	}{
		"none":     {crossover.Active{}, "no way"},
		"twice":    {crossover.Active{Ways: []crossover.Chain{{Name: "a"}, {Name: "a"}}}, "two ways"},
		"nil":      {crossover.Active{Ways: []crossover.Chain{{Name: "a", Stages: freq.Series{nil}}}}, "stage 0"},
		"negative": {crossover.Active{Ways: []crossover.Chain{{Name: "a", Delay: -1}}}, "-1 s"},
		"NaN":      {crossover.Active{Ways: []crossover.Chain{{Name: "a", Delay: math.NaN()}}}, "NaN"},
	} {
		if err := c.net.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	if _, err := (crossover.Active{}).Way("tweeter"); err == nil {
		t.Error("a way that is not there was found")
	}
	low, high := lr4(2000)
	l, h := evaluate(t, low, "low"), evaluate(t, high, "high")
	if _, err := crossover.Align(l, h, 30e3, 40e3, 1e-3); err == nil {
		t.Error("an empty band was accepted")
	}
	if _, err := crossover.Align(l, h.Stated(freq.Basis{}), 1e3, 4e3, 1e-3); err == nil {
		t.Error("two bases were accepted")
	}
	if _, err := crossover.Align(l, h, 1e3, 4e3, math.Inf(1)); err == nil {
		t.Error("an infinite window was accepted")
	}
	if _, err := crossover.Align(l, evaluate(t, freq.Gain(0), "silence"), 1e3, 4e3, 1e-3); err == nil {
		t.Error("silence was aligned")
	}
}
