package driver_test

import (
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/driver"
)

// The circuit, branch by branch in complex arithmetic.
func TestTwoLaddersAreTheCircuit(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := driver.TwoLadders{Le: span(rt, "Le", 1e-6, 0.1), L2: span(rt, "L2", 1e-6, 0.1), R2: span(rt, "R2", 0.01, 1e4),
			L3: span(rt, "L3", 1e-6, 0.1), R3: span(rt, "R3", 0.01, 1e4)}
		g := grid(t, span(rt, "f", 1, 100e3))
		s := complex(0, g.Omega()[0])
		beside := func(l, r float64) complex128 { return 1 / (1/(s*complex(l, 0)) + 1/complex(r, 0)) }
		want := s*complex(c.Le, 0) + beside(c.L2, c.R2) + beside(c.L3, c.R3)
		if got := c.ImpedanceTo(nil, g)[0]; cmplx.Abs(got-want) > 1e-13*cmplx.Abs(want) {
			rt.Fatalf("%#v: Z is %v, want %v", c, got, want)
		}
	})
}

// The second branch without resistance is inductance of the first: with R3 large,
// or with equal corners, two ladders are one.
func TestTwoLaddersThatAreOne(t *testing.T) {
	g := grid(t, 20, 1000, 20e3)
	for name, c := range map[string]struct {
		two driver.TwoLadders
		one driver.Ladder
	}{
		"no loss":      {driver.TwoLadders{Le: 1e-4, L2: 1e-3, R2: 8, L3: 2e-4, R3: 1e12}, driver.Ladder{Le: 3e-4, L2: 1e-3, R2: 8}},
		"equal corner": {driver.TwoLadders{Le: 1e-4, L2: 1e-3, R2: 8, L3: 2e-3, R3: 16}, driver.Ladder{Le: 1e-4, L2: 3e-3, R2: 24}},
	} {
		want := c.one.ImpedanceTo(nil, g)
		for i, z := range c.two.ImpedanceTo(nil, g) {
			if cmplx.Abs(z-want[i]) > 1e-9*cmplx.Abs(want[i]) {
				t.Errorf("%s: Z at %g Hz is %v, want %v", name, g.At(i), z, want[i])
			}
		}
	}
}

func TestTwoLaddersSorted(t *testing.T) {
	low := driver.TwoLadders{Le: 1e-4, L2: 1e-3, R2: 2, L3: 1e-4, R3: 9}
	high := driver.TwoLadders{Le: 1e-4, L2: 1e-4, R2: 9, L3: 1e-3, R3: 2}
	if low.Sorted() != low || high.Sorted() != low {
		t.Errorf("sorted are %v and %v, want %v twice", low.Sorted(), high.Sorted(), low)
	}
}
