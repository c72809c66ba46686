package figure

import (
	"math"
	"strings"
	"testing"
)

// area of a ring, positive if it runs with the region on its left.
func area(ring []place) (a float64) {
	for k, p := range ring {
		q := ring[(k+1)%len(ring)]
		a += (p.x*q.y - q.x*p.y) / 2
	}
	return a
}

// sheetOf samples a function on n × n nodes of the unit square.
func sheetOf(n int, z func(x, y float64) float64) sheet {
	s := sheet{}
	for k := range n {
		s.x = append(s.x, float64(k)/float64(n-1))
	}
	s.y = s.x
	for _, y := range s.y {
		var row []float64
		for _, x := range s.x {
			row = append(row, z(x, y))
		}
		s.z = append(s.z, row)
	}
	return s
}

// The regions above a level have their closed-form areas: a disc, a plane cut straight,
// a ring with its hole, the whole square, nothing.
func TestRegionsHaveTheirAreas(t *testing.T) {
	radius := func(x, y float64) float64 { return math.Hypot(x-0.5, y-0.5) }
	for _, c := range []struct {
		name  string
		z     func(x, y float64) float64
		rings int
		area  float64
	}{
		{"disc", func(x, y float64) float64 { return 0.3 - radius(x, y) }, 1, math.Pi * 0.09},
		{"half", func(x, y float64) float64 { return 0.25 - x }, 1, 0.25},
		{"corner", func(x, y float64) float64 { return 0.5 - x - y }, 1, 0.125},
		{"ring", func(x, y float64) float64 { return 0.1 - math.Abs(radius(x, y)-0.3) }, 2, math.Pi * (0.16 - 0.04)},
		{"all", func(x, y float64) float64 { return 1 }, 1, 1},
		{"nothing", func(x, y float64) float64 { return -1 }, 0, 0},
		{"frame", func(x, y float64) float64 { return radius(x, y) - 0.3 }, 2, 1 - math.Pi*0.09},
	} {
		rings := sheetOf(201, c.z).above(0)
		sum := 0.0
		for _, r := range rings {
			sum += area(simplified(r, 480, 230))
		}
		if len(rings) != c.rings || math.Abs(sum-c.area) > 2e-4 {
			t.Errorf("%s: %d rings of area %.6f, want %d of %.6f", c.name, len(rings), sum, c.rings, c.area)
		}
	}
}

// On a saddle the mean of a cell decides, both ways.
func TestSaddle(t *testing.T) {
	for _, c := range []struct {
		low   float64
		rings int
	}{{-0.5, 1}, {-2, 2}} {
		s := sheet{x: []float64{0, 1}, y: []float64{0, 1}, z: [][]float64{{1, c.low}, {c.low, 1}}}
		if got := len(s.above(0)); got != c.rings {
			t.Errorf("corners 1 and %g: %d regions, want %d", c.low, got, c.rings)
		}
		s.z = [][]float64{{c.low, 1}, {1, c.low}}
		if got := len(s.above(0)); got != c.rings {
			t.Errorf("corners %g and 1: %d regions, want %d", c.low, got, c.rings)
		}
	}
}

func TestFieldsThatCannotBeDrawn(t *testing.T) {
	x, y := []float64{100, 1000}, []float64{-1, 1}
	z := [][]float64{{0, 1}, {2, 3}}
	for _, c := range []struct {
		name  string
		f     Field
		steps []float64
		want  string
	}{
		{"one row", Field{X: x, Y: y[:1], Z: z[:1]}, []float64{1}, "2 × 2"},
		{"outside the axis", Field{X: []float64{1, 2}, Y: y, Z: z}, []float64{1}, "0 × 2"},
		{"falling", Field{X: x, Y: []float64{1, -1}, Z: z}, []float64{1}, "ascending"},
		{"ragged", Field{X: x, Y: y, Z: [][]float64{{0, 1}, {2}}}, []float64{1}, "row 2"},
		{"not a number", Field{X: x, Y: y, Z: [][]float64{{0, 1}, {2, math.NaN()}}}, []float64{1}, "(2, 2)"},
		{"no steps", Field{X: x, Y: y, Z: z}, nil, "0 steps"},
		{"too many steps", Field{X: x, Y: y, Z: z}, []float64{1, 2, 3, 4, 5, 6, 7}, "7 steps"},
		{"equal steps", Field{X: x, Y: y, Z: z}, []float64{1, 1}, "step 2"},
		{"one side of two", Field{X: x, Y: y, Z: z, TwoSided: true}, []float64{-3, -1, 1}, "pairs"},
		{"zero on two sides", Field{X: x, Y: y, Z: z, TwoSided: true}, []float64{-1, 0, 1}, "pairs"},
		{"not in pairs", Field{X: x, Y: y, Z: z, TwoSided: true}, []float64{-3, -1, 1, 2}, "pairs"},
		{"marks of rows", Field{X: x, Y: y, Z: z, Filled: []bool{true}}, []float64{1}, "1 marks"},
	} {
		err := Shades(Options{}, Axis{Name: "Angle", Unit: "°"}, c.f, c.steps).Err()
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one that says %q", c.name, err, c.want)
		}
	}
}

// Shades fall in lightness from step to step, so that they are in order for every eye and
// in print, and neighbours differ enough at the most steps that are allowed.
func TestShadesAreInOrder(t *testing.T) {
	last := 105.0
	for k := range mostSteps + 1 {
		l := lab(linear(shadeOf(float64(k) / mostSteps)))[0]
		if last-l < 8 {
			t.Errorf("shade %d has lightness %.1f after %.1f, want at least 8 less", k, l, last)
		}
		last = l
	}
}

// On two sides the shades are in order away from the middle, as dark on both sides, and no
// two are alike for any kind of sight.
func TestShadesOfTwoSides(t *testing.T) {
	for of := 1; of <= mostSteps/2; of++ {
		for k := 1; k <= of; k++ {
			below, above, nearer := lab(linear(sideOf(-k, of))), lab(linear(sideOf(k, of))), lab(linear(sideOf(k-1, of)))
			if d := math.Abs(below[0] - above[0]); d > 8 {
				t.Errorf("step %d of %d: the lightness of the two sides is %.1f and %.1f, want them alike within 8", k, of, below[0], above[0])
			}
			if nearer[0]-above[0] < 8 || lab(linear(sideOf(1-k, of)))[0]-below[0] < 8 {
				t.Errorf("step %d of %d is not darker than the one before it by 8", k, of)
			}
		}
		for name, m := range sights() {
			var seen [][3]float64
			for k := -of; k <= of; k++ {
				seen = append(seen, lab(mul(m, linear(sideOf(k, of)))))
			}
			for i := range seen {
				for j := range i {
					// 2.3 is a just noticeable difference (M. Mahy et al., 1994); areas are
					// large, so six of them are wanted.
					if d := distance(seen[i], seen[j]); d < 14 {
						t.Errorf("%s: shades %d and %d of %d steps to a side are %.1f apart, want at least 14", name, j-of, i-of, of, d)
					}
				}
			}
		}
	}
}

// What is drawn over shades in ink with a white seam has a contrast of at least 3 : 1 to
// the shade by one of the two (W3C WCAG 2.1, criterion 1.4.11); what is not known is not
// taken for the lowest shade of a plane.
func TestLinesAreSeenOnEveryShade(t *testing.T) {
	var shades []rgba
	for k := range mostSteps + 1 {
		shades = append(shades, shadeOf(float64(k)/mostSteps), sideOf(k-mostSteps/2, mostSteps/2))
	}
	for _, c := range shades {
		if k := max(contrast(ink, c), contrast(white, c)); k < 3 {
			t.Errorf("ink and white have a contrast of %.2f to shade %06x, want one of at least 3", k, c>>8)
		}
	}
	if l := 100 - lab(linear(shadeOf(planeLowest)))[0]; l < 8 {
		t.Errorf("the lowest shade of a plane is %.1f darker than white, want at least 8", l)
	}
	last := 105.0
	for k := range mostSteps + 1 {
		l := lab(linear(shadeOf(planeLowest + (1-planeLowest)*float64(k)/mostSteps)))[0]
		if last-l < 8 {
			t.Errorf("shade %d of a plane has lightness %.1f after %.1f, want at least 8 less", k, l, last)
		}
		last = l
	}
}
