package room_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/room"
)

// A source alike in all directions near rigid walls: what Waterhouse's closed form gives, by
// the integral over the far field; near and far walls, none and three.
func TestRadiatedOfAMonopole(t *testing.T) {
	g := grid(t, 30, 500, 4)
	far := rigid(room.Rear, room.Left, room.Ceiling)
	far.Length, far.Height = 5, 3
	for _, c := range []struct {
		w  *room.Walls
		at room.Point
	}{
		{rigid(room.Front), room.Point{X: 1.4, Y: -3, Z: 9}},
		{rigid(room.Floor, room.Left), room.Point{Y: 0.4, Z: 1.1}},
		{rigid(room.Front, room.Left, room.Floor), room.Point{X: 0.5, Y: 0.9, Z: 0.79}},
		{rigid(room.Front, room.Left, room.Floor), room.Point{X: 1.2, Y: 1.2, Z: 1.2}}, // kr = 19
		{far, room.Point{X: 4.3, Y: 0.7, Z: 1.9}},
	} {
		got := must[freq.Curve](t)(c.w.Radiated(room.Source{At: c.at}, g, "r"))
		want := must[freq.Curve](t)(c.w.Power(c.at, 0, g, "p"))
		for i := range g.Len() {
			if math.Abs(got.At(i)-want.At(i)) > 1e-6 {
				t.Errorf("%v at %g Hz: %.7f dB, want %.7f", c.at, g.At(i), got.At(i), want.At(i))
			}
		}
	}
}

// Ingard and Lamb (1957): dipoles square to a wall, and along it 1 + 3·(sin u/u³ − cos u/u²), which
// is 1 + 3·⟨½(1−μ²)·e^{juμ}⟩ over the sphere. Square to it they are silenced on the wall, along
// it doubled in pressure.
func TestRadiatedOfADipole(t *testing.T) {
	g := grid(t, 30, 800, 4)
	dipole := func(_, _, forward float64) (freq.Transfer, error) { return freq.Gain(forward), nil }
	at := room.Point{X: 1, Y: 0.6, Z: 2}
	for _, c := range []struct {
		w      *room.Walls
		facing room.Point
		want   func(u float64) float64
		x      float64
	}{
		{rigid(room.Front), room.Point{}, square, 1},
		{rigid(room.Front), room.Point{X: -1}, square, 1},
		{rigid(room.Left), room.Point{Y: 1}, square, 0.6},
		{rigid(room.Left), room.Point{}, along, 0.6},
		{rigid(room.Floor), room.Point{X: 1, Y: 1}, along, 2},
	} {
		got := must[freq.Curve](t)(c.w.Radiated(room.Source{At: at, Facing: c.facing, Pattern: dipole}, g, ""))
		for i, w := range g.Omega() {
			want := level.PowerDB(c.want(2 * w / 343 * c.x))
			if math.Abs(got.At(i)-want) > 1e-4 {
				t.Errorf("facing %v, %g Hz: %.6f dB, want %.6f", c.facing, g.At(i), got.At(i), want)
			}
		}
	}
}

func square(u float64) float64 {
	s, c := math.Sincos(u)
	return 1 - 3*(s/u+2*c/u/u-2*s/u/u/u)
}

func along(u float64) float64 {
	s, c := math.Sincos(u)
	return 1 + 3*(s/u/u/u-c/u/u)
}

// A cardioid that turns its back to the wall gets hardly anything from it where a small source
// gets 3 dB; toed round to face it, the same power goes the other way.
func TestRadiatedOfACardioid(t *testing.T) {
	g := grid(t, 20, 40, 2)
	cardioid := func(_, _, forward float64) (freq.Transfer, error) { return freq.Gain((1 + forward) / 2), nil }
	s := room.Source{At: room.Point{X: 0.01}, Pattern: cardioid}
	// On the wall, both halves of the pattern add in pressure: |½(1+c) + ½(1−c)|² = 1 over the half
	// sphere, against a third over the whole: 3/2.
	got := must[freq.Curve](t)(rigid(room.Front).Radiated(s, g, "")).At(0)
	if math.Abs(got-level.PowerDB(1.5)) > 1e-3 {
		t.Errorf("cardioid on the wall: %g dB, want %g", got, level.PowerDB(1.5))
	}
	s.Facing.X = -1
	if back := must[freq.Curve](t)(rigid(room.Front).Radiated(s, g, "")).At(0); math.Abs(back-got) > 1e-3 {
		t.Errorf("turned round: %g dB, want %g", back, got)
	}
}

// A wall with R = 0.6 sends back less: over the half sphere |e^{jkxμ} + R·e^{−jkxμ}|² has the mean
// 1 + R² + 2R·sin 2kx/2kx, and the half sphere is half of all.
func TestRadiatedNearASoftWall(t *testing.T) {
	g := grid(t, 30, 500, 4)
	w := rigid(room.Front)
	w.Surfaces[room.Front] = must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 100, Alpha: 0.64}))
	got := must[freq.Curve](t)(w.Radiated(room.Source{At: room.Point{X: 0.7}}, g, ""))
	for i, omega := range g.Omega() {
		u := 2 * omega / 343 * 0.7
		if want := level.PowerDB((1+0.36)/2 + 0.6*math.Sin(u)/u); math.Abs(got.At(i)-want) > 1e-6 {
			t.Errorf("%g Hz: %.7f dB, want %.7f", g.At(i), got.At(i), want)
		}
	}
}

func TestRadiatedRefuses(t *testing.T) {
	g := grid(t, 30, 800, 4)
	at := room.Point{X: 1}
	for name, c := range map[string]struct {
		w    *room.Walls
		s    room.Source
		want string
	}{
		"a room":        {closed(room.Rigid{}), room.Source{At: room.Point{X: 1, Y: 1, Z: 1}}, "face each other"},
		"outside":       {rigid(room.Front), room.Source{At: room.Point{X: -1}}, "behind"},
		"far away":      {rigid(room.Front), room.Source{At: room.Point{X: 3}}, "at most"},
		"facing up":     {rigid(room.Front), room.Source{At: at, Facing: room.Point{Z: 1}}, "horizontal"},
		"no pattern":    {rigid(room.Front), room.Source{At: at, Pattern: func(float64, float64, float64) (freq.Transfer, error) { return nil, nil }}, "pattern"},
		"fault":         {rigid(room.Front), room.Source{At: at, Pattern: func(float64, float64, float64) (freq.Transfer, error) { return nil, fmt.Errorf("no such angle") }}, "no such angle"},
		"silence":       {rigid(room.Front), room.Source{At: at, Pattern: func(float64, float64, float64) (freq.Transfer, error) { return freq.Gain(0), nil }}, "more than 0"},
		"nothing there": {rigid(), room.Source{At: at}, "no wall"},
	} {
		if _, err := c.w.Radiated(c.s, g, ""); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
