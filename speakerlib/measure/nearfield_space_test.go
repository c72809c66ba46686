package measure_test

import (
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/measure"
)

func TestToFullSpace(t *testing.T) {
	g := logGrid(t, 20, 800, 12)
	half := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 2}
	r := evaluate(t, freq.Delay(1e-3), g, "bass", half)
	step := sphereStep(t, 0.15)
	full, err := measure.ToFullSpace(r, step)
	if err != nil {
		t.Fatal(err)
	}
	want := half
	want.Space = freq.FullSpace
	if full.Basis() != want || full.Label() != "bass" {
		t.Errorf("%q, %v, want %v", full.Label(), full.Basis(), want)
	}
	for i, v := range step.ResponseTo(nil, g) {
		if cmplx.Abs(full.At(i)-v*r.At(i)) > 1e-15 {
			t.Errorf("at %g Hz: %v, want the product %v", g.At(i), full.At(i), v*r.At(i))
		}
	}
	other := evaluate(t, freq.Gain(0.5), logGrid(t, 20, 800, 6), "other", freq.Basis{})
	pressure := evaluate(t, freq.Gain(0.5), g, "pressure", half)
	giant := sphereStep(t, 100)
	for want, c := range map[string]struct {
		r freq.Response
		s freq.Transfer
	}{
		"want a sound pressure in half space": {full, step},
		"transfer is nil":                     {r, nil},
		"resample it first":                   {r, other},
		"want a ratio":                        {r, pressure},
		"is it the step back":                 {r, freq.Inverse{Of: step}},
		"is 6 at 20 Hz":                       {r, freq.Gain(-6)},
		"at most 1000":                        {r, giant},
	} {
		if _, err := measure.ToFullSpace(c.r, c.s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}
