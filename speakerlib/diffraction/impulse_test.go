package diffraction_test

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/radiation"
)

// The Fourier transform of the impulse response is the response (the mean over a period
// T takes sin(πfT)/πfT), in directions and at points, beside zone boundaries and on them.
func TestImpulseIsResponse(t *testing.T) {
	const rate = 4e6
	var to []diffraction.Receiver
	for _, a := range []float64{0, 30, 89.99, 90, 90.01, 150, 180} {
		to = append(to, diffraction.Angles(rad(a), 0.05))
	}
	to = append(to, diffraction.At(r3.Vec{X: 0.5, Y: 0.1, Z: 0.3}), diffraction.At(r3.Vec{X: 0.5, Y: 0.1, Z: -0.3}), diffraction.At(r3.Vec{X: 0.03, Y: 0.02, Z: 0.01}))
	hz := []float64{1, 300, 2000, 10000}
	p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, hz...), Receivers: to, Reference: r3.Vec{Y: 0.05}})
	if err != nil {
		t.Fatal(err)
	}
	src := diffraction.Source{Elements: []radiation.Element{{At: r3.Vec{X: 0.01, Y: 0.07}, Weight: 0.7}, {At: r3.Vec{Y: -0.05}, Weight: 0.3, Delay: 2e-4}}}
	st := p.NewState()
	want, err := st.SolveTo(nil, src)
	if err != nil {
		t.Fatal(err)
	}
	for r := range to {
		h, err := st.Impulse(src, r, rate)
		if err != nil {
			t.Fatal(err)
		}
		for i, f := range hz {
			var sum complex128
			w := 2 * math.Pi * f
			for n, x := range h.Samples {
				sum += complex(x*h.Period, 0) * cmplx.Exp(complex(0, -w*(h.Start+(float64(n)+0.5)*h.Period)))
			}
			// The direct pulse is anywhere in its period: half of it at most.
			if e := cmplx.Abs(sum - want[r*len(hz)+i]); e > 3e-4+1.5*w*h.Period/2 {
				t.Errorf("receiver %d at %v Hz: %v, want %v: off by %.2g", r, f, sum, want[r*len(hz)+i], e)
			}
		}
	}
	for name, err := range map[string]error{
		"receiver": second(st.Impulse(src, len(to), rate)),
		"rate":     second(st.Impulse(src, 0, 0)),
		"too long": second(st.Impulse(src, 0, 1e15)),
		"source":   second(st.Impulse(diffraction.Source{}, 0, rate)),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
