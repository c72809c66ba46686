package diffraction_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/diffraction"
)

func rad(deg float64) float64 { return deg * math.Pi / 180 }

// Right wedge and half plane against the modal series of Biot and Tolstoy (1957);
// the table has ten digits.
func TestWedgeAgainstModalSeries(t *testing.T) {
	worst := 0.0
	for _, r := range reference(t, "wedge.csv") {
		n := func(column string) float64 { return r.Number(t, column) }
		w := diffraction.Wedge{Open: rad(n("theta_w_deg"))}
		s := diffraction.Cylindrical{Radius: n("rS"), Angle: rad(n("thetaS_deg")), Z: n("zS")}
		at := diffraction.Cylindrical{Radius: n("rR"), Angle: rad(n("thetaR_deg")), Z: n("zR")}
		d, err := w.Diffracted(s, at, n("f_hz"), still)
		if err != nil {
			t.Fatal(err)
		}
		g, err := w.Geometric(s, at, n("f_hz"), still)
		if err != nil {
			t.Fatal(err)
		}
		e := max(cmplx.Abs(d-complex(n("pdiff_re"), n("pdiff_im"))), cmplx.Abs(d+g-complex(n("p_re"), n("p_im"))))
		worst = max(worst, e)
		if e > 2e-9 {
			t.Errorf("%s %v° to %v° at %v Hz: off by %.2g", r["case"], n("thetaS_deg"), n("thetaR_deg"), n("f_hz"), e)
		}
	}
	t.Logf("largest difference %.2g", worst)
}

// Very near the edge, far from it, at low and at high frequencies: the same integral by mpmath
// along another path (wedge_mpmath.py), to 1e-10 of the free field over the edge.
func TestWedgeAgainstMpmath(t *testing.T) {
	for _, r := range reference(t, "wedge_mpmath.csv") {
		n := func(column string) float64 { return r.Number(t, column) }
		w := diffraction.Wedge{Open: n("open_over_pi") * math.Pi}
		d, err := w.Diffracted(diffraction.Cylindrical{Radius: n("rS"), Angle: n("thetaS")}, diffraction.Cylindrical{Radius: n("rR"), Angle: n("thetaR"), Z: n("z")}, n("f_hz"), still)
		if err != nil {
			t.Fatal(err)
		}
		free := 1 / math.Hypot(n("rS")+n("rR"), n("z"))
		if e := cmplx.Abs(d-complex(n("re"), n("im"))) / free; !(e < 1e-10) {
			t.Errorf("%v: %v is off by %.2g", r, d, e)
		}
	}
}

// The field is continuous across the zone boundary, and on it half of what ends
// there is geometric.
func TestWedgeZoneBoundary(t *testing.T) {
	w := diffraction.Wedge{Open: 1.5 * math.Pi}
	s := diffraction.Cylindrical{Radius: 0.1, Angle: 0}
	total := func(angle float64) complex128 {
		at := diffraction.Cylindrical{Radius: 2, Angle: angle, Z: 0.3}
		d, err := w.Diffracted(s, at, 3000, still)
		if err != nil {
			t.Fatal(err)
		}
		g, err := w.Geometric(s, at, 3000, still)
		if err != nil {
			t.Fatal(err)
		}
		return d + g
	}
	on := total(math.Pi)
	for _, d := range []float64{1e-3, 1e-6, 1e-9} {
		for _, side := range []float64{-d, d} {
			if e := cmplx.Abs(total(math.Pi+side) - on); e > 3*d+1e-9 {
				t.Errorf("%g rad off the boundary the field differs by %.2g", side, e)
			}
		}
	}
}

// Source and receiver may change places (reciprocity of a linear medium at rest).
func TestWedgeReciprocity(t *testing.T) {
	w := diffraction.Wedge{Open: 1.7 * math.Pi}
	a, b := diffraction.Cylindrical{Radius: 0.13, Angle: 0.4}, diffraction.Cylindrical{Radius: 0.9, Angle: 4.1, Z: 0.2}
	p, err := w.Diffracted(a, b, 800, still)
	if err != nil {
		t.Fatal(err)
	}
	q, err := w.Diffracted(b, a, 800, still)
	if err != nil || cmplx.Abs(p-q) > 1e-13 {
		t.Errorf("there %v and back %v (%v)", p, q, err)
	}
}

func TestWedgeRefuses(t *testing.T) {
	in := diffraction.Cylindrical{Radius: 1, Angle: 5}
	out := diffraction.Cylindrical{Radius: 1, Angle: 1}
	for name, f := range map[string]func() error{
		"inside":       func() error { _, err := diffraction.Wedge{Open: 4.5}.Diffracted(out, in, 100, still); return err },
		"inner corner": func() error { _, err := diffraction.Wedge{Open: 2}.Diffracted(out, out, 100, still); return err },
		"no frequency": func() error {
			_, err := diffraction.Wedge{Open: 5}.Diffracted(out, in, math.NaN(), still)
			return err
		},
		"on the edge": func() error {
			_, err := diffraction.Wedge{Open: 5}.Geometric(diffraction.Cylindrical{}, in, 100, still)
			return err
		},
		"absurdly far": func() error {
			_, err := diffraction.Wedge{Open: 5}.Diffracted(out, diffraction.Cylindrical{Radius: 1e100, Angle: 4}, 100, still)
			return err
		},
		"ultraviolet": func() error {
			_, err := diffraction.Wedge{Open: 5}.Diffracted(out, diffraction.Cylindrical{Radius: 1, Angle: 4}, 1e15, still)
			return err
		},
		"same place": func() error { _, err := diffraction.Wedge{Open: 5}.Geometric(out, out, 100, still); return err },
	} {
		if f() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
