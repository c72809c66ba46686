package measure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
)

// Beyond what was measured a second-order high-pass in series with a low-pass goes on
// along its asymptotes of 12 dB an octave (closed form), within what the ends are off
// them; within, it is what Resample gives.
func TestExtendGoesOnAlongTheTails(t *testing.T) {
	filter := func(hz float64) complex128 {
		s := complex(0, hz/1000)
		return s * s / ((1 + s*1.4142135623730951 + s*s) * (1 + s*1.4142135623730951 + s*s))
	}
	narrow, err := freq.LogGrid(50, 20000, 24)
	if err != nil {
		t.Fatal(err)
	}
	values := make([]complex128, narrow.Len())
	for i := range values {
		values[i] = filter(narrow.At(i))
	}
	r, err := freq.NewResponse(narrow, values, "filter", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	wide, err := freq.LogGrid(1, 1e6, 7)
	if err != nil {
		t.Fatal(err)
	}
	out, err := measure.Extend(r, wide, freq.Tails{Below: 12.0412, Above: -12.0412})
	if err != nil {
		t.Fatal(err)
	}
	for i := range wide.Len() {
		hz := wide.At(i)
		off := level.DB(cmplx.Abs(out.At(i)) / cmplx.Abs(filter(hz)))
		if most := 0.01; math.Abs(off) > most {
			t.Errorf("at %g Hz %.4f dB off, want at most %g", hz, off, most)
		}
		if hz < 50 && math.Abs(cmplx.Phase(out.At(i))-cmplx.Phase(filter(50))) > 1e-9 {
			t.Errorf("at %g Hz the phase is %.4f, want that of the first point", hz, cmplx.Phase(out.At(i)))
		}
	}
}

func TestExtendRefuses(t *testing.T) {
	g, err := freq.NewGrid([]float64{100, 200, 400})
	if err != nil {
		t.Fatal(err)
	}
	r, err := freq.NewResponse(g, []complex128{1, 1, 1}, "flat", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	elsewhere, err := freq.NewGrid([]float64{1000, 2000})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		g    *freq.Grid
		t    freq.Tails
		want string
	}{
		"no grid":   {nil, freq.Tails{}, "no grid"},
		"growing":   {g, freq.Tails{Above: 6}, "at most 0 above"},
		"downwards": {g, freq.Tails{Below: -6}, "at least 0 below"},
		"nothing":   {g, freq.Tails{Below: math.NaN()}, "NaN"},
		"apart":     {elsewhere, freq.Tails{}, "points within"},
	} {
		if _, err := measure.Extend(r, c.g, c.t); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := measure.Extend(freq.Response{}, g, freq.Tails{}); err == nil || !strings.Contains(err.Error(), "has no grid") {
		t.Errorf("nothing measured: %v", err)
	}
}
