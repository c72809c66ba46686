package driver

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// SemiInductance is a coil around solid iron, whose eddy currents make the
// magnitude grow with a power of frequency and the phase stand still:
//
//	Z = K·(jω)^n = K·ω^n·(cos(nπ/2) + j·sin(nπ/2))
//
// (W. M. Leach, "Loudspeaker Voice-Coil Inductance Losses: Circuit Models,
// Parameter Estimation, and Effect on Frequency Response", J. Audio Eng. Soc. 50,
// 2002; stated from memory, equation number not checked). n = 1 is an inductance
// of K henry, n = 0 a resistance of K ohm, n = ½ what the skin effect in a plane
// iron surface gives; coils are found near 0.6 to 0.8 (from memory). It is passive
// for 0 ≤ n ≤ 1. As K is the magnitude at 1 rad/s, far below the band, its error
// in a fit comes mostly from that of n; compare magnitudes within the band.
//
// It is no ratio of polynomials: a driver with it in a box is solved point by
// point.
type SemiInductance struct {
	K float64 // Ω·sⁿ, > 0
	N float64 // exponent, > 0 and ≤ 1
}

// Validate reports a K that is not finite and positive, and an exponent beyond
// that of a passive coil.
func (c SemiInductance) Validate() error {
	if err := positive("K", "ohm·s^n", c.K); err != nil {
		return err
	}
	if !(c.N > 0 && c.N <= 1) {
		return fmt.Errorf("driver: exponent of a semi-inductance is %g, want > 0 and at most 1", c.N)
	}
	return nil
}

// ImpedanceTo implements [Coil]. It does not allocate if dst is given.
func (c SemiInductance) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	re, im := c.direction()
	for i, w := range g.Omega() {
		m := math.Exp(c.N * math.Log(w))
		dst[i] = complex(m*re, m*im)
	}
	return dst
}

// direction returns K·jⁿ, with a real part that is exactly 0 for n = 1.
func (c SemiInductance) direction() (re, im float64) {
	if c.N == 1 {
		return 0, c.K
	}
	im, re = math.Sincos(c.N * math.Pi / 2)
	return c.K * re, c.K * im
}

// Parameters implements [TunableCoil].
func (SemiInductance) Parameters() int { return 2 }

// Names implements [TunableCoil].
func (SemiInductance) Names() []string { return []string{"ln K", "ln N"} }

// ThetaTo implements [TunableCoil].
func (c SemiInductance) ThetaTo(dst []float64) []float64 { return logs(dst, c.K, c.N) }

// BoundsTo implements [TunableCoil].
func (SemiInductance) BoundsTo(lower, upper []float64) {
	unbounded(lower, upper, 2)
	upper[1] = 0
}

// With implements [TunableCoil].
func (SemiInductance) With(theta []float64) TunableCoil {
	checkTheta(theta, 2)
	return SemiInductance{math.Exp(theta[0]), math.Exp(theta[1])}
}

// ImpedanceJacobianTo implements [TunableCoil].
func (SemiInductance) ImpedanceJacobianTo(z, jac []complex128, stride int, theta []float64, g *freq.Grid) {
	checkJacobian(z, jac, stride, 2, theta, g)
	c := SemiInductance{math.Exp(theta[0]), math.Exp(theta[1])}
	re, im := c.direction()
	for i, w := range g.Omega() {
		ln := math.Log(w)
		m := math.Exp(c.N * ln)
		z[i] = complex(m*re, m*im)
		if jac != nil {
			jac[i*stride] = z[i]
			jac[i*stride+1] = z[i] * complex(c.N*ln, c.N*math.Pi/2)
		}
	}
}

// ShuntedSemiInductance is a free inductance in series with what is bound to the
// iron: an inductance, a semi-inductance of exponent ½ and a resistance, all in
// parallel:
//
//	Z = jω·Leb + 1/(1/(jω·Le) + 1/(Ke·√(jω)) + 1/Rss)
//
// (K. Thorborg and C. Futtrup, "Electrodynamic Transducer Model Incorporating
// Semi-Inductance and Means for Shorting AC Magnetization", J. Audio Eng. Soc. 59,
// 2011; circuit and names of the elements from memory, not checked against the
// paper). At low frequencies the inductance is Leb + Le, at high ones Leb, and the
// real part ends at Rss, which stands for short-circuiting rings. Between, where
// (Ke/Le)² ≪ ω ≪ (Rss/Ke)², it is the semi-inductance. Each element is ≥ 0, so
// that it is passive. What the paper says beyond the blocked coil (a resistance of
// the moving coil's own losses) is not here.
//
// It is no ratio of polynomials: a driver with it in a box is solved point by
// point.
type ShuntedSemiInductance struct {
	Leb float64 // free inductance, H, ≥ 0
	Le  float64 // bound inductance, H, > 0
	Ke  float64 // semi-inductance, Ω·s^½, > 0
	Rss float64 // shunt resistance, Ω, > 0
}

// Validate reports elements that are not finite, or not those of a passive coil.
func (c ShuntedSemiInductance) Validate() error {
	if err := notNegative("Leb", "H", c.Leb); err != nil {
		return err
	}
	if err := positive("Le", "H", c.Le); err != nil {
		return err
	}
	if err := positive("Ke", "ohm·s^½", c.Ke); err != nil {
		return err
	}
	return positive("Rss", "ohm", c.Rss)
}

// bound returns the parallel of the three bound elements, and the admittances of
// the inductance and the semi-inductance.
func (c ShuntedSemiInductance) bound(w float64) (z, yl, yk complex128) {
	yl = complex(0, -1/(w*c.Le))
	k := 1 / (c.Ke * math.Sqrt(2*w)) // 1/√j = (1−j)/√2
	yk = complex(k, -k)
	re, im := 1/c.Rss+k, imag(yl)-k
	d := 1 / (re*re + im*im)
	return complex(re*d, -im*d), yl, yk
}

// ImpedanceTo implements [Coil]. It does not allocate if dst is given.
func (c ShuntedSemiInductance) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i, w := range g.Omega() {
		z, _, _ := c.bound(w)
		dst[i] = z + complex(0, w*c.Leb)
	}
	return dst
}

// Parameters implements [TunableCoil].
func (ShuntedSemiInductance) Parameters() int { return 4 }

// Names implements [TunableCoil].
func (ShuntedSemiInductance) Names() []string {
	return []string{"ln Leb", "ln Le", "ln Ke", "ln Rss"}
}

// ThetaTo implements [TunableCoil].
func (c ShuntedSemiInductance) ThetaTo(dst []float64) []float64 {
	return logs(dst, c.Leb, c.Le, c.Ke, c.Rss)
}

// BoundsTo implements [TunableCoil].
func (ShuntedSemiInductance) BoundsTo(lower, upper []float64) { unbounded(lower, upper, 4) }

// With implements [TunableCoil].
func (ShuntedSemiInductance) With(theta []float64) TunableCoil {
	checkTheta(theta, 4)
	return ShuntedSemiInductance{math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2]), math.Exp(theta[3])}
}

// ImpedanceJacobianTo implements [TunableCoil].
func (ShuntedSemiInductance) ImpedanceJacobianTo(z, jac []complex128, stride int, theta []float64, g *freq.Grid) {
	checkJacobian(z, jac, stride, 4, theta, g)
	c := ShuntedSemiInductance{math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2]), math.Exp(theta[3])}
	for i, w := range g.Omega() {
		b, yl, yk := c.bound(w)
		free := complex(0, w*c.Leb)
		z[i] = b + free
		if jac != nil {
			row := jac[i*stride : i*stride+4]
			b2 := b * b // ∂(1/Y)/∂ln x of an element of admittance y is y/Y²
			row[0], row[1], row[2], row[3] = free, b2*yl, b2*yk, b2*complex(1/c.Rss, 0)
		}
	}
}
