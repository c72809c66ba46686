package search_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/search"
)

// Functions whose maximum is known in closed form.
func TestGoldenFindsTheMaximum(t *testing.T) {
	for _, c := range []struct {
		name     string
		f        func(float64) float64
		a, b, at float64
		within   float64 // of the place
	}{
		{"parabola", func(x float64) float64 { return -(x - 0.3) * (x - 0.3) }, -1, 2, 0.3, 2e-8},
		{"x·e^−x", func(x float64) float64 { return x * math.Exp(-x) }, 0, 10, 1, 5e-8},
		{"a corner", func(x float64) float64 { return -math.Abs(x - 40) }, 25, 60, 40, 1e-12},
		{"rising", func(x float64) float64 { return x }, 0, 1, 1, 1e-12},
		{"falling", func(x float64) float64 { return -x }, 1e6, 2e6, 1e6, 1e-9},
		{"far up", func(x float64) float64 { return -math.Abs(x - 3e20) }, 1e20, 1e21, 3e20, 1e5},
		{"not known below 30", func(x float64) float64 {
			if x < 30 {
				return math.NaN()
			}
			return -x
		}, 25, 60, 30, 1e-12},
	} {
		x, y := search.Golden(c.f, c.a, c.b, 1e-13*c.b)
		if math.Abs(x-c.at) > c.within*max(1, math.Abs(c.at)) || y != c.f(x) {
			t.Errorf("%s: largest at %.12g (%g), want %.12g", c.name, x, y, c.at)
		}
	}
}

// Two evaluations, and one for every step but the last; each keeps 0.618, so that
// from 1 to 1e-6 there are ⌈ln 1e6/ln 1.618⌉ = 29 steps.
func TestGoldenCost(t *testing.T) {
	var n int
	search.Golden(func(x float64) float64 { n++; return -x * x }, -0.5, 0.5, 1e-6)
	if n != 30 {
		t.Errorf("%d evaluations, want 30", n)
	}
	if x, _ := search.Golden(func(x float64) float64 { return -math.Abs(x - 1.5) }, 1, 2, 0); math.Abs(x-1.5) > 1e-15 {
		t.Errorf("to the last bit: %.17g, want 1.5", x)
	}
	if x, _ := search.Golden(func(float64) float64 { return 1 }, 2, 2, 0); x != 2 {
		t.Errorf("an interval of one point gives %g, want 2", x)
	}
	defer func() {
		if recover() == nil {
			t.Error("a reversed interval was accepted")
		}
	}()
	search.Golden(func(float64) float64 { return 1 }, 2, 1, 0)
}
