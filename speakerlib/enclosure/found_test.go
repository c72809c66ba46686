package enclosure_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/enclosure"
)

// The end with which a vent was tuned is found from its tuning; one that was a metre,
// or a box that was litres, is refused.
func TestEndFromATuning(t *testing.T) {
	m := air.Room()
	v := enclosure.Vent{Diameter: 0.054, Length: 0.155, Inner: 1.05, Outer: enclosure.Flanged, Count: 1}
	fb := v.Tuning(14.3e-3, m)
	drawn := v
	drawn.Inner = enclosure.Free
	got, err := drawn.EndFor(fb, 14.3e-3, m)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(got.Inner)-1.05) > 1e-12 || got.Length != v.Length || got.Outer != v.Outer {
		t.Errorf("found %+v, want an inner end of 1.05", got)
	}
	for _, c := range [][2]float64{{fb, 28e-3}, {fb, 7e-3}, {2 * fb, 14.3e-3}, {0, 14.3e-3}, {fb, math.NaN()}} {
		if got, err := drawn.EndFor(c[0], c[1], m); err == nil {
			t.Errorf("%v gave %+v", c, got)
		}
	}
}
