package driver_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/driver"
)

// The polynomials and the direct formula are two routes to one impedance.
func TestCoilIsItsRatio(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c, ok := anyTunableCoil(rt).(driver.RationalCoil)
		if !ok {
			rt.Skip("no ratio")
		}
		hz := rapid.Float64Range(1, 100e3).Draw(rt, "f")
		num, den := c.Rational()
		want := num.At(hz) / den.At(hz)
		if got := c.ImpedanceTo(nil, grid(t, hz))[0]; cmplx.Abs(got-want) > 1e-13*cmplx.Abs(want) {
			rt.Fatalf("%#v at %g Hz: %v, by the ratio %v", c, hz, got, want)
		}
	})
}

// Where ωL2 = R2, jωL2‖R2 is R2/2·(1+j).
func TestLadderAtItsCorner(t *testing.T) {
	c := driver.Ladder{Le: 0.3e-3, L2: 0.7e-3, R2: 4.2}
	g := grid(t, c.R2/(2*math.Pi*c.L2))
	want := complex(2.1, 2.1+g.Omega()[0]*c.Le)
	if got := c.ImpedanceTo(nil, g)[0]; cmplx.Abs(got-want) > 1e-14*cmplx.Abs(want) {
		t.Errorf("Z is %v, want %v", got, want)
	}
}

// A ladder with a large resistance is the inductor of the sum.
func TestLadderWithoutLossIsAnInductor(t *testing.T) {
	g := grid(t, 20, 1000, 20e3)
	got := driver.Ladder{Le: 0.3e-3, L2: 0.7e-3, R2: 1e9}.ImpedanceTo(nil, g)
	for i, want := range (driver.Inductor{Le: 1e-3}).ImpedanceTo(nil, g) {
		if cmplx.Abs(got[i]-want) > 1e-6*cmplx.Abs(want) {
			t.Errorf("Z at %g Hz is %v, want %v", g.At(i), got[i], want)
		}
	}
}
