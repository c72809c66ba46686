package diffraction_test

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/radiation"
)

// One source after another takes no memory, at any order, in directions and at points, with
// a rim and without.
func TestSolveDoesNotAllocate(t *testing.T) {
	piston, err := radiation.Piston{Radius: 0.03}.Elements(r3.Vec{Y: 0.05}, r3.Vec{Z: 1}, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, order := range []diffraction.Order{diffraction.First, diffraction.Second, diffraction.All} {
		p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 100, 200, 400, 800), Order: order, Workers: 1,
			Receivers: []diffraction.Receiver{diffraction.Angles(0, 0), diffraction.Angles(rad(90), 0), diffraction.At(r3.Vec{X: 1, Z: 1e-3})}})
		if err != nil {
			t.Fatal(err)
		}
		st, dst := p.NewState(), make([]complex128, p.Len())
		a, b := diffraction.Source{Elements: point(0, 0.07, 0)}, diffraction.Source{Elements: piston}
		run := func() {
			for _, s := range []diffraction.Source{a, b} {
				if _, err := st.SolveTo(dst, s); err != nil {
					t.Fatal(err)
				}
			}
		}
		run()
		if n := testing.AllocsPerRun(5, run); n != 0 {
			t.Errorf("order %d: %v allocations, want none", order, n)
		}
	}
}
