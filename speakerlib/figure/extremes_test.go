package figure

import (
	"math"
	"strings"
	"testing"
)

// Where what is symmetric is highest and lowest does not hang on the last digit, wherever
// that is larger: of the places and their mirror images always the first is named.
func TestWordsOfSymmetry(t *testing.T) {
	for _, sign := range []float64{-1, 0, 1} {
		digit := func(v float64) float64 { // one unit in the last place more or less on one side
			if v > 0 {
				return 1 + sign*0x1p-52
			}
			return 1
		}
		f := slope(0.2, 0.2, 5, 5, flat)
		for j := range f.Z {
			for i := range f.Z[j] {
				x, y := float64(i-2), float64(j-2)
				f.Z[j][i] = (1 + x*x - 0.1*y*y) * digit(x) * digit(y)
			}
		}
		if s := Plane(PlaneOptions{}, f, []float64{1}).Alt(); !strings.Contains(s, "Highest 5 dB at (0, 100) mm, lowest 0.6 dB at (100, 0) mm") {
			t.Errorf("the map says %q, want the first of the highest and of the lowest", s)
		}
		var a Arc
		for d := -170.; d <= 180; d += 10 {
			level := -10 * math.Pow(math.Cos(2*d*math.Pi/180), 2)
			a.Degrees, a.DB = append(a.Degrees, d), append(a.DB, level*digit(d))
		}
		a.Label = "four lobes"
		if s := Polar(PolarOptions{}, a).Alt(); !strings.Contains(s, "lowest −10 at −90°") {
			t.Errorf("the polar plot says %q, want the first of the lowest", s)
		}
	}
	hi, lo := extremes([]float64{math.NaN(), -3, math.Inf(-1)}, []float64{2, math.Inf(-1), math.NaN()})
	if hi != [2]int{0, 1} || lo != [2]int{2, 0} {
		t.Errorf("with silence and holes the highest is at %v and the lowest at %v", hi, lo)
	}
	if hi, lo = extremes([]float64{math.Inf(-1), math.Inf(-1)}); hi != [2]int{} || lo != hi {
		t.Errorf("of silence the highest is at %v and the lowest at %v, want the first", hi, lo)
	}
}
