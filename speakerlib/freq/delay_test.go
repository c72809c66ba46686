package freq_test

import (
	"math"
	"math/cmplx"
	"strings"
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

// A pure delay τ has the group delay τ (the definition), however long: 0.3 s at
// 20 kHz turn the phase by 3.8 rad in a relative step of 1e-4.
func TestGroupDelayOfALongDelay(t *testing.T) {
	g := logGrid(t, 20, 20e3, 12)
	for _, tau := range []float64{1e-6, 0.01, 0.3, 3} {
		c, err := freq.CheckedGroupDelay(freq.Series{freq.Gain(-2), freq.Delay(tau)}, g, "late")
		if err != nil {
			t.Fatal(err)
		}
		for i := range g.Len() {
			if math.Abs(c.At(i)-tau) > 1e-6*tau+1e-9/g.At(i) {
				t.Errorf("delay of %g s at %g Hz: %.9g s", tau, g.At(i), c.At(i))
			}
		}
	}
	// One frequency, at which a step of 1e-4 would turn the phase by whole turns.
	one, err := freq.NewGrid([]float64{1000})
	if err != nil {
		t.Fatal(err)
	}
	if d := freq.GroupDelay(freq.Delay(10), one, "").At(0); math.Abs(d-10) > 1e-5 {
		t.Errorf("delay of 10 s is %.9g s", d)
	}
}

// A delay that outgrows the grid is refused and not answered with a shorter or an
// early one: points must be closer than 1/(2τ) (the sampling theorem).
func TestGroupDelayOfPointsTooFarApart(t *testing.T) {
	for _, c := range []struct {
		perOctave int
		tau       float64
		refused   bool
	}{{12, 50e-6, false}, {12, 3e-3, true}, {48, 1e-3, false}, {48, 2e-3, true}, {48, 0.1, true}, {6, 0.02, true}} {
		r, err := freq.Evaluate(freq.Delay(c.tau), logGrid(t, 20, 20e3, c.perOctave), "flight", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		d, err := r.GroupDelay()
		if c.refused {
			if err == nil || !strings.Contains(err.Error(), `group delay of "flight": the phase turns by 1`) || !strings.Contains(err.Error(), "want at most 150°") {
				t.Errorf("delay of %g s on %d points an octave: error %v", c.tau, c.perOctave, err)
			}
			continue
		}
		if err != nil {
			t.Error(err)
			continue
		}
		for i := range d.Len() {
			if math.Abs(d.At(i)/c.tau-1) > 1e-9 {
				t.Errorf("delay of %g s on %d points an octave: %.9g s at %g Hz", c.tau, c.perOctave, d.At(i), d.Grid().At(i))
			}
		}
	}
}

// What has no group delay says so, with where it has none.
func TestCheckedGroupDelayRefuses(t *testing.T) {
	g := logGrid(t, 100, 1000, 3)
	r, err := freq.Evaluate(freq.Gain(1), g, "measured", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	w := 2 * math.Pi * 400.0
	notch := &freq.PolyRatio{Num: freq.NewPoly(1, 0, 1/(w*w)), Den: freq.NewPoly(1, 1/w, 1/(w*w))}
	at, err := freq.NewGrid([]float64{300, 400})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		t    freq.Transfer
		g    *freq.Grid
		want string
	}{
		{nil, g, "transfer is nil"},
		{freq.Gain(1), nil, "grid is nil"},
		{r, g, `"x", which is known on the points of its own grid only`},
		{freq.Series{freq.Gain(2), r}, g, "own grid only"},
		{r, logGrid(t, 100, 1000, 4), "resample it first"},
		{freq.Gain(0), g, "at 100 Hz, where the response is (0+0i)"},
		{notch, at, "at 400 Hz, where the response is"},
		{freq.Gain(math.Inf(1)), g, "at 100 Hz, where the response is"},
	} {
		if _, err := freq.CheckedGroupDelay(c.t, c.g, "x"); err == nil || !strings.HasPrefix(err.Error(), "freq: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: error %v, want one with %q", c.t, err, c.want)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("GroupDelay of a measured response does not panic")
		}
	}()
	freq.GroupDelay(r, g, "x")
}
