package diffraction_test

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/radiation"
)

// listening returns the axis and eight directions around it.
func listening() []diffraction.Receiver {
	r := []diffraction.Receiver{diffraction.Angles(0, 0)}
	for _, a := range []float64{10, 20, 30} {
		r = append(r, diffraction.Angles(rad(a), 0), diffraction.Angles(rad(-a), 0))
	}
	return append(r, diffraction.Angles(0, rad(10)), diffraction.Angles(0, rad(-10)))
}

func logGrid(t testing.TB, lo, hi float64, perOctave int) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(lo, hi, perOctave)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func study(t testing.TB, c *diffraction.Cabinet, order diffraction.Order, workers int) *diffraction.Study {
	t.Helper()
	s, err := diffraction.NewStudy(diffraction.Setup{Cabinet: c, Air: still, Grid: logGrid(t, 150, 12800, 16), Receivers: listening(), Order: order, Workers: workers},
		point(0, 0, 0), nil, diffraction.Ripple{From: 300, To: 6000})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The centre of a round front is the worst place, because all of the edge arrives at
// once (H. F. Olson, "Direct radiator loudspeaker enclosures", J. Audio Eng. Soc. 17,
// 1969, who measured it; from memory).
func TestCentreOfRoundFrontIsWorst(t *testing.T) {
	s := study(t, round(t, 16, diffraction.Rounding{}), diffraction.Second, 0)
	centre, err := s.At(0, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range [][2]float64{{0.02, 0}, {0, 0.04}, {-0.03, 0.03}, {0.06, 0}} {
		p, err := s.At(at[0], at[1])
		if err != nil {
			t.Fatal(err)
		}
		if p.Axis > 0.95*centre.Axis {
			t.Errorf("at %v the ripple on the axis is %.2f dB, in the centre %.2f", at, p.Axis, centre.Axis)
		}
	}
}

// A window of the axis alone is the axis.
func TestWeights(t *testing.T) {
	s, err := diffraction.NewStudy(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: logGrid(t, 150, 12800, 16), Receivers: listening()},
		point(0, 0, 0), []float64{2, 0, 0, 0, 0, 0, 0, 0, 0}, diffraction.Ripple{From: 300, To: 6000})
	if err != nil {
		t.Fatal(err)
	}
	if p, err := s.At(0.01, 0.05); err != nil || math.Abs(p.Window-p.Axis) > 1e-9 {
		t.Errorf("%+v (%v)", p, err)
	}
}

// The map is that of line integrals summed by NumPy (testdata/box_study.py) and keeps the
// symmetry of the box. Its best place is a place where no step helps, as good as where a simplex
// of SciPy ends, and does not depend on the number of workers.
func TestMapAndBest(t *testing.T) {
	s := study(t, demo(t), diffraction.First, 2)
	places, err := s.Map(0.02, 0.03)
	if err != nil {
		t.Fatal(err)
	}
	find := func(x, y float64) diffraction.Position {
		for _, p := range places {
			if math.Abs(p.X-x) < 1e-9 && math.Abs(p.Y-y) < 1e-9 {
				return p
			}
		}
		t.Fatalf("no place at %v, %v", x, y)
		return diffraction.Position{}
	}
	least := math.Inf(1)
	for _, p := range places {
		least = math.Min(least, p.Window)
		if m := find(-p.X, p.Y); math.Abs(m.Window-p.Window) > 1e-3 || math.Abs(m.Axis-p.Axis) > 1e-3 {
			t.Errorf("%+v and its mirror %+v", p, m)
		}
		if math.Abs(p.X) > 0.065+1e-9 || math.Abs(p.Y) > 0.135+1e-9 {
			t.Errorf("%+v is nearer to an edge than 30 mm", p)
		}
	}
	rows := reference(t, "box_map.csv")
	end, known := rows[len(rows)-1], 0
	for _, r := range rows[:len(rows)-1] {
		x, axis, window := r.Number(t, "x_m"), r.Number(t, "axis_db"), r.Number(t, "window_db")
		if p := find(x, r.Number(t, "y_m")); !(math.Abs(p.Axis-axis) <= 1e-4 && math.Abs(p.Window-window) <= 1e-4) {
			t.Errorf("%+v, want %v dB on the axis and %v dB in the window", p, axis, window)
		}
		if known++; x > 0 { // the left half is its mirror
			known++
		}
	}
	if len(places) != known {
		t.Errorf("%d places, want %d", len(places), known)
	}
	best, err := s.Best(0.02, 0.03, 0.002)
	if err != nil {
		t.Fatal(err)
	}
	if best.Window > least {
		t.Errorf("best place %+v, on the map %v dB", best, least)
	}
	// The four quarters of the front are alike; 2 mm beside the least there is little more.
	if x, y := end.Number(t, "x_m"), end.Number(t, "y_m"); end["kind"] != "best" || math.Abs(math.Abs(best.X)-math.Abs(x)) > 0.002 || math.Abs(math.Abs(best.Y)-math.Abs(y)) > 0.002 || math.Abs(best.Window-end.Number(t, "window_db")) > 2e-4 {
		t.Errorf("best place %+v, want %v", best, end)
	}
	for _, d := range [][2]float64{{0.002, 0}, {-0.002, 0}, {0, 0.002}, {0, -0.002}} {
		if p, err := s.At(best.X+d[0], best.Y+d[1]); err == nil && math.Abs(p.X) <= 0.065 && math.Abs(p.Y) <= 0.135 && p.Window < best.Window-1e-9 {
			t.Errorf("%+v is better than the best %+v", p, best)
		}
	}
	// Without steps it is the best place of the map.
	coarse, err := s.Best(0.02, 0.03, 0.05)
	if err != nil || coarse.Window > least+1e-9 {
		t.Errorf("best place of the map %+v (%v), want %v dB", coarse, err, least)
	}
	again, err := study(t, demo(t), diffraction.First, 1).Best(0.02, 0.03, 0.002)
	if err != nil || again != best {
		t.Errorf("with one worker %+v (%v), with two %+v", again, err, best)
	}
	// Of mirror images the first, which the last digit has no say in.
	if best.X >= 0 || best.Y >= 0 {
		t.Errorf("best place %+v, want the one in the lower left of four", best)
	}
	t.Logf("best %+v", best)
}

// Least and Most are those of the place and its eight neighbours.
func TestSensitivity(t *testing.T) {
	s := study(t, demo(t), diffraction.Second, 1)
	v, err := s.Sensitivity(0, 0.05, 0.005)
	if err != nil {
		t.Fatal(err)
	}
	least, most := math.Inf(1), math.Inf(-1)
	for _, x := range []float64{-0.005, 0, 0.005} {
		for _, y := range []float64{-0.005, 0, 0.005} {
			p, err := s.At(x, 0.05+y)
			if err != nil {
				t.Fatal(err)
			}
			least, most = min(least, p.Axis), max(most, p.Axis)
		}
	}
	// On the middle line shifts to the left and to the right do the same: the first is named.
	for y := -0.12; y < 0.13; y += 0.02 {
		v, err := s.Sensitivity(0, y, 0.005)
		if err != nil {
			t.Fatal(err)
		}
		if v.ShiftX > 0 {
			t.Errorf("at %g m a shift by (%g, %g) m does most, want its mirror image to the left", y, v.ShiftX, v.ShiftY)
		}
	}
	if v.Least != least || v.Most != most {
		t.Errorf("ripple on the axis from %v to %v, place by place from %v to %v", v.Least, v.Most, least, most)
	}
}

// Ripple on the axis and in the window, and what ±5 mm do, at three places and by one order
// and two, against the line integrals summed by NumPy and a ripple written apart
// (testdata/box_study.py). 1e-4 of H, within which TestBoxAgainstNumPy has the line integrals,
// is 1e-3 dB of a level where H is 1; on the axis and in the rms it is less.
func TestStudyAgainstNumPy(t *testing.T) {
	for _, r := range reference(t, "box_study.csv") {
		order := diffraction.First
		if r["order"] == "2" {
			order = diffraction.Second
		}
		s := study(t, demo(t), order, 1)
		x, y := r.Number(t, "x_m"), r.Number(t, "y_m")
		at, err := s.At(x, y)
		if err != nil {
			t.Fatal(err)
		}
		v, err := s.Sensitivity(x, y, 0.005)
		if err != nil {
			t.Fatal(err)
		}
		if v.At != at {
			t.Errorf("order %s: the place itself is %+v, alone %+v", r["order"], v.At, at)
		}
		shiftX, wantX := v.ShiftX, r.Number(t, "shift_x_m")
		if x == 0 { // left and right are alike
			shiftX, wantX = math.Abs(shiftX), math.Abs(wantX)
		}
		for _, c := range []struct {
			what      string
			got, want float64
			limit     float64
		}{
			{"ripple on the axis", at.Axis, r.Number(t, "axis_db"), 1e-4},
			{"ripple in the window", at.Window, r.Number(t, "window_db"), 1e-4},
			{"least ripple", v.Least, r.Number(t, "least_db"), 1e-4},
			{"most ripple", v.Most, r.Number(t, "most_db"), 1e-4},
			{"change of the level", v.LevelChange, r.Number(t, "change_db"), 5e-4},
			{"frequency", v.AtHz, r.Number(t, "at_hz"), 1e-3},
			{"shift to the right", shiftX, wantX, 1e-9},
			{"shift up", v.ShiftY, r.Number(t, "shift_y_m"), 1e-9},
		} {
			if !(math.Abs(c.got-c.want) <= c.limit) {
				t.Errorf("order %s at (%g, %g), %s: %.6f, want %.6f within %g", r["order"], x, y, c.what, c.got, c.want, c.limit)
			}
			t.Logf("order %s at (%g, %g), %s: off by %.2g", r["order"], x, y, c.what, c.got-c.want)
		}
	}
}

// Over the radius of the edges: one that is small to all wavelengths changes nothing, and
// the ripple of the round front falls as the radius grows (the tables of the sharp cylinder
// and the one with 30 mm differ by 5 dB at 3150 Hz on the axis).
func TestSweepOfRadius(t *testing.T) {
	sharp := study(t, round(t, 12, diffraction.Rounding{}), diffraction.Second, 0)
	plain, err := sharp.At(0, 0)
	if err != nil {
		t.Fatal(err)
	}
	swept, err := diffraction.Sweep([]float64{0.0015, 0.01, 0.02, 0.03}, func(r float64) (*diffraction.Study, error) {
		return sharp.Rounded(round(t, 12, diffraction.Rounding{Radius: r, Facets: 1}), r)
	}, func(s *diffraction.Study) (diffraction.Position, error) { return s.At(0, 0) })
	if err != nil {
		t.Fatal(err)
	}
	if d := math.Abs(swept[0].Axis - plain.Axis); d > 1e-9 {
		t.Errorf("1.5 mm change the ripple by %v dB", d)
	}
	for i := 1; i < len(swept); i++ {
		if swept[i].Axis >= swept[i-1].Axis {
			t.Errorf("ripple %.2f dB with %v m, %.2f dB with %v m", swept[i].Axis, swept[i].Value, swept[i-1].Axis, swept[i-1].Value)
		}
	}
	t.Logf("%+v", swept)
	if _, err := diffraction.Sweep([]float64{0.2}, func(r float64) (*diffraction.Study, error) {
		c, err := diffraction.NewBox(0.2, 0.3, 0.2, diffraction.Rounding{Radius: r, Facets: 2}, diffraction.Rounding{})
		if err != nil {
			return nil, err
		}
		return sharp.Rounded(c, r)
	}, func(s *diffraction.Study) (diffraction.Position, error) { return s.At(0, 0) }); err == nil {
		t.Error("a radius that leaves no front: no error")
	}
}

// Of a map's places that are refused the first is named, whoever comes upon which: receivers
// on the front are in the element at the second and the third.
func TestFirstOfRefusedPlaces(t *testing.T) {
	plain, err := study(t, demo(t), diffraction.First, 1).Map(0.05, 0.02)
	if err != nil {
		t.Fatal(err)
	}
	to := listening()
	for _, p := range plain[1:3] {
		to = append(to, diffraction.At(r3.Vec{X: p.X, Y: p.Y}))
	}
	for _, workers := range []int{1, 2, 3, 8} {
		s, err := diffraction.NewStudy(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: logGrid(t, 150, 12800, 16), Receivers: to, Workers: workers},
			point(0, 0, 0), nil, diffraction.Ripple{From: 300, To: 6000})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Map(0.05, 0.02); err == nil || !strings.Contains(err.Error(), "receiver 9 is in element 0") {
			t.Errorf("%d workers: the error is %v, want that of receiver 9", workers, err)
		}
	}
}

func TestStudyRefuses(t *testing.T) {
	g := logGrid(t, 150, 12800, 16)
	setup := diffraction.Setup{Cabinet: demo(t), Air: still, Grid: g, Receivers: listening()}
	good := diffraction.Ripple{From: 300, To: 6000}
	s := study(t, demo(t), diffraction.First, 1)
	big, err := radiation.Piston{Radius: 0.12}.Elements(r3.Vec{}, r3.Vec{Z: 1}, 3)
	if err != nil {
		t.Fatal(err)
	}
	wide, err := diffraction.NewStudy(setup, big, nil, good)
	if err != nil {
		t.Fatal(err)
	}
	crowded := setup
	crowded.Workers = 1e9
	for name, err := range map[string]error{
		"no driver":    second(diffraction.NewStudy(setup, nil, nil, good)),
		"trend":        second(diffraction.NewStudy(setup, point(0, 0, 0), nil, diffraction.Ripple{From: 200, To: 6000})),
		"above":        second(diffraction.NewStudy(setup, point(0, 0, 0), nil, diffraction.Ripple{From: 300, To: 8000})),
		"few weights":  second(diffraction.NewStudy(setup, point(0, 0, 0), []float64{1}, good)),
		"bad weights":  second(diffraction.NewStudy(setup, point(0, 0, 0), []float64{1, 1, 1, 1, 1, 1, 1, 1, -1}, good)),
		"spacing":      second(s.Map(0, 0.03)),
		"too many":     second(s.Map(1e-5, 0.03)),
		"no room":      second(s.Map(0.02, 0.2)),
		"too wide":     second(wide.Map(0.02, 0.001)),
		"off":          second(s.At(0.2, 0)),
		"tolerance":    second(s.Best(0.02, 0.03, 0)),
		"too exact":    second(s.Best(0.02, 0.03, 1e-300)),
		"half a cone":  second(diffraction.NewStudy(setup, []radiation.Element{{Weight: 0.5}}, nil, good)),
		"overflow":     second(diffraction.NewStudy(setup, point(0, 0, 0), []float64{1e308, 1e308, 0, 0, 0, 0, 0, 0, 0}, good)),
		"many workers": second(diffraction.NewStudy(crowded, point(0, 0, 0), nil, good)),
		"narrow trend": second(diffraction.NewStudy(setup, point(0, 0, 0), nil, diffraction.Ripple{From: 300, To: 6000, Trend: 0.01})),
		"no shift":     second(s.Sensitivity(0, 0, 0)),
		"no values":    second(diffraction.Sweep(nil, func(float64) (*diffraction.Study, error) { return s, nil }, func(*diffraction.Study) (diffraction.Position, error) { return diffraction.Position{}, nil })),
		"no question":  second(diffraction.Sweep([]float64{1}, nil, nil)),
		"shift":        second(s.Sensitivity(0, 0, math.NaN())),
		"large shift":  second(s.Sensitivity(0, 0, 1)),
		"another body": second(s.Rounded(round(t, 12, diffraction.Rounding{Radius: 0.01, Facets: 2}), 0.01)),
		"no body":      second(s.Rounded(nil, 0.01)),
		"no level":     second(good.Of(append(make([]float64, g.Len()-1), math.NaN()), g)),
		"silence":      second(diffraction.NewStudy(setup, []radiation.Element{{}}, nil, good)),
		"short levels": second(good.Of([]float64{1}, g)),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// Over the width of the front, and over the size of everything: a cabinet of twice the size does
// at half the frequency what the other does (of the wave equation only ka counts).
func TestSweepOfSizes(t *testing.T) {
	boxed := func(width, size float64) (*diffraction.Study, error) {
		c, err := diffraction.NewBox(width*size, 0.33*size, 0.26*size, diffraction.Rounding{}, diffraction.Rounding{})
		if err != nil {
			return nil, err
		}
		setup := diffraction.Setup{Cabinet: c, Air: still, Grid: logGrid(t, 150/size, 12800/size, 16), Receivers: listening(), Order: diffraction.Second}
		return diffraction.NewStudy(setup, point(0, 0, 0), nil, diffraction.Ripple{From: 300 / size, To: 6000 / size})
	}
	scaled, err := diffraction.Sweep([]float64{1, 2, 0.5}, func(v float64) (*diffraction.Study, error) { return boxed(0.19, v) },
		func(s *diffraction.Study) (diffraction.Position, error) { return s.At(0, 0) })
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range scaled {
		if math.Abs(p.Axis-scaled[0].Axis) > 1e-3 || math.Abs(p.Window-scaled[0].Window) > 1e-3 {
			t.Errorf("of %g times the size %.5f and %.5f dB, want %.5f and %.5f", p.Value, p.Axis, p.Window, scaled[0].Axis, scaled[0].Window)
		}
	}
	wide, err := diffraction.Sweep([]float64{0.19, 0.33}, func(v float64) (*diffraction.Study, error) { return boxed(v, 1) },
		func(s *diffraction.Study) (diffraction.Position, error) { return s.At(0, 0) })
	if err != nil {
		t.Fatal(err)
	}
	// Four edges at one distance from the centre of a square front ripple together.
	if wide[0].Axis != scaled[0].Axis || wide[1].Value != 0.33 || !(wide[1].Axis > wide[0].Axis+0.3) {
		t.Errorf("over the width %+v, want the first as by its size, and the square one to ripple more", wide)
	}
	t.Logf("%+v %+v", scaled, wide)
}
