package crossover_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/crossover"
)

// Pythagoras with numbers that come out even: 3-4-5 and 5-12-13 triangles.
func TestLag(t *testing.T) {
	p := crossover.Parallax{Separation: 3, Air: air.Medium{Density: 1.2, SpeedOfSound: 340}}
	if lag, err := p.Lag(4); err != nil || math.Abs(lag-1.0/340) > 1e-15 {
		t.Errorf("lag at 4 m is %g s (%v), want 1 m of sound", lag, err)
	}
	p.Separation = 5
	if lag, err := p.Lag(12); err != nil || math.Abs(lag-1.0/340) > 1e-15 {
		t.Errorf("lag at 12 m is %g s (%v), want 1 m of sound", lag, err)
	}
}

// Ways 145 mm apart and aligned at 1 m are 18.7 µs off at 2.6 m (worked by hand:
// √1.021025 − 1 = 10.458 mm, √6.781025 − 2.6 = 4.040 mm, 6.418 mm at 343 m/s).
func TestShift(t *testing.T) {
	p := crossover.Parallax{Separation: 0.145, Air: air.Medium{Density: 1.2, SpeedOfSound: 343}}
	if s, err := p.Shift(1, 2.6); err != nil || math.Abs(s+18.71e-6) > 1e-8 {
		t.Errorf("shift %g s (%v), want −18.71 µs", s, err)
	}
	for _, c := range []struct{ d, a, h float64 }{{-1, 1, 1}, {math.NaN(), 1, 1}, {1, 0, 1}, {1, 1, math.Inf(1)}} {
		p.Separation = c.d
		if _, err := p.Shift(c.a, c.h); err == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
}
