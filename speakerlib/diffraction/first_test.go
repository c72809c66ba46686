package diffraction_test

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/radiation"
)

func grid(t testing.TB, hz ...float64) *freq.Grid {
	t.Helper()
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func point(x, y, z float64) []radiation.Element {
	return []radiation.Element{{At: r3.Vec{X: x, Y: y, Z: z}, Weight: 1}}
}

func solve(t testing.TB, s diffraction.Setup, src diffraction.Source) []complex128 {
	t.Helper()
	p, err := diffraction.NewPlan(s)
	if err != nil {
		t.Fatal(err)
	}
	return solvePlan(t, p, src)
}

func solvePlan(t testing.TB, p *diffraction.Plan, src diffraction.Source) []complex128 {
	t.Helper()
	st := p.NewState()
	h, err := st.SolveTo(nil, src)
	if st.Residual() > 1e-4 {
		t.Errorf("the orders have not converged: %.2g", st.Residual())
	}
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// A box so large that all edges but one are out of reach in time is a wedge: the
// direct sound and one edge against the exact wedge (itself checked against the
// modal series). The far edges are kept out by their delay: responses are averaged over
// frequency so that what comes 9 m later is gone.
func TestFirstOrderAgainstWedge(t *testing.T) {
	const half = 5.5
	box, err := diffraction.NewBox(2*half, 2*half, 2*half, diffraction.Rounding{}, diffraction.Rounding{})
	if err != nil {
		t.Fatal(err)
	}
	// 0.1 m from the right edge, in the middle of its height.
	src := diffraction.Source{Elements: point(half-0.1, 0, 0)}
	ref := r3.Vec{X: half}
	var hz []float64
	for k := -100; k <= 100; k++ {
		hz = append(hz, 500+4*float64(k))
	}
	g := grid(t, hz...)
	worst := 0.0
	for _, deg := range []float64{45, 90, 140, 170, 179.9, 179.99999, 180, 180.01, 200, 220, 260, 270} {
		at := diffraction.Cylindrical{Radius: 1.5, Angle: rad(deg), Z: 0.2}
		sin, cos := math.Sincos(at.Angle)
		h := solve(t, diffraction.Setup{Cabinet: box, Air: still, Grid: g, Reference: ref,
			Receivers: []diffraction.Receiver{diffraction.At(r3.Vec{X: half - at.Radius*cos, Y: at.Z, Z: at.Radius * sin})}}, src)
		w := diffraction.Wedge{Open: 1.5 * math.Pi}
		s := diffraction.Cylindrical{Radius: 0.1}
		r := math.Hypot(1.5, 0.2)
		var got, want complex128
		for i, f := range hz {
			u := float64(i-100) / 101
			window := complex(math.Pow(1-u*u, 6), 0)
			d, err := w.Diffracted(s, at, f, still)
			if err != nil {
				t.Fatal(err)
			}
			geometric, err := w.Geometric(s, at, f, still)
			if err != nil {
				t.Fatal(err)
			}
			got += window * h[i]
			want += window * (d + geometric) / 2 * complex(r, 0) * cmplx.Exp(complex(0, 2*math.Pi*f*r/343))
		}
		e := cmplx.Abs(got-want) / 64
		worst = max(worst, e)
		if e > 3e-4 {
			t.Errorf("at %v° the field is off by %.2g of the free one", deg, e)
		}
	}
	t.Logf("largest difference %.2g", worst)
}
