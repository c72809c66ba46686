package freq

import (
	"fmt"
	"math"
	"math/cmplx"
)

// GroupDelay is [CheckedGroupDelay] where a program knows that there is one, as of the
// models of this library on their grids; otherwise it panics.
func GroupDelay(t Transfer, g *Grid, label string) Curve {
	c, err := CheckedGroupDelay(t, g, label)
	if err != nil {
		panic("freq: GroupDelay of a transfer that has none on this grid: CheckedGroupDelay says why")
	}
	return c
}

// CheckedGroupDelay returns −dφ/dω in seconds of a transfer on a grid, as
// −Im(H′/H) with H′ = dH/dω by a fourth-order central difference of relative
// step 1e-4, or less where the phase would turn by more than 0.05 rad in a step: within
// about 1e-9 of the time 1/f, and 1e-6 of the delay, where the response is smooth on
// the scale of the step, and independent of the spacing of the grid. Points where
// 2πfτ is beyond 5·10⁵, a delay of seconds, lose that.
//
// It is an error if [CheckGrid] refuses transfer or grid, if the transfer is known
// on its own points only (of a measured [Response] take [Response.GroupDelay]), and
// where the response is 0 or not finite, because there is no phase.
func CheckedGroupDelay(t Transfer, g *Grid, label string) (Curve, error) {
	if err := CheckGrid(t, g); err != nil {
		return Curve{}, err
	}
	const largest, least, probe, turn = 1e-4, 1e-7, 1e-7, 0.05
	step := make([]float64, g.Len())
	for i := range step {
		step[i] = largest
	}
	moved := func(k float64) *Grid {
		hz := make([]float64, g.Len())
		for i := range hz {
			hz[i] = g.hz[i] * (1 + k*step[i])
		}
		return newGrid(hz, 0)
	}
	if below := moved(-2); CheckGrid(t, below) != nil {
		return Curve{}, fmt.Errorf("freq: group delay of %q, which is known on the points of its own grid only: want a response, whose own GroupDelay takes differences of its points", label)
	}
	h := t.ResponseTo(nil, g)
	for i := range step {
		step[i] = probe
	}
	for i, v := range t.ResponseTo(nil, moved(1)) {
		x := math.Abs(cmplx.Phase(v*cmplx.Conj(h[i]))) / probe
		step[i] = min(largest, max(least, turn/x))
	}
	m2, m1, p1, p2 := t.ResponseTo(nil, moved(-2)), t.ResponseTo(nil, moved(-1)), t.ResponseTo(nil, moved(1)), t.ResponseTo(nil, moved(2))
	c := Curve{grid: g, values: make([]float64, g.Len()), label: label, unit: "s"}
	for i := range h {
		d := (m2[i] - 8*m1[i] + 8*p1[i] - p2[i]) / complex(12*step[i]*g.omega[i], 0)
		c.values[i] = -imag(d*cmplx.Conj(h[i])) / (real(h[i])*real(h[i]) + imag(h[i])*imag(h[i]))
		if math.IsNaN(c.values[i]) || math.IsInf(c.values[i], 0) {
			return Curve{}, fmt.Errorf("freq: group delay of %q at %g Hz, where the response is %v, want one that has a phase", label, g.At(i), h[i])
		}
	}
	return c, nil
}

// GroupDelay returns −dφ/dω in seconds, from the unwrapped phase by
// three-point differences on the uneven grid (second order inside, the slope of
// the same parabola at the ends). For a [Transfer] that can be evaluated
// anywhere, [CheckedGroupDelay] is exact to rounding.
//
// A phase that turns by a half turn or more from one point to the next cannot be
// told from one that turns by less, the other way: of a delay τ the points must be
// closer than 1/(2τ). Steps beyond 150° are refused, with where they are: a delay that
// outgrows a grid of more than two points an octave comes by there. On a grid of equal
// spacing it need not: a delay of 1/spacing and more is taken for a shorter one.
func (r Response) GroupDelay() (Curve, error) {
	if r.Len() < 3 {
		return Curve{}, fmt.Errorf("freq: group delay of %q needs 3 points, had %d", r.label, r.Len())
	}
	phase, w := r.Phase().values, r.grid.omega
	const most = 150 * math.Pi / 180
	for i := 1; i < len(phase); i++ {
		if step := math.Abs(phase[i] - phase[i-1]); step > most {
			return Curve{}, fmt.Errorf("freq: group delay of %q: the phase turns by %.0f° from %g to %g Hz, want at most 150°: a finer grid, or the flight taken out", r.label, step*180/math.Pi, r.grid.At(i-1), r.grid.At(i))
		}
	}
	c := r.curve("s")
	n := len(phase)
	for i := range phase {
		k := min(max(i, 1), n-2)
		h0, h1 := w[k]-w[k-1], w[k+1]-w[k]
		d0, d1 := (phase[k]-phase[k-1])/h0, (phase[k+1]-phase[k])/h1
		switch {
		case i == 0:
			c.values[i] = -(d0 - (d1-d0)*h0/(h0+h1))
		case i == n-1:
			c.values[i] = -(d1 + (d1-d0)*h1/(h0+h1))
		default:
			c.values[i] = -(d0*h1 + d1*h0) / (h0 + h1)
		}
	}
	return NewCurve(c.grid, c.values, c.label, c.unit, c.basis)
}
