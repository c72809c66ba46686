package figure

import (
	"math"
	"strings"
	"testing"
)

// slope is a field over n × m places of a rectangle in metres.
func slope(w, h float64, n, m int, z func(x, y float64) float64) Field {
	f := Field{Unit: "dB"}
	for i := range n {
		f.X = append(f.X, w*float64(i)/float64(n-1))
	}
	for j := range m {
		f.Y = append(f.Y, h*float64(j)/float64(m-1))
	}
	for _, y := range f.Y {
		var row []float64
		for _, x := range f.X {
			row = append(row, z(x, y))
		}
		f.Z = append(f.Z, row)
	}
	return f
}

func flat(x, y float64) float64 { return 1 }

// A circle is as wide as it is high, on planes of any shape, and all of it is on the plot.
func TestPlaneHasOneScale(t *testing.T) {
	for _, side := range [][2]float64{{0.19, 0.33}, {0.33, 0.19}, {1, 0.06}, {0.06, 1}, {1, 1e-4}} {
		f := Plane(PlaneOptions{Outlines: []Outline{Circle("driver", 0.05, 0.03, 0.07)}, Pins: []Pin{{"here", 0.05, 0.03}}}, slope(side[0], side[1], 9, 9, flat), []float64{0})
		if f.Err() != nil {
			t.Fatal(f.Err())
		}
		p := f.body.(*plane)
		lo, hi := place{1, 1}, place{0, 0}
		for _, at := range p.outlines[0] {
			lo, hi = place{min(lo.x, at.x), min(lo.y, at.y)}, place{max(hi.x, at.x), max(hi.y, at.y)}
		}
		wide, high := (hi.x-lo.x)*float64(p.width), (hi.y-lo.y)*float64(p.tall)
		if math.Abs(wide/high-1) > 1e-9 || lo.x < 0 || lo.y < 0 || hi.x > 1 || hi.y > 1 {
			t.Errorf("%v m: a circle is %.3f × %.3f points, from %v to %v of the plot", side, wide, high, lo, hi)
		}
		if p.width > plotWidth || p.tall > tallestPlane+1e-9 || p.width < plotWidth/2 && p.tall < tallestPlane-1e-9 {
			t.Errorf("%v m: the plot is %.1f × %.1f points", side, p.width, p.tall)
		}
	}
}

// What is known has its area: a disc cut out of the square by NaN, and the corners of
// cells that one unknown place leaves.
func TestHolesAreCutOut(t *testing.T) {
	known := func(f Field) (sum float64) {
		x, y := linearScale(0, 1, 0.5), linearScale(0, 1, 0.5)
		l := f.layer(x, y, 1, 1, []float64{0}, 0)
		if l.known == nil {
			return 1
		}
		for _, ring := range l.outlines() {
			sum += area(ring)
		}
		return sum
	}
	nan := math.NaN()
	disc := slope(1, 1, 401, 401, func(x, y float64) float64 {
		if math.Hypot(x-0.5, y-0.5) < 0.3 {
			return nan
		}
		return 1
	})
	// Half a cell is lost on either side of the circle at most.
	if got, want := known(disc), 1-math.Pi*0.09; math.Abs(got-want) > 2*math.Pi*0.3/400 || got > want {
		t.Errorf("a square with a hole has an area of %.5f, want at most %.5f and hardly less", got, want)
	}
	one := slope(1, 1, 5, 5, flat)
	one.Z[2][2] = nan
	if got := known(one); math.Abs(got-(1-2.0/16)) > 1e-6 {
		t.Errorf("with one place unknown the area is %.6f, want 14/16", got)
	}
	lines := slope(1, 1, 5, 5, flat)
	for j := range 5 {
		for i := range 5 {
			if i > 1 && j != 3 { // two columns, and a row that sticks out
				lines.Z[j][i] = nan
			}
		}
	}
	// A row that bounds nothing is not drawn, but where it leaves the columns it has a
	// triangle above and one below.
	if got := known(lines); math.Abs(got-(4.0/16+1.0/16)) > 1e-6 {
		t.Errorf("two columns and a line have an area of %.6f, want 5/16", got)
	}
	nodes := 0.0
	for _, row := range lines.layer(linearScale(0, 1, 0.5), linearScale(0, 1, 0.5), 1, 1, []float64{0}, 0).known.z {
		for _, v := range row {
			nodes += v
		}
	}
	if nodes != 11 {
		t.Errorf("two columns and a line bound a region by %g places, want 11", nodes)
	}
	if got := known(slope(1, 1, 5, 5, flat)); got != 1 {
		t.Errorf("the whole has an area of %g", got)
	}
}

// In the half of a cell that is left beside an unknown place a field that is a plane goes
// on as a plane, so that its steps have no kink there.
func TestFieldGoesOnBesideAHole(t *testing.T) {
	f := slope(1, 1, 9, 9, func(x, y float64) float64 { return 3*x - 2*y })
	f.Z[4][4], f.Z[4][5] = math.NaN(), math.NaN()
	s := f.layer(linearScale(0, 1, 0.5), linearScale(0, 1, 0.5), 1, 1, []float64{0}, 0).sheet
	for j, row := range s.z {
		for i, v := range row {
			if want := 3*f.X[i] - 2*f.Y[j]; math.Abs(v-want) > 1e-12 {
				t.Errorf("(%d, %d) is %g, want %g", i, j, v, want)
			}
		}
	}
	if !math.IsNaN(f.Z[4][4]) {
		t.Error("the caller's field was changed")
	}
}

func TestCaptionAndWordsOfAPlane(t *testing.T) {
	f := slope(0.1, 0.2, 5, 9, func(x, y float64) float64 { return 10*x + y })
	o := PlaneOptions{
		Title: "Ripple", Note: "Invented.", Outlines: []Outline{Circle("woofer", 0.05, 0.05, 0.04)},
		Pins: []Pin{{"as sold", 0.05, 0.15}, {"best", -0.02, 0.1}},
	}
	whole := Plane(o, f, []float64{0.5, 1})
	if want := "Invented. Known at 5 × 9 places, straight between them. Same scale in both directions."; whole.Caption() != want {
		t.Errorf("caption %q, want %q", whole.Caption(), want)
	}
	f.Z[8][4], f.Z[0][0] = math.NaN(), math.NaN()
	cut := Plane(o, f, []float64{0.5, 1})
	if want := "White within: not allowed or not known."; !strings.HasSuffix(cut.Caption(), want) {
		t.Errorf("caption %q, want %q at its end", cut.Caption(), want)
	}
	want := "Ripple. Map over To the right (mm) from 0 to 100 and Up (mm) from 0 to 200. " +
		"Highest 1.18 dB at (100, 175) mm, lowest 0.025 dB at (0, 25) mm. Outline: woofer. as sold at (50, 150) mm. best at (−20, 100) mm. "
	if !strings.HasPrefix(cut.Alt(), want) {
		t.Errorf("description %q, want %q at its begin", cut.Alt(), want)
	}
}

func TestPlanesThatCannotBeDrawn(t *testing.T) {
	ok, nan := slope(0.1, 0.1, 3, 3, flat), math.NaN()
	none := slope(0.1, 0.1, 3, 3, func(x, y float64) float64 { return nan })
	marked := ok
	marked.Filled = make([]bool, 3)
	one := ok
	one.X, one.Z = ok.X[:1], [][]float64{{1}, {1}, {1}}
	infinite := slope(0.1, 0.1, 3, 3, func(x, y float64) float64 { return math.Inf(1) })
	many := make([]Pin, 40)
	for i := range many {
		many[i] = Pin{Label: "point"}
	}
	for _, c := range []struct {
		name  string
		o     PlaneOptions
		f     Field
		steps []float64
		want  string
	}{
		{"empty", PlaneOptions{}, Field{}, []float64{1}, "0 × 0"},
		{"one column", PlaneOptions{}, one, []float64{1}, "1 × 3"},
		{"nothing known", PlaneOptions{}, none, []float64{1}, "no cell is known"},
		{"infinite", PlaneOptions{}, infinite, []float64{1}, "+Inf"},
		{"marks of rows", PlaneOptions{}, marked, []float64{1}, "none for a plane"},
		{"no steps", PlaneOptions{}, ok, nil, "0 steps"},
		{"unsorted", PlaneOptions{}, Field{X: []float64{1, 0}, Y: ok.Y[:2], Z: [][]float64{{0, 1}, {0, 1}}}, []float64{1}, "ascending"},
		{"absurd", PlaneOptions{}, slope(1e300, 1e300, 3, 3, flat), []float64{1}, "magnitudes"},
		{"outline of two", PlaneOptions{Outlines: []Outline{{"o", []float64{0, 1}, []float64{0, 1}}}}, ok, []float64{1}, "at least 3"},
		{"outline, lengths", PlaneOptions{Outlines: []Outline{{"o", []float64{0, 1, 2}, []float64{0, 1}}}}, ok, []float64{1}, "3 and 2"},
		{"outline NaN", PlaneOptions{Outlines: []Outline{Circle("o", nan, 0, 1)}}, ok, []float64{1}, "want a place"},
		{"outline infinite", PlaneOptions{Outlines: []Outline{Circle("o", 0, math.Inf(1), 1)}}, ok, []float64{1}, "want a place"},
		{"pin without name", PlaneOptions{Pins: []Pin{{}}}, ok, []float64{1}, "no name"},
		{"pin NaN", PlaneOptions{Pins: []Pin{{"p", 0, nan}}}, ok, []float64{1}, "want a place"},
		{"too many names", PlaneOptions{Pins: many}, ok, []float64{1}, "40 names"},
		{"a long axis", PlaneOptions{X: strings.Repeat("long ", 40)}, ok, []float64{1}, "points long"},
		{"a long upright axis", PlaneOptions{Y: strings.Repeat("long ", 40)}, ok, []float64{1}, "points long"},
		{"pin in millimetres", PlaneOptions{Pins: []Pin{{"best", 50, 30}}}, ok, []float64{1}, "want all in metres"},
		{"outline in millimetres", PlaneOptions{Outlines: []Outline{Circle("o", 0, 0, 80)}}, ok, []float64{1}, "want all in metres"},
		{"a long name", PlaneOptions{Pins: []Pin{{strings.Repeat("long ", 40), 0, 0}}}, ok, []float64{1}, "shorten"},
	} {
		f := Plane(c.o, c.f, c.steps)
		if err := f.Err(); err == nil || !strings.HasPrefix(err.Error(), "figure: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one that says %q", c.name, err, c.want)
		}
	}
}

// Where there is no sound at all a level is −∞, in a field as in a plane.
func TestSilenceIsDrawn(t *testing.T) {
	minus := math.Inf(-1)
	for name, row := range map[string][]float64{"in part": {minus, 0, 1}, "all": {minus, minus, minus}} {
		f := Field{X: []float64{100, 200, 300}, Y: []float64{0, 1, 2}, Z: [][]float64{row, row, row}, Unit: "dB"}
		for _, g := range []*Figure{Plane(PlaneOptions{}, f, []float64{-3, 0}), Shades(Options{}, Axis{Name: "Height", Unit: "m"}, f, []float64{-3, 0})} {
			if _, err := g.PNG(); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			if want := "lowest −∞ dB at "; !strings.Contains(g.Alt(), want) {
				t.Errorf("%s: description %q, want %q in it", name, g.Alt(), want)
			}
		}
	}
}
