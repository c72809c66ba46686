package freq_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// Blauert and Laws 1978, from memory: the lowest threshold is 1 ms, at 2 kHz; the ends
// of what was measured are 500 Hz and 8 kHz.
func TestAudibleDelay(t *testing.T) {
	c := freq.AudibleDelay()
	if c.Grid().First() != 500 || c.Grid().Last() != 8000 || c.Unit() != "s" {
		t.Errorf("%v in %s", c.Grid(), c.Unit())
	}
	if p, err := c.Min(500, 8000); err != nil || p.Hz != 2000 || p.Value != 1e-3 {
		t.Errorf("lowest %+v (%v), want 1 ms at 2 kHz", p, err)
	}
}

// A delay of 10 ms is one cycle of 100 Hz. A high-pass of second order has the group
// delay 2Q/ω₀ at its corner (closed form), Q/π cycles whatever the corner.
func TestCycles(t *testing.T) {
	g, err := freq.NewGrid([]float64{50, 100, 400})
	if err != nil {
		t.Fatal(err)
	}
	for _, f0 := range []float64{50, 100, 400} {
		const q = 0.9
		s := func(f float64) complex128 { return complex(0, f/f0) }
		at := func(f float64) complex128 { return s(f) * s(f) / (s(f)*s(f) + s(f)/q + 1) }
		fine, err := freq.LogGrid(f0/1.01, f0*1.01, 2000)
		if err != nil {
			t.Fatal(err)
		}
		v := make([]complex128, fine.Len())
		for i := range v {
			v[i] = at(fine.At(i))
		}
		r, err := freq.NewResponse(fine, v, "box", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		delay, err := r.GroupDelay()
		if err != nil {
			t.Fatal(err)
		}
		cycles, err := delay.Cycles()
		if err != nil {
			t.Fatal(err)
		}
		if got, err := cycles.Interpolate(f0); err != nil || math.Abs(got-q/math.Pi) > 1e-4 {
			t.Errorf("at %g Hz %g cycles (%v), want %g", f0, got, err, q/math.Pi)
		}
	}
	c, err := freq.NewCurve(g, []float64{1, 2, 3}, "level", "dB", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Cycles(); err == nil {
		t.Error("a level has cycles")
	}
}
