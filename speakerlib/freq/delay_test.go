package freq_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// A phase that is a parabola over frequency, φ = −(aω + bω²), has the group delay
// a + 2bω. Differences over three points of any spacing give it exactly, also at
// the ends.
func TestGroupDelayOfPointsOnAnUnevenGrid(t *testing.T) {
	g, err := freq.NewGrid([]float64{10, 12, 31, 35, 80, 81, 150})
	if err != nil {
		t.Fatal(err)
	}
	const a, b = 1e-3, 2e-6
	v := make([]complex128, g.Len())
	for i, w := range g.Omega() {
		v[i] = cmplx.Rect(1+float64(i), -a*w-b*w*w)
	}
	r, err := freq.NewResponse(g, v, "parabola", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := r.GroupDelay()
	if err != nil {
		t.Fatal(err)
	}
	for i, w := range g.Omega() {
		if want := a + 2*b*w; math.Abs(d.At(i)-want) > 1e-12 {
			t.Errorf("%g Hz: %.9g s, want %.9g", g.At(i), d.At(i), want)
		}
	}
}
