package driver

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Coil is the blocked impedance of a voice coil beyond Re, in ohm: what an
// impedance meter shows of a coil that is held, less its resistance at direct
// current. A passive coil has a real part ≥ 0 at every frequency.
type Coil interface {
	// ImpedanceTo writes the impedance on the grid into dst (nil allocates,
	// another length panics) and returns it.
	ImpedanceTo(dst []complex128, g *freq.Grid) []complex128
}

// RationalCoil is a coil whose impedance is a ratio num/den of polynomials in
// s = jω. The fast path of a driver in a box needs one.
type RationalCoil interface {
	Coil
	Rational() (num, den freq.Poly)
}

// TunableCoil is a coil that a fit may vary. Its parameters θ are the natural
// logarithms of its fields, in their order and in their units, so that steps are
// relative and values stay positive. A field of 0 has θ = −Inf, which no fit can
// start from. All coils of this package are tunable.
type TunableCoil interface {
	Coil
	// Parameters returns the number of parameters, and Names their names in the
	// order of θ.
	Parameters() int
	Names() []string
	// ThetaTo writes the coil's own parameters into dst (nil allocates, another
	// length panics) and returns it.
	ThetaTo(dst []float64) []float64
	// BoundsTo writes the range of θ in which the coil is passive: −Inf … +Inf
	// for an element, up to 0 for an exponent. It panics for other lengths.
	BoundsTo(lower, upper []float64)
	// With returns the coil of the same kind with parameters θ.
	With(theta []float64) TunableCoil
	// ImpedanceJacobianTo writes the impedance of the coil of the same kind with
	// parameters θ into z and, unless jac is nil, ∂Z(fᵢ)/∂θₖ into
	// jac[i·stride+k]. The coil's own parameters play no part. It does not
	// allocate.
	ImpedanceJacobianTo(z, jac []complex128, stride int, theta []float64, g *freq.Grid)
}

// NoCoil has no impedance beyond Re.
type NoCoil struct{}

// Rational implements [RationalCoil].
func (NoCoil) Rational() (num, den freq.Poly) { return freq.Poly{}, freq.NewPoly(1) }

// ImpedanceTo implements [Coil]. It does not allocate if dst is given.
func (NoCoil) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	clear(dst)
	return dst
}

// Inductor is a constant inductance, jω·Le. It is right near the frequency where
// Le was measured: that of a real coil falls with frequency, because currents in
// the iron around it take over.
type Inductor struct {
	Le float64 // H, ≥ 0
}

// Validate reports an inductance that is negative or not finite.
func (c Inductor) Validate() error { return notNegative("Le", "H", c.Le) }

// Rational implements [RationalCoil].
func (c Inductor) Rational() (num, den freq.Poly) { return freq.NewPoly(0, c.Le), freq.NewPoly(1) }

// ImpedanceTo implements [Coil]. It does not allocate if dst is given.
func (c Inductor) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i, w := range g.Omega() {
		dst[i] = complex(0, w*c.Le)
	}
	return dst
}

// Ladder is an inductance in series with another that has a resistance across
// it, for the losses of eddy currents:
//
//	Z = jω·Le + jω·L2·R2/(R2 + jω·L2)
//
// It is the common three-element approximation of a lossy coil (common practice,
// no single source). At low frequencies the inductance is Le + L2; far above
// R2/(2π·L2) it is Le, and the real part has grown to R2.
type Ladder struct {
	Le float64 // H, ≥ 0
	L2 float64 // H, > 0
	R2 float64 // Ω, > 0, across L2
}

// Validate reports elements that are not finite, or not those of a passive coil.
func (c Ladder) Validate() error {
	if err := notNegative("Le", "H", c.Le); err != nil {
		return err
	}
	if err := positive("L2", "H", c.L2); err != nil {
		return err
	}
	return positive("R2", "ohm", c.R2)
}

// Rational implements [RationalCoil]:
//
//	Z(s) = (s·R2·(Le+L2) + s²·Le·L2)/(R2 + s·L2)
func (c Ladder) Rational() (num, den freq.Poly) {
	return freq.NewPoly(0, c.R2*(c.Le+c.L2), c.Le*c.L2), freq.NewPoly(c.R2, c.L2)
}

// ImpedanceTo implements [Coil]. It does not allocate if dst is given.
func (c Ladder) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i, w := range g.Omega() {
		// x/(1+x²)·(x + j) with x = ωL2/R2 is jx/(1+jx).
		x := w * c.L2 / c.R2
		r := c.R2 * x / (1 + x*x)
		dst[i] = complex(r*x, w*c.Le+r)
	}
	return dst
}

func positive(name, unit string, v float64) error {
	if !(v > 0) || math.IsInf(v, 0) {
		return fmt.Errorf("driver: %s is %g%s, want a finite value > 0", name, v, space(unit))
	}
	return nil
}

func notNegative(name, unit string, v float64) error {
	if !(v >= 0) || math.IsInf(v, 0) {
		return fmt.Errorf("driver: %s is %g%s, want a finite value ≥ 0", name, v, space(unit))
	}
	return nil
}

func space(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}
