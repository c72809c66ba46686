package analog

import (
	"fmt"
	"math"
	"math/big"
	"math/cmplx"
)

// Gaussian is the prototype of an order n with a magnitude that follows the bell
// curve exp(−ω²·ln 2/2) as far as the n-th term of its series allows:
//
//	|H(jω)|² = 1/Σ (γ·ω²)ᵏ/k!,  k = 0 … n
//
// with γ near ln 2 chosen so that the magnitude is −3.01 dB at its corner. Steps
// have no overshoot to speak of, and the group delay falls smoothly. It
// approximates the bell curve only down to some 3·n dB; beyond it falls like any
// filter of its order. M. Dishal, "Gaussian-Response Filter Design", Electrical
// Communication 36 (1959); from memory.
type Gaussian int

// String names it.
func (n Gaussian) String() string { return fmt.Sprintf("Gaussian order %d", int(n)) }

// Poles implements [Prototype].
func (n Gaussian) Poles() ([]complex128, error) {
	if err := checkOrder("Gaussian", int(n)); err != nil {
		return nil, err
	}
	// n!·Σ yᵏ/k! with y = −γ·s².
	c := make([]*big.Float, n+1)
	v := big.NewInt(1)
	for k := int(n); k >= 0; k-- {
		c[k] = new(big.Float).SetPrec(exactBits).SetInt(v)
		v.Mul(v, big.NewInt(int64(max(k, 1))))
	}
	series := exact{c}
	roots := make([]complex128, n)
	for k := range roots { // a start on a circle of about their size, off the axes
		roots[k] = cmplx.Rect(0.6*float64(n)+0.4, 2*math.Pi*(float64(k)+0.5)/float64(n)+0.1)
	}
	aberth(roots, func(y complex128) complex128 {
		f, d := series.at(y)
		return f / d
	})
	byHeight(roots)
	var poles []complex128
	for _, y := range roots {
		if imag(y) > 1e-3 {
			s := -cmplx.Sqrt(-series.polish(y))
			poles = append(poles, both(above(s))...)
		}
	}
	if n%2 == 1 {
		y := real(series.polish(complex(real(roots[n-1]), 0)))
		poles = append(poles, complex(-math.Sqrt(-y), 0))
	}
	scale := 1 / halfPower(poles)
	for i := range poles {
		poles[i] *= complex(scale, 0)
	}
	return poles, nil
}
