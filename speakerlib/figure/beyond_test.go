package figure

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// Where a curve is infinite it is drawn along the upper edge, from halfway to the last
// point that is not to halfway to the next, and the words say so.
func TestBeyondTheUpperEdge(t *testing.T) {
	g, err := freq.NewGrid([]float64{100, 200, 400, 800, 1600, 3200, 6400})
	if err != nil {
		t.Fatal(err)
	}
	inf := math.Inf(1)
	curve := func(label string, v ...float64) freq.Curve {
		c, err := freq.NewCurve(g, v, label, "°", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	right, left := curve("right", inf, inf, 60, inf, 50, 40, 30), curve("left", 70, 60, 50, 45, 40, 35, 30)
	o := Options{From: 50, To: 10000, Bottom: 0, Top: 90, Beyond: "wider than 60°"}
	f := Quantity(o, right, left)
	if f.Err() != nil {
		t.Fatal(f.Err())
	}
	var got [][2]float64
	for _, n := range f.panels[0].lines {
		if n.pale {
			got = append(got, [2]float64(n.x))
			if n.label != "right" || n.y[0] != n.y[1] || !(n.y[0] > 88 && n.y[0] < 90) {
				t.Errorf("%q goes on at %v", n.label, n.y)
			}
		}
	}
	want := [][2]float64{{100, 200 * math.Sqrt2}, {400 * math.Sqrt2, 800 * math.Sqrt2}}
	if len(got) != 2 || math.Abs(got[0][1]-want[0][1])+math.Abs(got[1][0]-want[1][0])+math.Abs(got[1][1]-want[1][1])+math.Abs(got[0][0]-want[0][0]) > 1e-9 {
		t.Errorf("beyond at %v, want %v", got, want)
	}
	const say = "Pale and dotted along the upper edge: wider than 60°."
	if !strings.Contains(f.Caption(), say) {
		t.Errorf("caption %q, want %q in it", f.Caption(), say)
	}
	if word := "right from 30 to 60, in part wider than 60°; left from 30 to 70"; !strings.Contains(f.Alt(), word) {
		t.Errorf("description %q, want %q in it", f.Alt(), word)
	}
	// Both sides beyond do not cover one another.
	both := Quantity(o, right, curve("left", inf, 60, 50, 45, 40, 35, 30))
	places := map[float64]bool{}
	for _, n := range both.panels[0].lines {
		if n.pale {
			places[n.y[0]] = true
		}
	}
	if len(places) != 2 {
		t.Errorf("two curves go on at %d heights, want 2", len(places))
	}
	// A curve that is beyond everywhere is drawn beside one that is not.
	if f := Quantity(o, left, curve("right", inf, inf, inf, inf, inf, inf, inf)); f.Err() != nil || !strings.Contains(f.Alt(), "; right wider than 60°") {
		t.Errorf("%v, %q", f.Err(), f.Alt())
	}
	// Without words nothing is drawn, and nothing is said if nothing is beyond.
	o.Beyond = ""
	if f := Quantity(o, right); f.Err() != nil || len(f.panels[0].lines) != 1 || strings.Contains(f.Caption(), "edge") {
		t.Errorf("%v, %d lines, caption %q", f.Err(), len(f.panels[0].lines), f.Caption())
	}
	o.Beyond = "wider"
	if f := Quantity(o, left); f.Err() != nil || strings.Contains(f.Caption(), "edge") {
		t.Errorf("%v, caption %q", f.Err(), f.Caption())
	}
	away := curve("right", inf, inf, inf, inf, inf, inf, inf)
	if f := Quantity(Options{Beyond: "wider"}, away); f.Err() == nil || !strings.Contains(f.Err().Error(), "right wider everywhere, want a curve with values, or Bottom and Top") {
		t.Errorf("an axis of nothing: %v", f.Err())
	}
	if f := Quantity(Options{Beyond: "wider", Top: 60}, away); f.Err() != nil {
		t.Errorf("an axis that is given: %v", f.Err())
	}
}

// A value between two that are infinite is a point: it is not lost as a line of no length.
func TestAValueAloneIsAPoint(t *testing.T) {
	inf := math.Inf(1)
	n := line{y: []float64{1, inf, 2, inf, 3, 4, inf, 5}}
	for i, want := range []bool{true, false, true, false, false, false, false, true} {
		if n.alone(i) != want {
			t.Errorf("point %d alone: %v", i, !want)
		}
	}
	if (line{y: []float64{1}}).alone(0) {
		t.Error("a line of one point is a point")
	}
}
