package tune

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"
)

var kinds = []digital.Tunable{
	digital.Lowpass{F0: 2100, Q: 0.6}, digital.Highpass{F0: 1900, Q: 1.3}, digital.Peak{F0: 5200, Gain: 0.6, Q: 2.2},
	digital.LowShelf{F0: 700, Gain: 1.7, Q: 0.7}, digital.HighShelf{F0: 6000, Gain: 0.7, Q: 0.8},
	Unwarped{digital.Peak{F0: 11e3, Gain: 1.8, Q: 1.1}}, Unwarped{digital.Lowpass{F0: 9e3, Q: 0.8}}, Unwarped{digital.HighShelf{F0: 9e3, Gain: 1.5, Q: 0.7}},
	Unwarped{digital.LowShelf{F0: 3e3, Gain: 0.6, Q: 0.7}}, Unwarped{digital.Highpass{F0: 3e3, Q: 1.7}},
}

// Responses against those of the cascade, which are made of coefficients by another
// way, and derivatives against differences of them (gonum's fd, central).
func TestSectionsWithPhase(t *testing.T) {
	const rate = 48e3
	g, err := freq.LogGrid(50, 20e3, 12)
	if err != nil {
		t.Fatal(err)
	}
	cascade := func(s digital.Section) []complex128 {
		c, err := digital.NewCascade(rate, s)
		if err != nil {
			t.Fatal(err)
		}
		return c.ResponseTo(nil, g)
	}
	for _, k := range kinds {
		theta := k.ThetaTo(nil)
		n := len(theta)
		h, jac := make([]complex128, g.Len()), make([]complex128, g.Len()*n)
		for i := range h {
			h[i] = 1
		}
		complexTo(h, jac, n, k, theta, g, rate)
		power, slopes := make([]float64, g.Len()), make([]float64, g.Len()*n)
		for i := range power {
			power[i] = 1
		}
		k.PowerTo(power, slopes, n, theta, g, rate)
		want := cascade(k)
		for i, v := range want {
			if cmplx.Abs(h[i]/v-1) > 1e-9 || math.Abs(power[i]/(real(v)*real(v)+imag(v)*imag(v))-1) > 1e-9 {
				t.Fatalf("%v at %g Hz: %v, power %g, want %v", k, g.At(i), h[i], power[i], v)
			}
		}
		both := mat.NewDense(2*g.Len(), n, nil)
		fd.Jacobian(both, func(y, x []float64) {
			for i, v := range cascade(k.With(x)) {
				y[i], y[i+g.Len()] = real(cmplx.Log(v/want[i])), imag(cmplx.Log(v/want[i]))
			}
		}, theta, &fd.JacobianSettings{Formula: fd.Central, Step: 1e-5})
		for i := range h {
			for m := range n {
				re, im := both.At(i, m), both.At(i+g.Len(), m)
				if e := cmplx.Abs(jac[i*n+m] - complex(re, im)); e > 2e-6 {
					t.Fatalf("%v at %g Hz, parameter %d: derivative %v, want %v", k, g.At(i), m, jac[i*n+m], complex(re, im))
				}
				if math.Abs(slopes[i*n+m]-re) > 2e-6 {
					t.Fatalf("%v at %g Hz, parameter %d: derivative of the magnitude %v, want %v", k, g.At(i), m, slopes[i*n+m], re)
				}
			}
		}
	}
}
