package figure

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// round is an arc of one level at angles in steps.
func round(label string, db, from, to, step float64) Arc {
	a := Arc{Label: label}
	for d := from; d <= to+1e-9; d += step {
		a.Degrees, a.DB = append(a.Degrees, d), append(a.DB, db)
	}
	return a
}

// drawn returns the points of the longest path of the first pen in a figure, upward as on
// the page, in points from its lower left.
func drawn(t *testing.T, f *Figure) (points []place) {
	t.Helper()
	b, err := f.SVG()
	if err != nil {
		t.Fatal(err)
	}
	longest := ""
	for _, m := range regexp.MustCompile(`<path d="([^"]*)"\s+style="[^"]*#1426A8`).FindAllStringSubmatch(string(b), -1) {
		if len(m[1]) > len(longest) {
			longest = m[1]
		}
	}
	for _, m := range regexp.MustCompile(`[ML]([0-9.]+),([0-9.]+)`).FindAllStringSubmatch(longest, -1) {
		var p place
		for to, s := range map[*float64]string{&p.x: m[1], &p.y: m[2]} {
			if *to, err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatal(err)
			}
		}
		points = append(points, p)
	}
	return points
}

// A level that is the same in all directions is a circle, at the share of the radius that
// its level has of the range, and closed.
func TestSameLevelAllAroundIsACircle(t *testing.T) {
	for _, c := range []struct{ db, floor, top, share float64 }{{-10, -40, 0, 0.75}, {0, -30, 10, 0.75}, {-25, -40, -10, 0.5}, {92, 60, 100, 0.8}} {
		points := drawn(t, Polar(PolarOptions{Floor: c.floor, Top: c.top}, round("a", c.db, -170, 180, 10)))
		if len(points) != 361 || points[0] != points[360] {
			t.Fatalf("%+v: %d points from %v to %v, want 361 and a closed line", c, len(points), points[0], points[len(points)-1])
		}
		var middle place
		for _, p := range points[1:] {
			middle.x, middle.y = middle.x+p.x/360, middle.y+p.y/360
		}
		for _, p := range points {
			if r := math.Hypot(p.x-middle.x, p.y-middle.y); math.Abs(r/float64(discRadius)-c.share) > 5e-4 {
				t.Fatalf("%+v: radius %.2f at (%.2f, %.2f), want %.2f", c, r, p.x, p.y, c.share*float64(discRadius))
			}
		}
	}
}

// The front is on the right of the page, and positive angles run upward.
func TestPolarLiesAsItSays(t *testing.T) {
	for _, c := range []struct {
		turn  Turn
		words []string
	}{
		{ToTheRight, []string{"Seen from above", "to the right of someone who looks at the front"}},
		{Upward, []string{"Seen from the side", "positive angles are up"}},
	} {
		f := Polar(PolarOptions{Turn: c.turn, Floor: -40, Top: 0}, Arc{Label: "a", Degrees: []float64{0, 90, 180}, DB: []float64{0, -10, -20}}, round("b", -30, -170, 180, 10))
		points := drawn(t, Polar(PolarOptions{Turn: c.turn, Gap: 90, Floor: -40, Top: 0}, Arc{Label: "a", Degrees: []float64{0, 90, 180}, DB: []float64{0, -10, -20}}, round("b", -30, -170, 180, 10)))
		front, side, rear := points[0], points[90], points[180]
		middle := place{side.x, front.y}
		for i, got := range []float64{front.x - middle.x, side.y - middle.y, middle.x - rear.x} {
			if want := float64(discRadius) * []float64{1, 0.75, 0.5}[i]; math.Abs(got-want) > 0.02 {
				t.Errorf("turn %d: at %d° it is %.2f points from the centre, want %.2f", c.turn, 90*i, got, want)
			}
		}
		if math.Abs(rear.y-middle.y) > 0.02 {
			t.Errorf("turn %d: 0° and 180° are not on one line", c.turn)
		}
		b, err := f.SVG()
		if err != nil {
			t.Fatal(err)
		}
		for at, side := range c.turn.sides() {
			if want := ">" + number(float64(at)) + "°, " + side + "<"; !strings.Contains(string(b), want) {
				t.Errorf("turn %d: no label %s", c.turn, want)
			}
		}
		for _, w := range c.words {
			if !strings.Contains(f.Caption(), w) {
				t.Errorf("turn %d: caption %q does not say %q", c.turn, f.Caption(), w)
			}
		}
	}
}

// What is too far apart is not joined, and nothing is closed that does not go round.
func TestGapsOfAnArcStay(t *testing.T) {
	cut := round("a", 0, -170, 180, 10)
	cut.Degrees, cut.DB = append(cut.Degrees[:5:5], cut.Degrees[8:]...), append(cut.DB[:5:5], cut.DB[8:]...)
	for _, c := range []struct {
		name   string
		a      Arc
		gap    float64
		points []int // of each run
		gaps   int
	}{
		{"whole turn", round("a", 0, -170, 180, 10), 15, []int{37}, 0},
		{"whole turn from 0", round("a", 0, 0, 355, 5), 15, []int{73}, 0},
		{"both ends of the turn", round("a", 0, -180, 180, 10), 15, []int{37}, 0},
		{"open at the rear", round("a", 0, -160, 160, 10), 15, []int{33}, 0},
		{"closed as it was asked for", round("a", 0, -160, 160, 10), 40, []int{34}, 0},
		{"front", round("a", 0, -90, 90, 10), 15, []int{19}, 0},
		{"a gap", cut, 15, []int{5, 29}, 1},
		{"a gap that is bridged", cut, 40, []int{34}, 0},
		{"alone", Arc{Label: "a", Degrees: []float64{0, 10, 60, 120}, DB: []float64{0, 0, 0, 0}}, 15, []int{2, 1, 1}, 2},
	} {
		got := c.a.trace(-40, c.gap)
		var points []int
		for _, r := range got.runs {
			points = append(points, len(r.degrees))
		}
		same := len(points) == len(c.points) && got.gaps == c.gaps
		for i := range points {
			same = same && points[i] == c.points[i]
		}
		if !same {
			t.Errorf("%s: runs of %v points and %d gaps, want %v and %d", c.name, points, got.gaps, c.points, c.gaps)
		}
	}
	f := Polar(PolarOptions{Gap: 12}, cut, round("b", -3, -170, 180, 10))
	if want := "Angles more than 12° apart are not joined (a)."; !strings.Contains(f.Caption(), want) {
		t.Errorf("caption %q, want %q in it", f.Caption(), want)
	}
}

// What is below the floor is at the centre and never beyond it, and the caption says so.
func TestBelowTheFloorIsTheCentre(t *testing.T) {
	low := round("low", 0, -170, 180, 10)
	low.DB[3], low.DB[4] = -55, math.Inf(-1)
	f := Polar(PolarOptions{Floor: -40, Top: 0}, low, round("b", -3, -170, 180, 10))
	points := drawn(t, f)
	front := points[170]
	middle := place{front.x - float64(discRadius), front.y}
	for _, k := range []int{30, 35, 40} {
		if r := math.Hypot(points[k].x-middle.x, points[k].y-middle.y); r > 0.02 {
			t.Errorf("at %d° it is %.2f points from the centre, want 0", k-170, r)
		}
	}
	if r := math.Hypot(points[25].x-middle.x, points[25].y-middle.y); math.Abs(r-float64(discRadius)/2) > 0.02 {
		t.Errorf("halfway to the floor it is %.2f points from the centre, want half of the radius", r)
	}
	if want := "Rim 0 dB, centre −40 dB. What is below −40 dB ends at the centre (low)."; !strings.Contains(f.Caption(), want) {
		t.Errorf("caption %q, want %q in it", f.Caption(), want)
	}
	if want := "low from −170 to 180°: highest 0 at −170°, silent at −130°"; !strings.Contains(strings.ReplaceAll(f.Alt(), "lowest ", ""), want) {
		t.Errorf("description %q, want %q in it", f.Alt(), want)
	}
	if f := Polar(PolarOptions{}, round("b", -3, -170, 180, 10)); strings.Contains(f.Caption(), "ends at the centre") {
		t.Errorf("caption %q of a plot with nothing below the floor", f.Caption())
	}
}

// The stretches to an angle that was filled in are pale on both sides of it.
func TestFilledInIsPale(t *testing.T) {
	a := round("a", 0, -170, 180, 10)
	a.Filled = make([]bool, 36)
	a.Filled[10], a.Filled[35] = true, true // −70° and 180°
	pale := map[[2]float64]bool{}
	for _, r := range a.trace(-40, 15).runs {
		for i := 1; i < len(r.degrees); i++ {
			pale[[2]float64{r.degrees[i-1], r.degrees[i]}] = r.pale
		}
	}
	if len(pale) != 36 {
		t.Fatalf("%d stretches, want 36", len(pale))
	}
	for s, got := range pale {
		if want := s[0] == -70 || s[1] == -70 || s[0] == 180 || s[1] == 180; got != want {
			t.Errorf("from %g to %g° pale is %v, want %v", s[0], s[1], got, want)
		}
	}
	f := Polar(PolarOptions{}, a, round("b", -3, -170, 180, 10))
	if want := "Pale and dotted: filled in from other angles (a)."; !strings.Contains(f.Caption(), want) {
		t.Errorf("caption %q, want %q in it", f.Caption(), want)
	}
	b, err := f.SVG()
	if err != nil {
		t.Fatal(err)
	}
	if p := pens()[0].pale().colour; !strings.Contains(strings.ToLower(string(b)), "stroke:#"+strconv.FormatUint(uint64(p>>8), 16)) {
		t.Errorf("nothing has the colour of the pale first pen")
	}
}

// A half is drawn alone where all angles are in it.
func TestHalvesAreDrawnAlone(t *testing.T) {
	for _, c := range []struct {
		from, to float64
		want     half
	}{{-90, 90, half{-90, 90}}, {0, 180, half{0, 180}}, {-180, 0, half{-180, 0}}, {-100, 90, half{-180, 180}}, {0, 350, half{-180, 180}}} {
		if got := halfOf([]Arc{round("a", 0, c.from, c.to, 10)}, 15); got != c.want {
			t.Errorf("%g to %g°: %v, want %v", c.from, c.to, got, c.want)
		}
	}
	// What is closed behind the loudspeaker is drawn there too.
	f := Polar(PolarOptions{Gap: 180}, round("a", -3, -90, 90, 10))
	if got := f.body.(*disc).half; got != (half{-180, 180}) {
		t.Errorf("an arc that is closed from 90 to −90° is drawn on %v", got)
	}
	if got := halfOf([]Arc{round("a", 0, -90, 90, 10), round("b", 0, 0, 180, 10)}, 15); got != (half{-180, 180}) {
		t.Errorf("two different halves are drawn on %v", got)
	}
}

func TestRangeOfAPolarPlot(t *testing.T) {
	for _, c := range []struct{ hi, lo, floor, top float64 }{
		{0, -12, -20, 0}, {0, -34, -35, 0}, {0, -70, -40, 0}, {0.5, -12, -15, 5}, {93, 88, 75, 95}, {0, math.Inf(-1), -20, 0},
	} {
		floor, top, err := depth(PolarOptions{}, []Arc{{Label: "a", Degrees: []float64{0, 10}, DB: []float64{c.hi, c.lo}}})
		if err != nil || floor != c.floor || top != c.top {
			t.Errorf("from %g to %g dB: %g to %g, %v, want %g to %g", c.lo, c.hi, floor, top, err, c.floor, c.top)
		}
	}
}

func TestPolarPlotsThatCannotBeDrawn(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	ok := round("a", -3, -90, 90, 10)
	arc := func(degrees, db []float64) []Arc { return []Arc{{Label: "a", Degrees: degrees, DB: db}} }
	many := make([]Arc, 7)
	for _, c := range []struct {
		name string
		o    PolarOptions
		arcs []Arc
		want string
	}{
		{"none", PolarOptions{}, nil, "0 arcs"},
		{"too many", PolarOptions{}, many, "7 arcs"},
		{"no name", PolarOptions{}, []Arc{{Degrees: ok.Degrees, DB: ok.DB}}, "no name"},
		{"a name twice", PolarOptions{}, []Arc{ok, ok}, "two arcs"},
		{"a long level", PolarOptions{Level: strings.Repeat("long ", 40)}, []Arc{ok}, "points long"},
		{"a long name", PolarOptions{}, []Arc{round(strings.Repeat("long ", 40), 0, 0, 90, 10)}, "points long"},
		{"empty", PolarOptions{}, arc(nil, nil), "0 angles"},
		{"one point", PolarOptions{}, arc([]float64{0}, []float64{0}), "1 angles"},
		{"lengths", PolarOptions{}, arc([]float64{0, 10}, []float64{0}), "1 levels"},
		{"marks", PolarOptions{}, []Arc{{Label: "a", Degrees: ok.Degrees, DB: ok.DB, Filled: []bool{true}}}, "1 marks"},
		{"unsorted", PolarOptions{}, arc([]float64{10, 0}, []float64{0, 0}), "ascending"},
		{"an angle twice", PolarOptions{}, arc([]float64{10, 10}, []float64{0, 0}), "ascending"},
		{"angle NaN", PolarOptions{}, arc([]float64{nan, 10}, []float64{0, 0}), "angle 1"},
		{"angle infinite", PolarOptions{}, arc([]float64{0, inf}, []float64{0, 0}), "angle 2"},
		{"more than a turn", PolarOptions{}, arc([]float64{-180, 190}, []float64{0, 0}), "370°"},
		{"level NaN", PolarOptions{}, arc([]float64{0, 10}, []float64{0, nan}), "at 10°"},
		{"level infinite", PolarOptions{}, arc([]float64{0, 10}, []float64{0, inf}), "at 10°"},
		{"silent", PolarOptions{}, arc([]float64{0, 10}, []float64{-inf, -inf}), "silent"},
		{"absurd", PolarOptions{}, arc([]float64{0, 10}, []float64{0, 1e300}), "magnitudes"},
		{"above the top", PolarOptions{Floor: -40, Top: -5}, []Arc{ok}, "does not exceed"},
		{"floor above top", PolarOptions{Floor: 10, Top: -30}, []Arc{ok}, "floor < top"},
		{"no depth", PolarOptions{Floor: 3, Top: 3}, []Arc{ok}, "floor < top"},
		{"floor NaN", PolarOptions{Floor: nan, Top: 3}, []Arc{ok}, "floor < top"},
		{"gap", PolarOptions{Gap: -1}, []Arc{ok}, "gap"},
		{"gap NaN", PolarOptions{Gap: nan}, []Arc{ok}, "gap"},
		{"turn", PolarOptions{Turn: 7}, []Arc{ok}, "turn 7"},
	} {
		f := Polar(c.o, c.arcs...)
		if err := f.Err(); err == nil || !strings.HasPrefix(err.Error(), "figure: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one that says %q", c.name, err, c.want)
		}
		if _, err := f.PNG(); err != f.Err() {
			t.Errorf("%s: PNG says %v", c.name, err)
		}
	}
}
