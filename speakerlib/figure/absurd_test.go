package figure

import (
	"math"
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
		if f := XY(XYOptions{}, Axis{Name: "x"}, XYPanel{Series: []Series{{"s", []float64{0, 1}, []float64{0, v}}}}); f.Err() == nil {
			t.Errorf("a series up to %g was drawn", v)
		}
		if f := XY(XYOptions{}, Axis{Name: "x"}, XYPanel{Series: []Series{{"s", []float64{-math.Abs(v), math.Abs(v)}, []float64{0, 1}}}}); f.Err() == nil {
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
		if f := XY(XYOptions{}, Axis{Name: "x", Per: per}, XYPanel{Series: []Series{{"s", []float64{0, 1}, []float64{0, 1}}}}); f.Err() == nil {
			t.Errorf("a unit of %g was drawn", per)
		}
	}
}
