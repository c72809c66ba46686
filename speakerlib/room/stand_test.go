package room_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/room"
)

// A plate that is large against everything is the floor: its image. One whose edge is right
// under the point of reflection gives half.
func TestLargePlateIsAnImage(t *testing.T) {
	g := grid(t, 2000, 4000, 1)
	s, l := room.Point{X: 0.1, Z: 0.6}, room.Point{X: 1.7, Z: 0.6}
	const direct, image = 1.6, 2
	for _, c := range []struct{ at, want float64 }{{0.9, 1}, {3.9, 0.5}} {
		stand := room.Stand{Plates: []room.Plate{{Name: "large", At: room.Point{X: c.at}, Depth: 6, Width: 6}}, Air: medium}
		p := must[[]room.Scatter](t)(stand.Heard(s, l))
		h := p[0].ResponseTo(nil, g)
		for i, w := range g.Omega() {
			want := cmplx.Rect(c.want*direct/image, -w*(image-direct)/343)
			if e := cmplx.Abs(h[i] - want); e > 0.05 {
				t.Errorf("plate at %g m, %g Hz: %v, want %v", c.at, g.At(i), h[i], want)
			}
		}
		if math.Abs(p[0].Extra-(image-direct)) > 1e-9 {
			t.Errorf("plate at %g m: %g m longer", c.at, p[0].Extra)
		}
	}
}

// The nearest point: at the edge of a plate that ends 0.2 m before the point of reflection, and
// at the top of a column that ends below the ray.
func TestExtraPath(t *testing.T) {
	s, l := room.Point{X: 0.1, Y: 0.3, Z: 0.6}, room.Point{X: 1.7, Y: 0.3, Z: 1.2}
	stand := room.Stand{
		Plates:  []room.Plate{{Name: "p", At: room.Point{X: 0.2333333333333333, Y: 0.2}, Depth: 0.4, Width: 0.1}},
		Columns: []room.Column{{Name: "c", X: 0.1, Y: 0, Radius: 0.02, Top: 0.5}, {Name: "tall", X: 0.7, Y: 0, Radius: 0.02, Top: 3}},
		Air:     medium,
	}
	parts := must[[]room.Scatter](t)(stand.Heard(s, l))
	edge := room.Point{X: 0.4333333333333333, Y: 0.25}
	top := room.Point{X: 0.1, Z: 0.5}
	// A tall one is met where the ray, unfolded in plan, passes it.
	a, b := math.Hypot(0.6, 0.3), math.Hypot(1, 0.3)
	met := room.Point{X: 0.7, Z: 0.6 + 0.6*a/(a+b)}
	for k, at := range []room.Point{edge, top, met} {
		if want := s.To(at) + at.To(l) - s.To(l); math.Abs(parts[k].Extra-want) > 1e-12 {
			t.Errorf("%s: %g m longer, want %g", parts[k].Name, parts[k].Extra, want)
		}
	}
}

// The demo's stand, with an invented plate of 200 × 200 mm of which 60 mm stand out before the
// cabinet, and a column of 60 mm: what it does stays below a decibel.
func TestDemoStand(t *testing.T) {
	g := grid(t, 200, 5000, 6)
	stand := room.Stand{
		Plates:  []room.Plate{{Name: "plate", At: room.Point{X: 0.03, Z: 0.62}, Depth: 0.06, Width: 0.2}},
		Columns: []room.Column{{Name: "column", X: -0.13, Radius: 0.03, Bottom: 0, Top: 0.6}},
		Air:     medium,
	}
	parts := must[[]room.Scatter](t)(stand.Heard(room.Point{Z: 0.935}, room.Point{X: 2.6, Z: 0.935}))
	r := must[freq.Curve](t)(room.Ripple(g, "stand", parts...))
	worst := must[freq.Point](t)(r.Max(200, 5000))
	if worst.Value > 1 || worst.Value < 0.05 {
		t.Errorf("ripple of up to %.2f dB at %.0f Hz", worst.Value, worst.Hz)
	}
	for i := range g.Len() {
		var sum float64
		for _, p := range parts {
			sum += cmplx.Abs(p.ResponseTo(nil, g)[i])
		}
		if math.Abs(r.At(i)-level.DB(1+sum)) > 1e-9 {
			t.Fatalf("%g Hz: %g dB, want that of %g", g.At(i), r.At(i), 1+sum)
		}
	}
}

func TestStandRefuses(t *testing.T) {
	s, l := room.Point{Z: 0.9}, room.Point{X: 2, Z: 0.9}
	plate := room.Plate{Name: "p", At: room.Point{Z: 0.6}, Depth: 0.1, Width: 0.1}
	column := room.Column{Name: "c", X: -0.2, Radius: 0.03, Top: 0.6}
	above, none, thick, short := plate, plate, column, column
	above.At.Z, none.Depth, thick.Radius, short.Top = 1, 0, 0.11, 0
	for name, c := range map[string]struct {
		stand room.Stand
		l     room.Point
		want  string
	}{
		"nothing":     {room.Stand{Air: medium}, l, "without plates"},
		"no air":      {room.Stand{Plates: []room.Plate{plate}}, l, "density"},
		"plate above": {room.Stand{Plates: []room.Plate{above}, Air: medium}, l, "above it"},
		"nowhere":     {room.Stand{Plates: []room.Plate{{Name: "p", At: room.Point{X: math.NaN(), Z: 0.6}, Depth: 0.1, Width: 0.1}}, Air: medium}, l, "finite place"},
		"far away":    {room.Stand{Plates: []room.Plate{{Name: "p", At: room.Point{Y: math.Inf(1), Z: 0.6}, Depth: 0.1, Width: 0.1}}, Air: medium}, l, "finite place"},
		"no plate":    {room.Stand{Plates: []room.Plate{none}, Air: medium}, l, "sizes > 0"},
		"too near":    {room.Stand{Columns: []room.Column{thick}, Air: medium}, l, "two radii"},
		"no column":   {room.Stand{Columns: []room.Column{short}, Air: medium}, l, "sizes > 0"},
		"one place":   {room.Stand{Plates: []room.Plate{plate}, Air: medium}, s, "distance between"},
		"no place":    {room.Stand{Plates: []room.Plate{plate}, Air: medium}, room.Point{X: math.Inf(1)}, "finite"},
	} {
		if _, err := c.stand.Heard(s, c.l); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	if _, err := room.Ripple(grid(t, 100, 200, 1), "", room.Scatter{}); err == nil {
		t.Error("ripple of an empty part")
	}
	for name, stand := range map[string]room.Stand{
		"a county": {Plates: []room.Plate{{Name: "p", At: room.Point{Z: 0.6}, Depth: 1e5, Width: 1e5}}, Air: medium},
		"a tower":  {Columns: []room.Column{{Name: "c", X: -3e4, Radius: 1e4, Top: 0.6}}, Air: medium},
		"a mast":   {Columns: []room.Column{{Name: "c", X: -0.2, Radius: 0.03, Top: 1e9}}, Air: medium},
	} {
		parts, err := stand.Heard(s, l)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := room.Ripple(grid(t, 100, 200, 1), "", parts...); err == nil || !strings.Contains(err.Error(), "too large") {
			t.Errorf("%s as a part of a stand: %v", name, err)
		}
	}
}
