package driver

import (
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// logs writes the logarithms of v into dst.
func logs(dst []float64, v ...float64) []float64 {
	dst = freq.Dst(dst, len(v))
	for i, x := range v {
		dst[i] = math.Log(x)
	}
	return dst
}

// unbounded writes bounds that do not bind.
func unbounded(lower, upper []float64, n int) {
	if len(lower) != n || len(upper) != n {
		panic("driver: bounds have not the length of the parameters")
	}
	for i := range lower {
		lower[i], upper[i] = math.Inf(-1), math.Inf(1)
	}
}

// checkJacobian panics for slices that do not fit; row i of the Jacobian starts
// at i·stride.
func checkJacobian(z, jac []complex128, stride, n int, theta []float64, g *freq.Grid) {
	checkTheta(theta, n)
	if len(z) != g.Len() {
		panic("driver: the response has not the length of the grid")
	}
	if jac != nil && (stride < n || len(jac) < (g.Len()-1)*stride+n) {
		panic("driver: the Jacobian does not hold a row for each frequency")
	}
}

func checkTheta(theta []float64, n int) {
	if len(theta) != n {
		panic("driver: theta has not the length that the model wants")
	}
}

// branch returns jωL‖R and its derivatives by ln L and ln R.
func branch(w, l, r float64) (z, dl, dr complex128) {
	x := w * l / r
	d := 1 / (1 + x*x)
	z = complex(r*x*x*d, r*x*d)
	return z, z * complex(d, -x*d), z * complex(x*x*d, x*d)
}

// Parameters implements [TunableCoil].
func (NoCoil) Parameters() int { return 0 }

// Names implements [TunableCoil].
func (NoCoil) Names() []string { return nil }

// ThetaTo implements [TunableCoil].
func (NoCoil) ThetaTo(dst []float64) []float64 { return freq.Dst(dst, 0) }

// BoundsTo implements [TunableCoil].
func (NoCoil) BoundsTo(lower, upper []float64) { unbounded(lower, upper, 0) }

// With implements [TunableCoil].
func (NoCoil) With(theta []float64) TunableCoil {
	checkTheta(theta, 0)
	return NoCoil{}
}

// ImpedanceJacobianTo implements [TunableCoil].
func (NoCoil) ImpedanceJacobianTo(z, jac []complex128, stride int, theta []float64, g *freq.Grid) {
	checkJacobian(z, jac, stride, 0, theta, g)
	clear(z)
}

// Parameters implements [TunableCoil].
func (Inductor) Parameters() int { return 1 }

// Names implements [TunableCoil].
func (Inductor) Names() []string { return []string{"ln Le"} }

// ThetaTo implements [TunableCoil].
func (c Inductor) ThetaTo(dst []float64) []float64 { return logs(dst, c.Le) }

// BoundsTo implements [TunableCoil].
func (Inductor) BoundsTo(lower, upper []float64) { unbounded(lower, upper, 1) }

// With implements [TunableCoil].
func (Inductor) With(theta []float64) TunableCoil {
	checkTheta(theta, 1)
	return Inductor{math.Exp(theta[0])}
}

// ImpedanceJacobianTo implements [TunableCoil].
func (Inductor) ImpedanceJacobianTo(z, jac []complex128, stride int, theta []float64, g *freq.Grid) {
	checkJacobian(z, jac, stride, 1, theta, g)
	le := math.Exp(theta[0])
	for i, w := range g.Omega() {
		z[i] = complex(0, w*le)
		if jac != nil {
			jac[i*stride] = z[i]
		}
	}
}

// Parameters implements [TunableCoil].
func (Ladder) Parameters() int { return 3 }

// Names implements [TunableCoil].
func (Ladder) Names() []string { return []string{"ln Le", "ln L2", "ln R2"} }

// ThetaTo implements [TunableCoil].
func (c Ladder) ThetaTo(dst []float64) []float64 { return logs(dst, c.Le, c.L2, c.R2) }

// BoundsTo implements [TunableCoil].
func (Ladder) BoundsTo(lower, upper []float64) { unbounded(lower, upper, 3) }

// With implements [TunableCoil].
func (Ladder) With(theta []float64) TunableCoil {
	checkTheta(theta, 3)
	return Ladder{math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2])}
}

// ImpedanceJacobianTo implements [TunableCoil].
func (Ladder) ImpedanceJacobianTo(z, jac []complex128, stride int, theta []float64, g *freq.Grid) {
	checkJacobian(z, jac, stride, 3, theta, g)
	le, l2, r2 := math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2])
	for i, w := range g.Omega() {
		b, dl, dr := branch(w, l2, r2)
		z[i] = complex(real(b), w*le+imag(b))
		if jac != nil {
			row := jac[i*stride : i*stride+3]
			row[0], row[1], row[2] = complex(0, w*le), dl, dr
		}
	}
}
