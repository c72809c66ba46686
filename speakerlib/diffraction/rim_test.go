package diffraction_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/radiation"
)

// surfaces are radiators of all kinds that reach to a radius, the slot to both sides, each by
// few elements and by many.
func surfaces(t testing.TB, radius float64, centre, axis r3.Vec) map[string][]radiation.Element {
	t.Helper()
	all := map[string][]radiation.Element{}
	add := func(name string, n int, e []radiation.Element, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		all[fmt.Sprintf("%s by %d", name, n)] = e
	}
	for _, n := range []int{1, 2, 3, 4, 8} {
		e, err := radiation.Piston{Radius: radius}.Elements(centre, axis, n)
		add("piston", n, e, err)
		e, err = radiation.Ring{Outer: radius, Inner: 0.3 * radius}.Elements(centre, axis, n)
		add("ring", n, e, err)
		e, err = radiation.Dome{Radius: radius, Height: 0.2 * radius}.Elements(centre, axis, n, still)
		add("dome", n, e, err)
		e, err = radiation.Dome{Radius: radius, Height: -0.2 * radius}.Elements(centre, axis, n, still)
		add("cone", n, e, err)
		e, err = radiation.Rectangle{Width: 2 * radius, Height: 0.1 * radius}.Elements(centre, axis, n, 1)
		add("slot", n, e, err)
	}
	return all
}

// Whether a radiator fits is a matter of its rim, which for a circle in a polygon is that of
// the distances from its centre to the sides, however many elements stand for it: on front,
// back and side of the box of 190 × 330 × 260 mm, and on a regular pentagon, whose sides are
// r·cos 36° from its centre.
func TestRadiatorFitsOrNot(t *testing.T) {
	box := demo(t)
	pentagon := round(t, 5, diffraction.Rounding{})
	side := -1
	for f := range box.Faces() {
		if box.Normal(f).X > 1-1e-9 {
			side = f
		}
	}
	corner := pentagon.Outline(0)[0]
	for _, c := range []struct {
		what   string
		body   *diffraction.Cabinet
		face   int
		centre r3.Vec
		most   float64 // radius that fits
		slots  bool    // whether it is the most of a slot too
	}{
		{"front", box, 0, r3.Vec{}, 0.095, true},
		{"10 mm from the right edge", box, 0, r3.Vec{X: 0.085, Y: 0.05}, 0.010, true},
		{"30 mm below the upper edge", box, 0, r3.Vec{X: -0.01, Y: 0.135}, 0.030, false},
		{"back", box, 1, r3.Vec{X: 0.02, Z: -0.26}, 0.075, true},
		{"side", box, side, r3.Vec{X: 0.095, Y: 0.02, Z: -0.05}, 0.050, true},
		{"pentagon", pentagon, 0, r3.Vec{}, math.Hypot(corner.X, corner.Y) * math.Cos(math.Pi/5), false},
	} {
		p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: c.body, Air: still, Grid: grid(t, 500), Receivers: []diffraction.Receiver{diffraction.Angles(0, 0)}})
		if err != nil {
			t.Fatal(err)
		}
		for _, share := range []float64{0.5, 0.99, 1, 1 + 1e-6, 1.02, 1.05, 1.4} {
			for name, e := range surfaces(t, share*c.most, c.centre, c.body.Normal(c.face)) {
				if strings.HasPrefix(name, "slot") && !c.slots {
					continue
				}
				_, err := p.NewState().SolveTo(nil, diffraction.Source{Face: c.face, Elements: e})
				switch {
				case share > 1 && (err == nil || !strings.Contains(err.Error(), "beyond the edges") && !strings.Contains(err.Error(), "inside the edges")):
					t.Errorf("%s, %s of %g times the radius that fits: error %v, want one that tells of the edges", c.what, name, share, err)
				case share < 1 && err != nil:
					t.Errorf("%s, %s of %g times the radius that fits: %v", c.what, name, share, err)
				case share == 1 && err != nil && !strings.Contains(err.Error(), "inside the edges"): // a slot's or many rings' elements are at the edge itself
					t.Errorf("%s, %s just as large as fits: %v", c.what, name, err)
				}
			}
		}
	}
}

// A slot of one element has no second one that would show how it is turned.
func TestTiltedSlot(t *testing.T) {
	p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 500), Receivers: []diffraction.Receiver{diffraction.Angles(0, 0)}})
	if err != nil {
		t.Fatal(err)
	}
	for _, axis := range []r3.Vec{{X: 1, Z: 1}, {Y: 0.1, Z: 1}, {X: 1}} {
		e, err := radiation.Rectangle{Width: 0.05, Height: 0.02}.Elements(r3.Vec{Y: 0.05}, axis, 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.NewState().SolveTo(nil, diffraction.Source{Elements: e}); err == nil || !strings.Contains(err.Error(), "off face 0") {
			t.Errorf("a slot that looks to %v: error %v, want one that tells of the face", axis, err)
		}
	}
}

// Where a study puts a driver its rim is on the front, by any number of elements, and on the
// smaller front between rounded edges too.
func TestStudyKeepsTheRim(t *testing.T) {
	const radius, spacing = 0.04, 0.02
	edges := diffraction.Rounding{Radius: 0.02, Facets: 2}
	facets, err := diffraction.NewBox(0.19, 0.33, 0.26, edges, diffraction.Rounding{})
	if err != nil {
		t.Fatal(err)
	}
	for _, body := range []*diffraction.Cabinet{demo(t), facets} {
		corner := body.Outline(0)[2]
		var places [2]int
		for i, rings := range []int{1, 2} {
			e, err := radiation.Piston{Radius: radius}.Elements(r3.Vec{}, r3.Vec{Z: 1}, rings)
			if err != nil {
				t.Fatal(err)
			}
			setup := diffraction.Setup{Cabinet: demo(t), Air: still, Grid: logGrid(t, 250, 4000, 6), Receivers: listening()[:1]}
			s, err := diffraction.NewStudy(setup, e, nil, diffraction.Ripple{From: 600, To: 1600})
			if err != nil {
				t.Fatal(err)
			}
			if body == facets {
				if s, err = s.Rounded(facets, edges.Radius); err != nil {
					t.Fatal(err)
				}
			}
			m, err := s.Map(spacing, 1e-4)
			if err != nil {
				t.Fatal(err)
			}
			places[i] = len(m)
			right, upper := 0.0, 0.0
			for _, p := range m {
				right, upper = math.Max(right, math.Abs(p.X)+radius), math.Max(upper, math.Abs(p.Y)+radius)
			}
			if x, y := corner.X-right, corner.Y-upper; !(x >= -1e-9 && x < spacing && y >= -1e-9 && y < spacing) {
				t.Errorf("%d rings: the rim stays %.4g m within the right edge and %.4g m within the upper one, want 0 … %g m", rings, x, y, spacing)
			}
			if _, err := s.At(corner.X-radius-0.0002, 0); err != nil {
				t.Errorf("%d rings, 0.2 mm within the edge: %v", rings, err)
			}
			if _, err := s.At(corner.X-radius+0.0002, 0); err == nil || !strings.Contains(err.Error(), "beyond the edges") {
				t.Errorf("%d rings, 0.2 mm beyond the edge: error %v", rings, err)
			}
		}
		if places[0] != places[1] {
			t.Errorf("%d places by one ring and %d by two", places[0], places[1])
		}
	}
}
