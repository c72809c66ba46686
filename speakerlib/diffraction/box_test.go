package diffraction_test

import (
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
)

// The box of the benchmarks, first and second order apart, in all 70 directions
// against the line integrals of the published formulae, summed exactly by NumPy with many
// more nodes (testdata/box_numpy.py). H is of the order of 1.
func TestBoxAgainstNumPy(t *testing.T) {
	rows := reference(t, "box_numpy.csv")
	var hz []float64
	for _, r := range rows[:8] {
		hz = append(hz, r.Number(t, "f_hz"))
	}
	var to []diffraction.Receiver
	for i := 0; i < len(rows); i += 8 {
		to = append(to, diffraction.Toward(r3.Vec{X: rows[i].Number(t, "direction_x"), Y: rows[i].Number(t, "direction_y"), Z: rows[i].Number(t, "direction_z")}))
	}
	s := diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, hz...), Receivers: to, Reference: r3.Vec{Y: 0.05}}
	first := solve(t, s, diffraction.Source{Elements: point(0, 0.07, 0)})
	s.Order = diffraction.Second
	both := solve(t, s, diffraction.Source{Elements: point(0, 0.07, 0)})
	var worst [2]float64
	for i, r := range rows {
		e := [2]float64{
			cmplx.Abs(first[i] - complex(r.Number(t, "first_re"), r.Number(t, "first_im"))),
			cmplx.Abs(both[i] - first[i] - complex(r.Number(t, "second_re"), r.Number(t, "second_im"))),
		}
		for o, limit := range []float64{1e-4, 1e-4} {
			worst[o] = max(worst[o], e[o])
			if e[o] > limit {
				t.Errorf("order %d towards (%s, %s, %s) at %s Hz is off by %.2g", o+1, r["direction_x"], r["direction_y"], r["direction_z"], r["f_hz"], e[o])
			}
		}
	}
	t.Logf("largest difference %.2g of the first order, %.2g of the second", worst[0], worst[1])
}
