package identify_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/identify"
)

// Whatever mass is taken, the impedance is that of the curve; with the true one the
// driver is the true one.
func TestScaledByAMass(t *testing.T) {
	for _, creep := range []float64{0, 0.08} {
		p, g := lumped(creep), grid(t)
		m := free(t, p, g, nil, 0)
		r, err := identify.Fit([]identify.Measurement{m}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, mass := range []float64{p.Mms, 3 * p.Mms} {
			d, err := r.Scaled(mass, p.Sd)
			if err != nil {
				t.Fatal(err)
			}
			for i, z := range d.ImpedanceTo(nil, g) {
				if want := m.Impedance.At(i); cmplx.Abs(z-want) > 1e-4*cmplx.Abs(want) {
					t.Fatalf("creep %g, %g kg: impedance at %g Hz is %v, want %v", creep, mass, g.At(i), z, want)
				}
			}
			if mass == p.Mms && (math.Abs(d.Bl/p.Bl-1) > 1e-3 || math.Abs(d.Cms/p.Cms-1) > 2e-3 || math.Abs(d.Rms/p.Rms-1) > 5e-3) {
				t.Errorf("creep %g: Bl %g, Cms %g, Rms %g, want %g, %g, %g", creep, d.Bl, d.Cms, d.Rms, p.Bl, p.Cms, p.Rms)
			}
		}
		for _, bad := range [][2]float64{{0, p.Sd}, {p.Mms, 0}, {1e3 * p.Mms, p.Sd}, {p.Mms, 1e4 * p.Sd}, {math.NaN(), p.Sd}, {p.Mms, math.Inf(1)}} {
			if _, err := r.Scaled(bad[0], bad[1]); err == nil {
				t.Errorf("scaled by %v", bad)
			}
		}
	}
}
