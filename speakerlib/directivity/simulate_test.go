package directivity_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/radiation"
)

// A piston in an infinite baffle, as point sources far away (radiation.Array) and by its closed
// form: the directions of both packages are the same.
func TestPropagatedPiston(t *testing.T) {
	g := grid(t, 200, 4000, 3)
	half := perTerminals
	half.Space = freq.HalfSpace
	source := must[freq.Response](t)(freq.Evaluate(freq.Gain(3), g, "woofer", half))
	p := radiation.Piston{Radius: 0.06}
	// Above the reference point by 50 mm: the sound is early upward.
	elements := must[[]radiation.Element](t)(p.Elements(r3.Vec{Y: 0.05}, r3.Vec{Z: 1}, 24))
	array := radiation.Array{Sources: []radiation.Placed{{Elements: elements}}}
	var factors []complex128
	d := []directivity.Direction{directivity.Side(0), directivity.Side(30), directivity.Up(40), directivity.Up(-40)}
	for _, at := range d {
		x, y, z := at.Unit()
		factors = append(factors, must[[]complex128](t)(array.Toward(r3.Vec{X: x, Y: y, Z: z}, medium, g))...)
	}
	set := must[*directivity.Set](t)(directivity.Propagate(source, "baffle", factors, d...))
	if set.Basis().Space != freq.FullSpace || set.Clock().TimeZero != "baffle" {
		t.Errorf("%v, %+v", set.Basis(), set.Clock())
	}
	for _, at := range d {
		r := must[freq.Response](t)(set.Response(at))
		_, up, _ := at.Unit()
		for i := range g.Len() {
			want := complex(3*p.Directivity(g.At(i), math.Abs(at.Degrees)*math.Pi/180, medium), 0) * pattern(func(hz float64) complex128 {
				return cmplx.Rect(1, 2*math.Pi*hz/soundSpeed*0.05*up)
			})(g.At(i))
			if e := cmplx.Abs(r.At(i) - want); e > 0.01 {
				t.Errorf("%v at %g Hz: %v, want %v", at, g.At(i), r.At(i), want)
			}
		}
	}
	for name, c := range map[string]struct {
		source  freq.Response
		factors []complex128
		want    string
	}{
		"full space": {source.Stated(perTerminals), factors, "half space"},
		"too few":    {source, factors[1:], "want 52"},
		"nothing":    {source, nil, "0 factors"},
	} {
		if _, err := directivity.Propagate(c.source, "baffle", c.factors, d...); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
