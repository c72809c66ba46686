package figure

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// What cannot be drawn is an error, and not a search without end for the steps of
// its axis.
func TestAbsurdRangesAreRefused(t *testing.T) {
	g, err := freq.NewGrid([]float64{20, 200, 2000})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []float64{1e19, 1e300, -1e300, 1e304} {
		c, err := freq.NewCurve(g, []float64{0, v, v / 2}, "absurd", "dB", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		if f := Magnitude(Options{}, c); f.Err() == nil {
			t.Errorf("levels up to %g dB were drawn", v)
		}
		if f := Quantity(Options{}, c.Times(1, "m")); f.Err() == nil {
			t.Errorf("values up to %g were drawn", v)
		}
		if f := XY(XYOptions{}, Axis{Name: "x"}, XYPanel{Series: []Series{{Label: "s", X: []float64{0, 1}, Y: []float64{0, v}}}}); f.Err() == nil {
			t.Errorf("a series up to %g was drawn", v)
		}
		if f := XY(XYOptions{}, Axis{Name: "x"}, XYPanel{Series: []Series{{Label: "s", X: []float64{-math.Abs(v), math.Abs(v)}, Y: []float64{0, 1}}}}); f.Err() == nil {
			t.Errorf("places up to %g were drawn", v)
		}
	}
	sane, err := freq.NewCurve(g, []float64{0, 1, 2}, "sane", "dB", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range []Options{{From: 1e-300, To: 1e300}, {Bottom: -1e300, Top: 1e300}, {From: 20, To: math.NaN()}, {From: 1e-19, To: 20}} {
		if f := Magnitude(o, sane); f.Err() == nil {
			t.Errorf("an axis of %+v was drawn", o)
		}
	}
	if f := Quantity(Options{Bottom: -1e300, Top: 1e300}, sane.Times(1, "m")); f.Err() == nil {
		t.Error("an axis of ±1e300 was drawn")
	}
	for _, per := range []float64{math.NaN(), math.Inf(1), -1} {
		if f := XY(XYOptions{}, Axis{Name: "x", Per: per}, XYPanel{Series: []Series{{Label: "s", X: []float64{0, 1}, Y: []float64{0, 1}}}}); f.Err() == nil {
			t.Errorf("a unit of %g was drawn", per)
		}
	}
}

func TestRangesAndPointsOfAPlot(t *testing.T) {
	draw := func(s Span, series ...Series) *Figure {
		return XY(XYOptions{Spans: []Span{s}}, Axis{Name: "x"}, XYPanel{Series: series})
	}
	ok, row := Span{0.2, 0.8, "part"}, Series{Label: "s", X: []float64{0, 1}, Y: []float64{0, 1}}
	if f := draw(ok, row); f.Err() != nil || !strings.Contains(f.Alt(), "From 0.2 to 0.8: part") {
		t.Errorf("%v, %q", f.Err(), f.Alt())
	}
	for _, s := range []Span{{0.8, 0.2, "back"}, {2, 3, "beside"}, {0.2, 0.8, ""}, {math.NaN(), 1, "nowhere"}} {
		if draw(s, row).Err() == nil {
			t.Errorf("range %+v was drawn", s)
		}
	}
	back := Series{Label: "p", X: []float64{1, 0.5}, Y: []float64{1, 0}}
	if draw(ok, back).Err() == nil {
		t.Error("a line was drawn that goes back")
	}
	back.Points = true
	one := Series{Label: "one", X: []float64{0.3}, Y: []float64{0.3}, Points: true}
	if f := draw(ok, back, one); f.Err() != nil {
		t.Error(f.Err())
	}
}
