package tune_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/tune"
)

// The high-passes of both prototypes against their definitions, written out.
func TestShapesAreTheirPolynomials(t *testing.T) {
	g, err := freq.NewGrid([]float64{7, 25, 40, 55, 160, 900})
	if err != nil {
		t.Fatal(err)
	}
	a := [5]float64{1, 2.7, 3.5, 2.5, 1} // ascending, of no family
	fourth, err := tune.NewPolynomial(a[:]...)
	if err != nil {
		t.Fatal(err)
	}
	odd, err := tune.NewPolynomial(2, 5, 4, 0.7)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		p    analog.Prototype
		want func(s complex128) complex128
	}{
		"pair":       {tune.PolePair{Q: 1.3}, func(s complex128) complex128 { return s * s / (s*s + s/1.3 + 1) }},
		"real pair":  {tune.PolePair{Q: 0.3}, func(s complex128) complex128 { return s * s / (s*s + s/0.3 + 1) }},
		"critical":   {tune.PolePair{Q: 0.5}, func(s complex128) complex128 { return s * s / ((s + 1) * (s + 1)) }},
		"polynomial": {fourth, func(s complex128) complex128 { return s * s * s * s / (1 + s*(2.7+s*(3.5+s*(2.5+s)))) }},
		"odd":        {odd, func(s complex128) complex128 { return 0.7 * s * s * s / (2 + s*(5+s*(4+s*0.7))) }},
	} {
		f := highpass(t, 40, c.p)
		for i, v := range f.ResponseTo(nil, g) {
			want := c.want(complex(0, g.At(i)/40))
			if e := cmplx.Abs(v/want - 1); e > 1e-9 {
				t.Errorf("%s at %g Hz: %v, want %v", name, g.At(i), v, want)
			}
		}
		if c.p.String() == "" {
			t.Errorf("%s has no name", name)
		}
	}
}

func TestShapeRefusals(t *testing.T) {
	for _, q := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if p, err := (tune.PolePair{Q: q}).Poles(); err == nil {
			t.Errorf("Q %g has the poles %v", q, p)
		}
	}
	// The last has positive coefficients and a pair of roots on the right: for
	// s³ + s² + 2s + 8 = (s+2)(s²−s+4).
	for _, c := range [][]float64{nil, {1}, {1, 0}, {1, -1, 1}, {1, math.NaN(), 1}, make([]float64, 12), {8, 2, 1, 1}} {
		if p, err := tune.NewPolynomial(c...); err == nil {
			t.Errorf("%v gives %v", c, p)
		}
	}
}
