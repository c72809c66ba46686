package room_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/room"
)

// The demo's tweeter at 0.935 m and a listener at 2.6 m and the same height, over a floor.
func TestFloorBounce(t *testing.T) {
	g := grid(t, 20, 5000, 48)
	source, ear := room.Point{X: 1, Y: 1, Z: 0.935}, room.Point{X: 3.6, Y: 1, Z: 0.935}
	bounce := math.Hypot(2.6, 1.87)
	f := must[*room.Field](t)(rigid(room.Floor).Heard(room.Source{At: source}, ear, 0))
	h := must[freq.Response](t)(freq.Evaluate(f, g, "", freq.Basis{}))
	for i, w := range g.Omega() {
		want := 1 + cmplx.Rect(2.6/bounce, -w*(bounce-2.6)/343)
		if cmplx.Abs(h.At(i)-want) > 1e-12 {
			t.Fatalf("%g Hz: %v, want %v", g.At(i), h.At(i), want)
		}
	}
	c := must[[]room.Cancellation](t)(f.Cancellations(g))
	if len(c) != 1 {
		t.Fatalf("%d cancellations, want 1", len(c))
	}
	// f = c/(2Δ), 1 − r₀/r.
	if want := 343 / (2 * (bounce - 2.6)); math.Abs(c[0].Hz/want-1) > 1e-6 || math.Abs(c[0].Depth-(1-2.6/bounce)) > 1e-6 || math.Abs(c[0].Extra-(bounce-2.6)) > 1e-12 || c[0].Path.String() != "floor" {
		t.Errorf("cancellation %+v, want %g Hz", c[0], want)
	}
	// A grid that begins above it or ends below it has none: the next one, at three times the
	// frequency, is not the lowest.
	for _, r := range [][2]float64{{c[0].Hz * 1.01, 5000}, {c[0].Hz * 2.2, 5000}, {20, c[0].Hz * 0.97}} {
		if out := must[[]room.Cancellation](t)(f.Cancellations(grid(t, r[0], r[1], 48))); len(out) != 0 {
			t.Errorf("%g … %g Hz: %+v", r[0], r[1], out)
		}
	}
	// Over a locally reacting floor (ζ = 3 − 5j at every frequency that counts here), by hand.
	zeta := must[freq.Response](t)(freq.NewResponse(g, constant(g, 3-5i), "carpet", freq.Basis{}))
	soft := &room.Walls{Surfaces: [6]room.Surface{room.Floor: room.Impedance{Zeta: zeta}}, Air: medium}
	f = must[*room.Field](t)(soft.Heard(room.Source{At: source}, ear, 0))
	h = must[freq.Response](t)(freq.Evaluate(f, g, "", freq.Basis{}))
	cos := complex(1.87/bounce, 0)
	r := (cos*(3-5i) - 1) / (cos*(3-5i) + 1)
	for i, w := range g.Omega() {
		want := 1 + r*cmplx.Rect(2.6/bounce, -w*(bounce-2.6)/343)
		if cmplx.Abs(h.At(i)-want) > 1e-12 {
			t.Fatalf("carpet at %g Hz: %v, want %v", g.At(i), h.At(i), want)
		}
	}
	c = must[[]room.Cancellation](t)(f.Cancellations(g))
	if want := 343 / (2 * math.Pi * (bounce - 2.6)) * (math.Pi + cmplx.Phase(r)); len(c) != 1 || math.Abs(c[0].Hz/want-1) > 1e-5 || math.Abs(c[0].Depth-(1-cmplx.Abs(r)*2.6/bounce)) > 1e-6 {
		t.Errorf("carpet: %+v, want %g Hz", c, want)
	}
	if err := freq.CheckGrid(f, grid(t, 20, 40, 1)); err == nil || !strings.Contains(err.Error(), "floor") {
		t.Errorf("carpet on another grid: %v", err)
	}
}

func constant(g *freq.Grid, v complex128) []complex128 {
	z := make([]complex128, g.Len())
	for i := range z {
		z[i] = v
	}
	return z
}

// Both walls of an axis met several times: R₁ⁿ·R₂ᵐ, counted by hand in a corridor.
func TestReflectionsMultiply(t *testing.T) {
	g := grid(t, 100, 200, 2)
	hard, soft := must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 100, Alpha: 0.19})), must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 100, Alpha: 0.75}))
	w := &room.Walls{Surfaces: [6]room.Surface{room.Left: hard, room.Right: soft}, Width: 3, Air: medium} // R = 0.9 and 0.5
	f := must[*room.Field](t)(w.Heard(room.Source{At: room.Point{Y: 1}}, room.Point{Y: 2}, 12))
	h := f.ResponseTo(nil, g)
	for i, omega := range g.Omega() {
		var want complex128
		for _, c := range []struct{ d, r float64 }{ // images at 1, −1, 5, 7, −5, 11, −7, 13, −11, (−13 is 15 m off)
			{1, 1}, {3, 0.9}, {3, 0.5}, {5, 0.45}, {7, 0.45}, {9, 0.45 * 0.5}, {9, 0.45 * 0.9}, {11, 0.45 * 0.45},
		} {
			want += cmplx.Rect(c.r/c.d, -omega*(c.d-1)/343)
		}
		if cmplx.Abs(h[i]-want) > 1e-12 {
			t.Errorf("%g Hz: %v, want %v", g.At(i), h[i], want)
		}
	}
}

// A cardioid turns its back to the front wall, and toed in by 90° to the right its back to
// the left wall.
func TestPatternAndFacing(t *testing.T) {
	g := grid(t, 100, 200, 2)
	cardioid := func(right, up, forward float64) (freq.Transfer, error) { return freq.Gain((1 + forward) / 2), nil }
	for _, c := range []struct {
		facing  room.Point
		ear     room.Point
		silent  room.Wall
		hearing room.Wall
	}{
		{room.Point{}, room.Point{X: 3, Y: 1, Z: 1}, room.Front, room.Left},
		{room.Point{X: 0, Y: 2, Z: 5}, room.Point{X: 1, Y: 3, Z: 1}, room.Left, room.Front},
	} {
		s := room.Source{At: room.Point{X: 1, Y: 1, Z: 1}, Facing: c.facing, Pattern: cardioid}
		alone := must[*room.Field](t)(rigid(c.silent).Heard(s, c.ear, 0))
		if h := alone.ResponseTo(nil, g); cmplx.Abs(h[0]-1) > 1e-12 {
			t.Errorf("facing %v: %v is heard", c.facing, c.silent)
		}
		other := must[*room.Field](t)(rigid(c.hearing).Heard(s, c.ear, 0))
		d := (1 + 2/math.Hypot(2, 2)) / 2
		if want := 1 + cmplx.Rect(d*2/math.Hypot(2, 2), -g.Omega()[0]*(math.Hypot(2, 2)-2)/343); cmplx.Abs(other.ResponseTo(nil, g)[0]-want) > 1e-12 {
			t.Errorf("facing %v: %v gives %v, want %v", c.facing, c.hearing, other.ResponseTo(nil, g)[0], want)
		}
	}
	// Right is right: as the one sees it who looks at the front, Y rises to the right.
	var seen [3]float64
	s := room.Source{At: room.Point{X: 1, Y: 1, Z: 1}, Pattern: func(right, up, forward float64) (freq.Transfer, error) {
		if seen == [3]float64{} {
			seen = [3]float64{right, up, forward}
		}
		return freq.Gain(1), nil
	}}
	must[*room.Field](t)(rigid(room.Floor).Heard(s, room.Point{X: 3, Y: 2, Z: 3}, 0))
	if seen != [3]float64{1. / 3, 2. / 3, 2. / 3} {
		t.Errorf("towards 2 1 2: right, up, forward %v", seen)
	}
	silent := func(right, up, forward float64) (freq.Transfer, error) { return freq.Gain(0), nil }
	f := must[*room.Field](t)(rigid(room.Floor).Heard(room.Source{At: room.Point{Z: 1}, Pattern: silent}, room.Point{X: 3, Z: 1}, 0))
	if err := f.CheckGrid(g); err == nil || !strings.Contains(err.Error(), "silent") {
		t.Errorf("a silent loudspeaker: %v", err)
	}
	for _, p := range []room.Pattern{
		func(float64, float64, float64) (freq.Transfer, error) { return nil, nil },
		func(float64, float64, float64) (freq.Transfer, error) { return nil, fmt.Errorf("no such angle") },
	} {
		if _, err := rigid(room.Floor).Heard(room.Source{At: room.Point{Z: 1}, Pattern: p}, room.Point{X: 3, Z: 1}, 0); err == nil {
			t.Error("a pattern that gives nothing was taken")
		}
	}
	if _, err := rigid(room.Floor).Heard(room.Source{At: room.Point{Z: 1}, Facing: room.Point{Z: 1}}, room.Point{X: 3, Z: 1}, 0); err == nil {
		t.Error("a loudspeaker that faces the ceiling was taken")
	}
}

func TestOver(t *testing.T) {
	g := grid(t, 50, 400, 12)
	w := rigid(room.Front, room.Floor)
	var fields []*room.Field
	for _, x := range []float64{2.4, 2.6, 2.8} {
		fields = append(fields, must[*room.Field](t)(w.Heard(room.Source{At: room.Point{X: 0.5, Z: 0.8}}, room.Point{X: x, Z: 1}, 0)))
	}
	s := must[*room.Spread](t)(room.Over(g, fields...))
	for i := range g.Len() {
		var sum float64
		low, high := math.Inf(1), 0.0
		for _, f := range fields {
			p := math.Pow(cmplx.Abs(f.ResponseTo(nil, g)[i]), 2)
			sum, low, high = sum+p/3, min(low, p), max(high, p)
		}
		for _, c := range []struct{ got, want float64 }{{s.Mean.At(i), sum}, {s.Low.At(i), low}, {s.High.At(i), high}} {
			if math.Abs(c.got-level.PowerDB(c.want)) > 1e-9 {
				t.Fatalf("%g Hz: %g dB, want %g", g.At(i), c.got, level.PowerDB(c.want))
			}
		}
	}
	if _, err := room.Over(g); err == nil {
		t.Error("a spread over no place")
	}
}
