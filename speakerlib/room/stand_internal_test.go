package room

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// Series of cylinder functions, Fresnel integrals and quadrature by testdata/scipy_stand.py.
func TestScatteringAgainstSciPy(t *testing.T) {
	seen := map[string]int{}
	for _, r := range testtable.Read(t, "testdata/scipy_stand.csv") {
		name, a, b := r.Text(t, "case"), r.Number(t, "a"), r.Number(t, "b")
		z := complex(r.Number(t, "re"), r.Number(t, "im"))
		seen[name]++
		k := 2 * math.Pi * a / 343
		switch name {
		case "cylinder":
			if got := cylinder(a, b*math.Pi/180); cmplx.Abs(got-z) > 1e-11*(1+cmplx.Abs(z)) {
				t.Errorf("ka = %g, %g°: %v, want %v", a, b, got, z)
			}
		case "line": // the far form of the field at kρ = 10, 40 and 120
			got := cylinder(a*0.03, math.Pi/2) * cmplx.Rect(math.Sqrt(2/(math.Pi*a*2)), math.Pi/4-2*a)
			if e := cmplx.Abs(got/z - 1); e > 0.06 {
				t.Errorf("k = %g: %v, exactly %v: off by %.4f", a, got, z, e)
			}
		case "plate":
			s, l := Point{0, 0, 10}, Point{20, 0, 11}
			p := Plate{At: Point{X: 200.0/21 + b}, Depth: 1.2, Width: 0.8}
			image := Point{0, 0, -10}.To(l)
			got := p.pressure(k, s, l) * cmplx.Rect(image, k*image)
			// The paraxial form keeps the second order of the path only.
			if e := cmplx.Abs(got - z); e > 0.03 {
				t.Errorf("plate at %g Hz, %g m off: %v, paraxial %v: %.3f apart", a, b, got, z, e)
			}
		case "kirchhoff":
			p := Plate{At: Point{0.1, 0, 0.6}, Depth: 0.2, Width: 0.25}
			if got := p.pressure(k, Point{0, 0.05, 0.935}, Point{2.6, 0, 0.935}); cmplx.Abs(got-z) > 1e-9 {
				t.Errorf("plate at %g Hz: %v, want %v", a, got, z)
			}
		}
	}
	if seen["cylinder"] != 28 || seen["line"] != 3 || seen["plate"] != 12 || seen["kirchhoff"] != 3 {
		t.Errorf("rows: %v", seen)
	}
}

// A long column: the integral along it by stationary phase,
// (j·f/π)·e^{−jk(r₁+r₂) − jπ/4}·√(2π/(k·r₁r₂·(r₁+r₂))).
func TestLongColumn(t *testing.T) {
	s, l := Point{-1.5, 0, 1}, Point{0, 2, 1}
	c := Column{Radius: 0.03, Bottom: -40, Top: 42}
	for _, k := range []float64{5, 20, 60} {
		want := complex(0, 1/math.Pi) * cylinder(k*0.03, math.Pi/2) * cmplx.Rect(math.Sqrt(2*math.Pi/(k*1.5*2*3.5)), -k*3.5-math.Pi/4)
		if e := cmplx.Abs(c.pressure(k, s, l)/want - 1); e > 0.25/k {
			t.Errorf("k = %g: %v, want %v: off by %.4f", k, c.pressure(k, s, l), want, e)
		}
	}
	// Half of it, from the specular height on: half the field.
	half := Column{Radius: 0.03, Bottom: -40, Top: 1}
	if r := half.pressure(20, s, l) / c.pressure(20, s, l); cmplx.Abs(r-0.5) > 0.01 {
		t.Errorf("half a column gives %v, want 1/2", r)
	}
}
