package freq

import (
	"math"
	"math/cmplx"
)

// GroupDelay returns −dφ/dω in seconds of a transfer on a grid, as
// −Im(H′/H) with H′ = dH/dω by a fourth-order central difference of relative
// step 1e-4: within about 1e-9 of the time 1/f where the response is smooth on
// the scale of the step, and independent of the spacing of the grid. The
// transfer must be defined off the grid; of a measured [Response] take its own
// GroupDelay. It panics if [CheckGrid] refuses transfer or grid, and where the
// response is 0 or not finite, because there is no phase.
func GroupDelay(t Transfer, g *Grid, label string) Curve {
	if _, ok := t.(Response); ok {
		panic("freq: GroupDelay of a measured response: call its own method")
	}
	if CheckGrid(t, g) != nil {
		panic("freq: GroupDelay on a grid where the transfer is not defined: ask CheckGrid")
	}
	const step = 1e-4
	shifted := func(k float64) []complex128 {
		hz := make([]float64, g.Len())
		for i := range hz {
			hz[i] = g.hz[i] * (1 + k*step)
		}
		return t.ResponseTo(nil, newGrid(hz, 0))
	}
	m2, m1, p1, p2 := shifted(-2), shifted(-1), shifted(1), shifted(2)
	h := t.ResponseTo(nil, g)
	c := Curve{grid: g, values: make([]float64, g.Len()), label: label, unit: "s"}
	for i := range h {
		d := (m2[i] - 8*m1[i] + 8*p1[i] - p2[i]) / complex(12*step*g.omega[i], 0)
		c.values[i] = -imag(d*cmplx.Conj(h[i])) / (real(h[i])*real(h[i]) + imag(h[i])*imag(h[i]))
		if math.IsNaN(c.values[i]) || math.IsInf(c.values[i], 0) {
			panic("freq: GroupDelay where the response is 0 or not finite")
		}
	}
	return c
}
