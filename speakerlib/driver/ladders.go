package driver

import (
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// TwoLadders is an inductance in series with two others that have a resistance
// across each:
//
//	Z = jω·Le + jω·L2·R2/(R2 + jω·L2) + jω·L3·R3/(R3 + jω·L3)
//
// It is the common five-element approximation of a lossy coil (common practice,
// no single source). Two corners R/(2π·L) some octaves apart follow the slope of a
// real coil over two or three decades, where one [Ladder] follows it over one.
// Each element is ≥ 0, so that it is passive. The two branches may change places
// without a change of Z; by convention the corner of L2 and R2 is the lower one,
// which [TwoLadders.Sorted] makes true.
type TwoLadders struct {
	Le float64 // H, ≥ 0
	L2 float64 // H, > 0
	R2 float64 // Ω, > 0, across L2
	L3 float64 // H, > 0
	R3 float64 // Ω, > 0, across L3
}

// Validate reports elements that are not finite, or not those of a passive coil.
func (c TwoLadders) Validate() error {
	if err := notNegative("Le", "H", c.Le); err != nil {
		return err
	}
	for _, v := range []struct {
		name, unit string
		value      float64
	}{{"L2", "H", c.L2}, {"R2", "ohm", c.R2}, {"L3", "H", c.L3}, {"R3", "ohm", c.R3}} {
		if err := positive(v.name, v.unit, v.value); err != nil {
			return err
		}
	}
	return nil
}

// Sorted returns the same coil with the branch of the lower corner R/(2π·L) as L2
// and R2.
func (c TwoLadders) Sorted() TwoLadders {
	if c.R2*c.L3 > c.R3*c.L2 {
		c.L2, c.R2, c.L3, c.R3 = c.L3, c.R3, c.L2, c.R2
	}
	return c
}

// Rational implements [RationalCoil].
func (c TwoLadders) Rational() (num, den freq.Poly) {
	a, b := freq.NewPoly(c.R2, c.L2), freq.NewPoly(c.R3, c.L3)
	den = a.Mul(b)
	num = freq.NewPoly(0, c.Le).Mul(den)
	num = num.Add(freq.NewPoly(0, c.L2*c.R2).Mul(b))
	return num.Add(freq.NewPoly(0, c.L3*c.R3).Mul(a)), den
}

// ImpedanceTo implements [Coil]. It does not allocate if dst is given.
func (c TwoLadders) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i, w := range g.Omega() {
		a, _, _ := branch(w, c.L2, c.R2)
		b, _, _ := branch(w, c.L3, c.R3)
		dst[i] = complex(0, w*c.Le) + a + b
	}
	return dst
}

// Parameters implements [TunableCoil].
func (TwoLadders) Parameters() int { return 5 }

// Names implements [TunableCoil].
func (TwoLadders) Names() []string { return []string{"ln Le", "ln L2", "ln R2", "ln L3", "ln R3"} }

// ThetaTo implements [TunableCoil].
func (c TwoLadders) ThetaTo(dst []float64) []float64 {
	return logs(dst, c.Le, c.L2, c.R2, c.L3, c.R3)
}

// BoundsTo implements [TunableCoil].
func (TwoLadders) BoundsTo(lower, upper []float64) { unbounded(lower, upper, 5) }

// With implements [TunableCoil]. It does not sort.
func (TwoLadders) With(theta []float64) TunableCoil {
	checkTheta(theta, 5)
	return TwoLadders{math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2]), math.Exp(theta[3]), math.Exp(theta[4])}
}

// ImpedanceJacobianTo implements [TunableCoil].
func (c TwoLadders) ImpedanceJacobianTo(z, jac []complex128, stride int, theta []float64, g *freq.Grid) {
	checkJacobian(z, jac, stride, 5, theta, g)
	le, l2, r2, l3, r3 := math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2]), math.Exp(theta[3]), math.Exp(theta[4])
	for i, w := range g.Omega() {
		a, dl2, dr2 := branch(w, l2, r2)
		b, dl3, dr3 := branch(w, l3, r3)
		z[i] = complex(0, w*le) + a + b
		if jac != nil {
			row := jac[i*stride : i*stride+5]
			row[0], row[1], row[2], row[3], row[4] = complex(0, w*le), dl2, dr2, dl3, dr3
		}
	}
}
