package directivity_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

func TestDirections(t *testing.T) {
	for _, c := range []struct {
		d       directivity.Direction
		degrees float64
		words   string
		x, y, z float64
	}{
		{directivity.Side(30), 30, "30° right", 0.5, 0, math.Sqrt(3) / 2},
		{directivity.Side(-90), -90, "90° left", -1, 0, 0},
		{directivity.Side(190), -170, "170° left", -math.Sin(math.Pi / 18), 0, -math.Cos(math.Pi / 18)},
		{directivity.Side(-180), 180, "behind", 0, 0, -1},
		{directivity.Side(540), 180, "behind", 0, 0, -1},
		{directivity.Up(-30), -30, "30° down", 0, -0.5, math.Sqrt(3) / 2},
		{directivity.Up(7.5), 7.5, "7.5° up", 0, math.Sin(7.5 * math.Pi / 180), math.Cos(7.5 * math.Pi / 180)},
		{directivity.Up(-360), 0, "axis", 0, 0, 1},
	} {
		x, y, z := c.d.Unit()
		if c.d.Degrees != c.degrees || math.Signbit(c.d.Degrees) != (c.degrees < 0) || c.d.String() != c.words ||
			math.Hypot(math.Hypot(x-c.x, y-c.y), z-c.z) > 1e-15 {
			t.Errorf("%v: %g°, %g %g %g, want %+v", c.d, c.d.Degrees, x, y, z, c)
		}
	}
}

// point returns a point of a constant response.
func point(t *testing.T, g *freq.Grid, d directivity.Direction, v float64, b freq.Basis) directivity.Point {
	t.Helper()
	return directivity.Point{Direction: d, Response: must[freq.Response](t)(freq.Evaluate(freq.Gain(v), g, d.String(), b))}
}

func TestOrbitsMeetOnTheAxisAndBehind(t *testing.T) {
	g := grid(t, 100, 200, 1)
	s := must[*directivity.Set](t)(directivity.NewSet(directivity.Clock{TimeZero: "z"},
		point(t, g, directivity.Up(10), 3, fullSpace), point(t, g, directivity.Side(0), 1, fullSpace), point(t, g, directivity.Side(180), 2, fullSpace)))
	var got []float64
	for _, p := range s.Orbit(directivity.Vertical) {
		if p.Direction.Orbit != directivity.Vertical {
			t.Errorf("%v is %v", p.Direction, p.Direction.Orbit)
		}
		got = append(got, p.Direction.Degrees, real(p.Response.At(0)))
	}
	if !slices.Equal(got, []float64{0, 1, 10, 3, 180, 2}) {
		t.Errorf("vertical orbit %v", got)
	}
	if s.Orbit(directivity.Horizontal)[1].Direction.Degrees != 180 || len(s.Orbit(directivity.Horizontal)) != 2 {
		t.Errorf("horizontal orbit %v", s.Orbit(directivity.Horizontal))
	}
	// Its own response comes first where there is one.
	own := must[*directivity.Set](t)(directivity.NewSet(directivity.Clock{TimeZero: "z"}, append(s.Points(), point(t, g, directivity.Up(0), 5, fullSpace))...))
	if v := must[freq.Response](t)(own.Response(directivity.Up(0))).At(0); v != 5 {
		t.Errorf("vertical axis %v, want its own 5", v)
	}
	if v := must[freq.Response](t)(own.Response(directivity.Side(0))).At(0); v != 1 {
		t.Errorf("horizontal axis %v, want its own 1", v)
	}
	if spl := must[freq.Curve](t)(s.SPL(directivity.Up(10), 2)); math.Abs(spl.At(0)-level.SPL(6)) > 1e-12 {
		t.Errorf("level %g dB", spl.At(0))
	}
	for _, volts := range []float64{0, -1, math.Inf(1), math.NaN()} {
		if _, err := s.SPL(directivity.Up(10), volts); err == nil {
			t.Errorf("level at %g V", volts)
		}
	}
}

func TestMirrorLeavesWhatIsGiven(t *testing.T) {
	g := grid(t, 100, 200, 1)
	s := must[*directivity.Set](t)(directivity.NewSet(directivity.Clock{TimeZero: "z"},
		point(t, g, directivity.Side(0), 1, fullSpace), point(t, g, directivity.Side(10), 2, fullSpace), point(t, g, directivity.Side(-20), 3, fullSpace),
		point(t, g, directivity.Side(20), 4, fullSpace), point(t, g, directivity.Side(180), 5, fullSpace), point(t, g, directivity.Up(10), 6, fullSpace)))
	m := must[*directivity.Set](t)(s.Mirror(directivity.Horizontal))
	if len(m.Points()) != 7 {
		t.Fatalf("%d points, want one more than 6", len(m.Points()))
	}
	for a, want := range map[float64]float64{-10: 2, -20: 3, 20: 4} {
		if v := must[freq.Curve](t)(m.Magnitude(directivity.Side(a))).At(0); v != want {
			t.Errorf("%g° is %g, want %g", a, v, want)
		}
	}
	mean := must[directivity.Mean](t)(m.Average("sides", directivity.Side(-10), directivity.Side(10)))
	if !slices.Equal(mean.Doubtful, []directivity.Direction{directivity.Side(-10)}) {
		t.Errorf("doubtful are %v, want the mirrored one", mean.Doubtful)
	}
}

func TestGaps(t *testing.T) {
	g := grid(t, 100, 200, 1)
	for _, c := range []struct{ have, want []float64 }{
		{[]float64{0, 10, 20, 40, 50}, []float64{30}},
		{[]float64{-30, -20, 10, 20, 30}, []float64{-10, 0}},
		{[]float64{0, 5, 10, 15}, nil},
		{[]float64{0, 15, 30, 45, 60}, nil},
		{[]float64{0, 10}, nil},
		{[]float64{0, 10, 20, 30, 35}, nil},               // a finer one at the end is no raster
		{[]float64{0, 10, 20, 40, 60}, []float64{30, 50}}, // of two as common, the finer
	} {
		var p []directivity.Point
		for _, a := range c.have {
			p = append(p, point(t, g, directivity.Side(a), 1, fullSpace))
		}
		if got := must[*directivity.Set](t)(directivity.NewSet(directivity.Clock{TimeZero: "z"}, p...)).Gaps(directivity.Horizontal); !slices.Equal(got, c.want) {
			t.Errorf("%v: gaps %v, want %v", c.have, got, c.want)
		}
	}
}

func TestSetRefuses(t *testing.T) {
	g := grid(t, 100, 200, 1)
	clock := directivity.Clock{TimeZero: "z"}
	ok := point(t, g, directivity.Side(0), 1, fullSpace)
	near, none := fullSpace, fullSpace
	near.Space, none.Distance = freq.NearField, 0
	for name, c := range map[string]struct {
		clock  directivity.Clock
		points []directivity.Point
		want   string
	}{
		"nothing":             {clock, nil, "no direction"},
		"no name":             {directivity.Clock{}, []directivity.Point{ok}, "name of the time zero"},
		"name of none":        {directivity.Clock{Phases: directivity.Unknown, TimeZero: "z"}, []directivity.Point{ok}, "want none"},
		"phases":              {directivity.Clock{Phases: 7}, []directivity.Point{ok}, "phases are 7"},
		"flight":              {directivity.Clock{TimeZero: "z", Removed: math.NaN()}, []directivity.Point{ok}, "finite"},
		"not turned":          {clock, []directivity.Point{point(t, g, directivity.Direction{Degrees: -180}, 1, fullSpace)}, "−180°"},
		"not a number":        {clock, []directivity.Point{point(t, g, directivity.Direction{Degrees: math.NaN()}, 1, fullSpace)}, "angle"},
		"no orbit":            {clock, []directivity.Point{point(t, g, directivity.Direction{Orbit: 2}, 1, fullSpace)}, "orbit is 2"},
		"no origin":           {clock, []directivity.Point{{Direction: ok.Direction, Response: ok.Response, Origin: 3}}, "origin"},
		"no response":         {clock, []directivity.Point{{}}, "no response"},
		"near field":          {clock, []directivity.Point{point(t, g, directivity.Side(0), 1, near)}, "half or full space"},
		"no distance":         {clock, []directivity.Point{point(t, g, directivity.Side(0), 1, none)}, "distance"},
		"two distances":       {clock, []directivity.Point{ok, point(t, g, directivity.Side(10), 1, perTerminals)}, "same basis"},
		"two grids":           {clock, []directivity.Point{ok, point(t, grid(t, 100, 400, 1), directivity.Side(10), 1, fullSpace)}, "same frequencies"},
		"one direction twice": {clock, []directivity.Point{ok, ok}, "one response a direction"},
	} {
		if _, err := directivity.NewSet(c.clock, c.points...); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	bad := func(directivity.Direction) (freq.Transfer, error) { return freq.Gain(math.Inf(1)), nil }
	if _, err := directivity.Simulate(g, fullSpace, "z", bad, directivity.Side(0)); err == nil {
		t.Error("an infinite response was simulated")
	}
	if _, err := directivity.Simulate(g, fullSpace, "z", bad, directivity.Direction{Degrees: 200}); err == nil {
		t.Error("200° was simulated")
	}
}
