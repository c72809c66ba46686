package diffraction_test

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// At low frequencies a cabinet does not stand in the way: −6.02 dB re half space in all
// directions (a source without a body around it; the field outside a small rigid body
// is that of its volume velocity). The demand is 0.1 dB; two orders leave some tenths,
// one order more than a decibel.
func TestLowFrequencyLimit(t *testing.T) {
	for name, c := range map[string]*diffraction.Cabinet{"box": demo(t), "chamfered box": chamfered(t), "prism of 5 sides": round(t, 5, diffraction.Rounding{}), "plate": disc(t, 6)} {
		p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: c, Air: still, Grid: grid(t, 2), Receivers: orbits(), Order: diffraction.All})
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range []r3.Vec{{}, {X: 0.04, Y: 0.03}, {X: 0.055, Y: 0.01}} {
			h := solvePlan(t, p, diffraction.Source{Elements: point(at.X, at.Y, 0)})
			// The same from the back, as of a vent there.
			h = append(h, solvePlan(t, p, diffraction.Source{Face: 1, Elements: point(at.X, at.Y, c.Outline(1)[0].Z)})...)
			worst := 0.0
			for _, v := range h {
				worst = math.Max(worst, math.Abs(level.DB(2*cmplx.Abs(v))))
			}
			limit := 0.02
			if name == "chamfered box" { // 5° beside the planes of its facets, from the second order
				limit = 0.06
			}
			if worst > limit {
				t.Errorf("%s from %v: up to %.3f dB off half of the half space", name, at, worst)
			}
			t.Logf("%s from %v: within %.4f dB", name, at, worst)
		}
	}
}

// Across the planes of the faces the sum is smooth although each of its parts jumps.
func TestContinuousAcrossZones(t *testing.T) {
	for _, order := range []diffraction.Order{diffraction.Second, diffraction.All} {
		for _, at := range []float64{90, 180, 270} {
			var to []diffraction.Receiver
			for _, d := range []float64{-1e-4, 0, 1e-4} {
				to = append(to, diffraction.Angles(rad(at+d), 0.1))
			}
			// Third orders jump where the second passes its own boundary; with all of
			// them nothing does.
			hz := []float64{200, 1000, 2000}
			h := solve(t, diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, hz...), Receivers: to, Order: order, UpTo: 4000}, diffraction.Source{Elements: point(0.01, 0.05, 0)})
			for i, f := range hz {
				a, b, c := h[i], h[len(hz)+i], h[2*len(hz)+i]
				limit := 0.06
				if order == diffraction.All {
					limit = 0.005
				}
				if e := max(cmplx.Abs(a-c), cmplx.Abs(a-b)); e > limit {
					t.Errorf("order %d at %v° and %v Hz: %v, %v, %v jump by %.3f", order, at, f, a, b, c, e)
				}
			}
		}
	}
}

// chamfered is the box of the benchmarks with 30 mm taken off around its front.
func chamfered(t testing.TB) *diffraction.Cabinet {
	t.Helper()
	c, err := diffraction.NewBox(0.19, 0.33, 0.26, diffraction.Rounding{Chamfer: 0.03}, diffraction.Rounding{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Source and receiver may change places: from a point of the front to one of the side,
// and back. H is re the distance from the reference, which is divided out.
func TestReciprocity(t *testing.T) {
	for name, c := range map[string]*diffraction.Cabinet{"box": demo(t), "chamfered box": chamfered(t)} {
		testReciprocity(t, name, c, r3.Vec{X: 0.02, Y: 0.06}, r3.Vec{X: 0.095, Y: -0.05, Z: -0.1})
		inset := -c.Outline(0)[0].X - 0.01
		testReciprocity(t, name+", 10 mm from edges", c, r3.Vec{X: inset, Y: 0.06}, r3.Vec{X: 0.095, Y: 0.1, Z: inset - 0.095})
	}
}

func testReciprocity(t *testing.T, name string, c *diffraction.Cabinet, front, side r3.Vec) {
	t.Helper()
	ref := r3.Vec{Y: 1}
	hz := []float64{100, 400, 1500, 3000}
	g := grid(t, hz...)
	face := -1
	for f := range c.Faces() {
		if c.Normal(f).X > 1-1e-9 {
			face = f
		}
	}
	setup := diffraction.Setup{Cabinet: c, Air: still, Grid: g, Reference: ref, Order: diffraction.All, UpTo: 5000}
	setup.Receivers = []diffraction.Receiver{diffraction.At(side)}
	there := solve(t, setup, diffraction.Source{Elements: point(front.X, front.Y, 0)})
	setup.Receivers = []diffraction.Receiver{diffraction.At(front)}
	back := solve(t, setup, diffraction.Source{Face: face, Elements: point(side.X, side.Y, side.Z)})
	for i, f := range hz {
		k := 2 * math.Pi * f / 343
		a, b := r3.Norm(r3.Sub(side, ref)), r3.Norm(r3.Sub(front, ref))
		p := there[i] / complex(a, 0) * cmplx.Exp(complex(0, -k*a))
		q := back[i] / complex(b, 0) * cmplx.Exp(complex(0, -k*b))
		if e := cmplx.Abs(p-q) / cmplx.Abs(p); e > 0.0025 {
			t.Errorf("%s at %v Hz: there %v, back %v: %.3f off", name, f, p, q, e)
		} else {
			t.Logf("%s at %v Hz: there and back differ by %.4f", name, f, e)
		}
	}
}

// A receiver far away is one in its direction.
func TestNearBecomesFar(t *testing.T) {
	dir := r3.Unit(r3.Vec{X: 0.5, Y: 0.3, Z: 0.7})
	for _, dir := range []r3.Vec{dir, {X: 0.9, Y: 0.1, Z: -0.3}, {X: 0.1, Y: -0.2, Z: -1}} {
		dir = r3.Unit(dir)
		h := solve(t, diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 100, 1000, 3000), Order: diffraction.All, UpTo: 5000, Reference: r3.Vec{Y: 0.05},
			Receivers: []diffraction.Receiver{diffraction.Toward(dir), diffraction.At(r3.Scale(3e4, dir))}}, diffraction.Source{Elements: point(0.01, 0.05, 0)})
		for i := range 3 {
			if e := cmplx.Abs(h[i] - h[3+i]); e > 2e-4 {
				t.Errorf("towards %v: far %v, at 30 km %v", dir, h[i], h[3+i])
			}
		}
	}
}

// Elements add up with their weights, and a delay is a delay, at every order.
func TestElementsSuperpose(t *testing.T) {
	const late = 3e-3
	hz := []float64{100, 700, 2500}
	for _, order := range []diffraction.Order{diffraction.First, diffraction.Second, diffraction.All} {
		s := diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, hz...), Order: order, Receivers: orbits()[:12], Reference: r3.Vec{Y: 0.02}}
		a := solve(t, s, diffraction.Source{Elements: point(0.03, 0.1, 0)})
		b := solve(t, s, diffraction.Source{Elements: point(-0.02, -0.05, 0)})
		both := solve(t, s, diffraction.Source{Elements: []radiation.Element{
			{At: r3.Vec{X: 0.03, Y: 0.1}, Weight: 1.2}, {At: r3.Vec{X: -0.02, Y: -0.05}, Weight: -0.2, Delay: late}}})
		for i := range both {
			want := 1.2*a[i] - 0.2*b[i]*cmplx.Exp(complex(0, -2*math.Pi*hz[i%3]*late))
			if e := cmplx.Abs(both[i] - want); e > 2e-4 {
				t.Errorf("order %d, value %d: %v, want %v", order, i, both[i], want)
			}
		}
	}
}

// Beside the planes of the sides, where the last edge has a narrow peak and the orders from
// the third on make up for what the first two leave there, the limit of low frequencies holds
// as within them (TestLowFrequencyLimit). A point is beside planes as well, and behind the
// body it is so in the corner of two edges, the nearer the farther it is. There H depends on
// where the middle of the source is seen: 1 + x/R, odd in the direction, and the mean of two
// opposite points has the limit, but for (x/R)², which is 0.01 dB at 10 m.
func TestLowFrequencyLimitBesidePlanes(t *testing.T) {
	toward := func(right, up float64) r3.Vec {
		right, up = rad(right), rad(up)
		return r3.Vec{X: math.Sin(right) * math.Cos(up), Y: math.Sin(up), Z: math.Cos(right) * math.Cos(up)}
	}
	var directions, points []diffraction.Receiver
	for _, right := range []float64{0, 60, 100, 120, 160, 180} {
		for _, up := range []float64{0.01, 0.3, 1, 3, 10} {
			directions = append(directions, diffraction.Toward(toward(right, up)))
		}
		for _, up := range []float64{0, 0.01, 0.3, 3} {
			for _, distance := range []float64{10, 30, 100, 3000} {
				d := r3.Scale(distance, toward(right, up))
				points = append(points, diffraction.At(d), diffraction.At(r3.Scale(-1, d)))
			}
		}
	}
	for name, front := range map[string]diffraction.Rounding{"sharp": {}, "one facet of 25 mm": {Radius: 0.025, Facets: 1}} {
		h := solve(t, diffraction.Setup{Cabinet: boundaryBox(t, front), Air: still, Grid: grid(t, 2), Receivers: append(directions, points...), Order: diffraction.All}, diffraction.Source{Elements: point(0, boundaryTweeter, 0)})
		n, far, near := len(directions), 0.0, 0.0
		for i, v := range h {
			e := level.DB(2 * cmplx.Abs(v))
			switch {
			case i < n:
				far = max(far, math.Abs(e))
			case (i-n)%2 == 0:
				near = max(near, math.Abs(e+level.DB(2*cmplx.Abs(h[i+1])))/2)
			}
		}
		t.Logf("%s: within %.3f dB in directions, %.3f dB at points", name, far, near)
		if far > 0.02 || near > 0.02 {
			t.Errorf("%s: up to %.3f dB off half of the half space in directions, %.3f dB at points, want at most 0.02", name, far, near)
		}
	}
}
