package driver_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/driver"
)

// K·(jω)^n by the complex power of the standard library.
func TestSemiInductanceIsAPower(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := driver.SemiInductance{K: span(rt, "K", 1e-4, 10), N: rapid.Float64Range(0.01, 1).Draw(rt, "N")}
		g := grid(t, span(rt, "f", 1, 100e3))
		want := complex(c.K, 0) * cmplx.Pow(complex(0, g.Omega()[0]), complex(c.N, 0))
		if got := c.ImpedanceTo(nil, g)[0]; cmplx.Abs(got-want) > 1e-13*cmplx.Abs(want) {
			rt.Fatalf("%#v: Z is %v, want %v", c, got, want)
		}
	})
}

// An exponent of 1 is an inductance, without any resistance.
func TestSemiInductanceOfOneIsAnInductor(t *testing.T) {
	g := grid(t, 20, 1000, 20e3)
	got := driver.SemiInductance{K: 1e-3, N: 1}.ImpedanceTo(nil, g)
	for i, want := range (driver.Inductor{Le: 1e-3}).ImpedanceTo(nil, g) {
		if real(got[i]) != 0 || math.Abs(imag(got[i])/imag(want)-1) > 1e-14 {
			t.Errorf("Z at %g Hz is %v, want %v", g.At(i), got[i], want)
		}
	}
}

// The skin effect in solid iron, from the field itself: in a half space of
// conductivity σ and permeability µ the field falls as exp(−x·√(jωµσ)), so that
// its surface impedance is √(jωµ/σ) (J. D. Jackson, Classical Electrodynamics,
// chapter on waves at a conductor; from memory). A long winding of N turns and
// circumference p over a length l has N²·p/l of it: a semi-inductance of n = ½
// with K = N²·p/l·√(µ/σ), at 45°.
func TestSemiInductanceOfSolidIron(t *testing.T) {
	const mu, sigma, turns, round, long = 500 * 4e-7 * math.Pi, 6e6, 80.0, 0.08, 0.012
	c := driver.SemiInductance{K: turns * turns * round / long * math.Sqrt(mu/sigma), N: 0.5}
	g := grid(t, 50, 500, 5000)
	for i, z := range c.ImpedanceTo(nil, g) {
		gamma := cmplx.Sqrt(complex(0, g.Omega()[i]*mu*sigma)) // propagation into the iron
		want := gamma / complex(sigma, 0) * complex(turns*turns*round/long, 0)
		if cmplx.Abs(z/want-1) > 1e-13 || math.Abs(cmplx.Phase(z)-math.Pi/4) > 1e-14 {
			t.Errorf("Z at %g Hz is %v, want %v", g.At(i), z, want)
		}
	}
}

// Each element of the parallel, alone: the others are made too large to matter.
func TestShuntedSemiInductanceInItsRanges(t *testing.T) {
	const huge = 1e12
	g := grid(t, 20, 1000, 20e3)
	for name, c := range map[string]struct {
		coil, want driver.Coil
	}{
		"inductances":     {driver.ShuntedSemiInductance{Leb: 1e-4, Le: 1e-3, Ke: huge, Rss: huge}, driver.Inductor{Le: 1.1e-3}},
		"ladder":          {driver.ShuntedSemiInductance{Leb: 1e-4, Le: 1e-3, Ke: huge, Rss: 8}, driver.Ladder{Le: 1e-4, L2: 1e-3, R2: 8}},
		"semi-inductance": {driver.ShuntedSemiInductance{Le: huge, Ke: 0.04, Rss: huge}, driver.SemiInductance{K: 0.04, N: 0.5}},
	} {
		want := c.want.ImpedanceTo(nil, g)
		for i, z := range c.coil.ImpedanceTo(nil, g) {
			if cmplx.Abs(z-want[i]) > 1e-9*cmplx.Abs(want[i]) {
				t.Errorf("%s: Z at %g Hz is %v, want %v", name, g.At(i), z, want[i])
			}
		}
	}
}

// The ends that the documentation states: Leb + Le and no resistance at low
// frequencies, Rss and Leb at high ones.
func TestShuntedSemiInductanceAtItsEnds(t *testing.T) {
	c := driver.ShuntedSemiInductance{Leb: 2e-5, Le: 9e-4, Ke: 0.05, Rss: 30}
	g := grid(t, 1e-8, 1e14)
	z := c.ImpedanceTo(nil, g)
	if got, want := imag(z[0])/g.Omega()[0], 9.2e-4; math.Abs(got/want-1) > 1e-5 {
		t.Errorf("inductance near direct current is %v H, want %v", got, want)
	}
	if got := real(z[1]); math.Abs(got/30-1) > 1e-4 {
		t.Errorf("Re Z far above the band is %v, want Rss = 30", got)
	}
	if got := imag(z[1]) / g.Omega()[1]; math.Abs(got/2e-5-1) > 1e-6 {
		t.Errorf("Im Z/ω far above the band is %v H, want Leb", got)
	}
}
