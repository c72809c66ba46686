package driver_test

import (
	"math"
	"math/cmplx"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
)

func span(t *rapid.T, name string, lo, hi float64) float64 {
	return lo * math.Pow(hi/lo, rapid.Float64Range(0, 1).Draw(t, name))
}

// anyTunableCoil draws a coil of each kind, wider than real ones are.
func anyTunableCoil(t *rapid.T) driver.TunableCoil {
	henry := func(name string) float64 { return span(t, name, 1e-6, 1e-1) }
	ohm := func(name string) float64 { return span(t, name, 1e-2, 1e4) }
	switch rapid.IntRange(0, 5).Draw(t, "coil") {
	case 0:
		return driver.NoCoil{}
	case 1:
		return driver.Inductor{Le: henry("Le")}
	case 2:
		return driver.Ladder{Le: henry("Le"), L2: henry("L2"), R2: ohm("R2")}
	case 3:
		return driver.TwoLadders{Le: henry("Le"), L2: henry("L2"), R2: ohm("R2"), L3: henry("L3"), R3: ohm("R3")}
	case 4:
		return driver.SemiInductance{K: span(t, "K", 1e-4, 10), N: rapid.Float64Range(0.05, 1).Draw(t, "N")}
	}
	return driver.ShuntedSemiInductance{Leb: henry("Leb"), Le: henry("Le"), Ke: span(t, "Ke", 1e-3, 10), Rss: ohm("Rss")}
}

// The derivatives against differences of the impedance that With and ImpedanceTo
// give: the five-point formula (M. Abramowitz and I. A. Stegun, Handbook of
// Mathematical Functions, 25.3.6), whose error is h⁴/30 of the fifth derivative.
func TestCoilDerivatives(t *testing.T) {
	g, err := freq.LogGrid(5, 40e3, 3)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(rt *rapid.T) {
		c := anyTunableCoil(rt)
		n := c.Parameters()
		theta := c.ThetaTo(nil)
		if len(theta) != n || len(c.Names()) != n {
			rt.Fatalf("%#v: %d parameters, %d values, %d names", c, n, len(theta), len(c.Names()))
		}
		stride := n + 2
		z, jac := make([]complex128, g.Len()), make([]complex128, g.Len()*stride)
		// The parameters of the one that is asked play no part.
		asked := reflect.Zero(reflect.TypeOf(c)).Interface().(driver.TunableCoil)
		asked.ImpedanceJacobianTo(z, jac, stride, theta, g)
		alone := make([]complex128, g.Len())
		asked.ImpedanceJacobianTo(alone, nil, 0, theta, g)
		want := c.ImpedanceTo(nil, g)
		for i := range z {
			if alone[i] != z[i] {
				rt.Fatalf("%#v: Z is %v with and %v without derivatives", c, z[i], alone[i])
			}
			if cmplx.Abs(z[i]-want[i]) > 1e-13*cmplx.Abs(want[i]) {
				rt.Fatalf("%#v: Z at %g Hz is %v, want %v", c, g.At(i), z[i], want[i])
			}
			for k := n; k < stride; k++ {
				if jac[i*stride+k] != 0 {
					rt.Fatalf("%#v: something is written beyond the row", c)
				}
			}
		}
		const h = 3e-4
		for k := range n {
			at := func(steps float64) []complex128 {
				moved := append([]float64(nil), theta...)
				moved[k] += steps * h
				return c.With(moved).ImpedanceTo(nil, g)
			}
			a, b, d, e := at(-2), at(-1), at(1), at(2)
			for i := range z {
				want := (a[i] - 8*b[i] + 8*d[i] - e[i]) / (12 * h)
				if got := jac[i*stride+k]; cmplx.Abs(got-want) > 1e-9*cmplx.Abs(z[i]) {
					rt.Fatalf("%#v: ∂Z/∂(%s) at %g Hz is %v, by differences %v", c, c.Names()[k], g.At(i), got, want)
				}
			}
		}
	})
}

// θ and back, and bounds that hold the coil valid.
func TestCoilThroughTheta(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := anyTunableCoil(rt)
		theta := c.ThetaTo(nil)
		back := c.With(theta).ThetaTo(nil)
		lower, upper := make([]float64, len(theta)), make([]float64, len(theta))
		c.BoundsTo(lower, upper)
		for k := range theta {
			if math.Abs(back[k]-theta[k]) > 1e-14*math.Abs(theta[k])+1e-15 {
				rt.Fatalf("%#v: θ is %v, and %v after With", c, theta, back)
			}
			if !(lower[k] <= theta[k] && theta[k] <= upper[k]) {
				rt.Fatalf("%#v: θ is %v, bounds %v … %v", c, theta, lower, upper)
			}
			if !math.IsInf(upper[k], 1) {
				theta[k] = upper[k]
			}
		}
		if v, ok := c.With(theta).(interface{ Validate() error }); ok && v.Validate() != nil {
			rt.Fatalf("%#v at its bounds: %v", c.With(theta), v.Validate())
		}
	})
}

func TestCoilJacobianDoesNotAllocate(t *testing.T) {
	g, err := freq.LogGrid(10, 20e3, 12)
	if err != nil {
		t.Fatal(err)
	}
	z, jac := make([]complex128, g.Len()), make([]complex128, 5*g.Len())
	for _, c := range []driver.TunableCoil{driver.NoCoil{}, driver.Inductor{Le: 1e-3}, driver.Ladder{Le: 1e-3, L2: 1e-3, R2: 3},
		driver.TwoLadders{Le: 1e-4, L2: 1e-3, R2: 3, L3: 1e-4, R3: 9}, driver.SemiInductance{K: 0.02, N: 0.7},
		driver.ShuntedSemiInductance{Leb: 1e-5, Le: 1e-3, Ke: 0.1, Rss: 100}} {
		theta := c.ThetaTo(nil)
		if n := testing.AllocsPerRun(20, func() { c.ImpedanceJacobianTo(z, jac, 5, theta, g) }); n != 0 {
			t.Errorf("%T: %g allocations, want 0", c, n)
		}
	}
}

// Slices that do not fit are a programmer's mistake.
func TestCoilJacobianPanics(t *testing.T) {
	g := grid(t, 10, 100)
	c := driver.SemiInductance{K: 0.02, N: 0.7}
	theta := c.ThetaTo(nil)
	z := make([]complex128, 2)
	for name, f := range map[string]func(){
		"z":      func() { c.ImpedanceJacobianTo(z[:1], nil, 0, theta, g) },
		"theta":  func() { c.ImpedanceJacobianTo(z, nil, 0, theta[:1], g) },
		"jac":    func() { c.ImpedanceJacobianTo(z, make([]complex128, 3), 2, theta, g) },
		"stride": func() { c.ImpedanceJacobianTo(z, make([]complex128, 4), 1, theta, g) },
		"with":   func() { c.With(theta[:1]) },
		"bounds": func() { c.BoundsTo(nil, theta) },
		"own":    func() { c.ThetaTo(theta[:1]) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}

func BenchmarkCoilJacobian(b *testing.B) {
	g, err := freq.LogGrid(8, 20e3, 32)
	if err != nil {
		b.Fatal(err)
	}
	z, jac := make([]complex128, g.Len()), make([]complex128, 5*g.Len())
	for name, c := range map[string]driver.TunableCoil{
		"TwoLadders":            driver.TwoLadders{Le: 1e-4, L2: 1e-3, R2: 3, L3: 1e-4, R3: 9},
		"SemiInductance":        driver.SemiInductance{K: 0.02, N: 0.7},
		"ShuntedSemiInductance": driver.ShuntedSemiInductance{Leb: 1e-5, Le: 1e-3, Ke: 0.1, Rss: 100},
	} {
		theta := c.ThetaTo(nil)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.ImpedanceJacobianTo(z, jac, 5, theta, g)
			}
		})
	}
}
