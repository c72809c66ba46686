package digital

import (
	"math"
	"testing"
)

// The derivatives against central differences, and the area under the delay of a
// second-order all-pass: two samples times π over 0 … π (its phase falls by 2π).
func TestAllpassDelayDerivatives(t *testing.T) {
	const h = 1e-6
	for _, c := range [][3]float64{{0.3, 0.4, 0.9}, {2, 1, 0.5}, {0.01, 0.02, 0.99}} {
		_, dtheta, dr := allpassDelay(c[0], c[1], c[2])
		at := func(theta, r float64) float64 { v, _, _ := allpassDelay(c[0], theta, r); return v }
		for what, v := range map[string][2]float64{
			"θ": {dtheta, (at(c[1]+h, c[2]) - at(c[1]-h, c[2])) / (2 * h)},
			"r": {dr, (at(c[1], c[2]+h) - at(c[1], c[2]-h)) / (2 * h)},
		} {
			if math.Abs(v[0]-v[1]) > 1e-5*(1+math.Abs(v[1])) {
				t.Errorf("at %v: derivative by %s is %.9g, by differences %.9g", c, what, v[0], v[1])
			}
		}
		area := 0.0
		const n = 200000
		for i := range n {
			v, _, _ := allpassDelay(math.Pi*(float64(i)+0.5)/n, c[1], c[2])
			area += v * math.Pi / n
		}
		if math.Abs(area-2*math.Pi) > 1e-6 {
			t.Errorf("area under the delay of %v is %.9g, want 2π", c, area)
		}
	}
}
