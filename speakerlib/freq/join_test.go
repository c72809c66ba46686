package freq_test

import (
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

func TestJoin(t *testing.T) {
	curve := func(hz, v []float64, unit string, b freq.Basis) freq.Curve {
		g, err := freq.NewGrid(hz)
		if err != nil {
			t.Fatal(err)
		}
		c, err := freq.NewCurve(g, v, "c", unit, b)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	half, full := freq.Basis{Space: freq.HalfSpace}, freq.Basis{Space: freq.FullSpace}
	low := curve([]float64{10, 20, 30, 40}, []float64{1, 2, 3, 4}, "dB", half)
	high := curve([]float64{25, 30, 60}, []float64{7, 8, 9}, "dB", full)
	j, err := freq.Join(low, high, 30)
	if err != nil {
		t.Fatal(err)
	}
	want := curve([]float64{10, 20, 30, 60}, []float64{1, 2, 8, 9}, "dB", freq.Basis{})
	if !j.Grid().Equal(want.Grid()) || j.Basis() != want.Basis() {
		t.Errorf("joined on %v as %v", j.Grid().Hz(), j.Basis())
	}
	for i := range j.Len() {
		if j.At(i) != want.At(i) {
			t.Errorf("%g at %g Hz, want %g", j.At(i), j.Grid().At(i), want.At(i))
		}
	}
	for name, c := range map[string]struct {
		low, high freq.Curve
		at        float64
		want      string
	}{
		"unit":  {low, curve([]float64{25, 30}, []float64{1, 1}, "Pa", full), 30, "same unit"},
		"below": {low, high, 10, "inside"},
		"above": {low, high, 61, "inside"},
	} {
		if _, err := freq.Join(c.low, c.high, c.at); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}
