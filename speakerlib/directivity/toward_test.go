package directivity_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/room"
)

func TestTowardBesideTheOrbits(t *testing.T) {
	g := grid(t, 200, 1000, 6)
	set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		p := pistonPair(d, 0)
		if d.Orbit == directivity.Vertical && d.Degrees != 0 && d.Degrees != 180 {
			return freq.Series{freq.Gain(2), p}, nil
		}
		return p, nil
	}, directivity.Orbits70()...))
	in := directivity.Interpolation{Method: directivity.LogPhase}
	for _, c := range []struct {
		right, up, forward float64
		theta, scale       float64
		origin             directivity.Origin
	}{
		{0, 0, 2, 0, 1, directivity.Given},
		{0, 0, -2, 180, 1, directivity.Given},
		{math.Sin(math.Pi / 9), 0, math.Cos(math.Pi / 9), 20, 1, directivity.Interpolated}, // 20° to rounding
		{0, -math.Tan(25 * math.Pi / 180), 1, 25, 2, directivity.Interpolated},
		{1, 1, math.Sqrt2, 45, 1.5, directivity.Interpolated},
		{-1, 2, -math.Sqrt(5), 135, 1.8, directivity.Interpolated},
	} {
		p := must[directivity.Point](t)(set.Toward(c.right, c.up, c.forward, in))
		want := pistonPair(directivity.Side(c.theta), 0)
		for i := range g.Len() {
			if e := cmplx.Abs(p.Response.At(i)/want(g.At(i))/complex(c.scale, 0) - 1); e > 0.001 {
				t.Errorf("%g %g %g at %g Hz: off by %.4f", c.right, c.up, c.forward, g.At(i), e)
			}
		}
		if c.theta != 20 && p.Origin != c.origin {
			t.Errorf("%g %g %g is %v, want %v", c.right, c.up, c.forward, p.Origin, c.origin)
		}
	}
	if _, err := set.Toward(0, 0, 0, in); err == nil {
		t.Error("no direction was taken")
	}
	if _, err := set.Toward(0, math.NaN(), 1, in); err == nil {
		t.Error("NaN was taken")
	}
}

// Over the floor of a room: the ray leaves 35.7° downward.
func TestPatternInARoom(t *testing.T) {
	g := grid(t, 200, 2000, 6)
	set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		return pistonPair(d, -0.1), nil
	}, directivity.Orbits70()...))
	w := &room.Walls{Surfaces: [6]room.Surface{room.Floor: room.Rigid{}}, Air: medium}
	f := must[*room.Field](t)(w.Heard(room.Source{At: room.Point{X: 1, Z: 0.935}, Pattern: set.Pattern(directivity.Interpolation{Method: directivity.LogPhase})}, room.Point{X: 3.6, Z: 0.935}, 0))
	h := f.ResponseTo(nil, g)
	down := pistonPair(directivity.Up(-math.Atan2(1.87, 2.6)*180/math.Pi), -0.1)
	long := math.Hypot(2.6, 1.87)
	for i, omega := range g.Omega() {
		want := 1 + down(g.At(i))/pistonPair(directivity.Up(0), -0.1)(g.At(i))*cmplx.Rect(2.6/long, -omega*(long-2.6)/soundSpeed)
		if cmplx.Abs(h[i]-want) > 0.002 {
			t.Errorf("%g Hz: %v, want %v", g.At(i), h[i], want)
		}
	}
	front := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) { return freq.Gain(1), nil }, orbit(directivity.Vertical, -30, 30, 10)...))
	if _, err := w.Heard(room.Source{At: room.Point{X: 1, Z: 0.935}, Pattern: front.Pattern(directivity.Interpolation{Method: directivity.LogPhase})}, room.Point{X: 3.6, Z: 0.935}, 0); err == nil || !strings.Contains(err.Error(), "extrapolation") {
		t.Errorf("a ray beyond the set: %v", err)
	}
}
