package analog

import (
	"cmp"
	"math"
	"math/big"
	"math/cmplx"
	"slices"
)

// aberth improves approximate roots of a polynomial, all at once, by the
// iteration of Aberth and Ehrlich; newton returns P/P′.
func aberth(p []complex128, newton func(z complex128) complex128) {
	for range 200 {
		var worst float64
		for i, z := range p {
			step := newton(z)
			var repel complex128
			for j, q := range p {
				if j != i {
					repel += 1 / (z - q)
				}
			}
			d := step / (1 - step*repel)
			p[i] -= d
			worst = math.Max(worst, cmplx.Abs(d)/cmplx.Abs(p[i]))
		}
		if worst < 1e-15 {
			break
		}
	}
}

// byHeight sorts by |Im|, the largest first and a real one last.
func byHeight(p []complex128) {
	slices.SortFunc(p, func(a, b complex128) int { return cmp.Compare(math.Abs(imag(b)), math.Abs(imag(a))) })
}

// exact evaluates a polynomial with integer coefficients, those of ascending
// powers, in arithmetic of 256 bits.
type exact struct{ c []*big.Float }

const exactBits = 256

// newExact returns θₙ.
func newExact(n int) exact {
	// c[k] = (2n−k)!/(2ⁿ⁻ᵏ·k!·(n−k)!), from c[n] = 1 downward:
	// c[k−1]/c[k] = (2n−k+1)·k/(2·(n−k+1)).
	c := make([]*big.Float, n+1)
	v := big.NewInt(1)
	for k := n; ; k-- {
		c[k] = new(big.Float).SetPrec(exactBits).SetInt(v)
		if k == 0 {
			return exact{c}
		}
		v.Mul(v, big.NewInt(int64(2*n-k+1)*int64(k)))
		v.Quo(v, big.NewInt(int64(2*(n-k+1))))
	}
}

// polish improves a root by Newton's method.
func (e exact) polish(z complex128) complex128 {
	for range 6 {
		f, d := e.at(z)
		step := f / d
		z -= step
		if cmplx.Abs(step) < 1e-17*cmplx.Abs(z) {
			break
		}
	}
	return z
}

// at returns the polynomial and its derivative at z, by Horner's scheme.
func (e exact) at(z complex128) (f, df complex128) {
	num := func() *big.Float { return new(big.Float).SetPrec(exactBits) }
	x, y := num().SetFloat64(real(z)), num().SetFloat64(imag(z))
	times := func(re, im *big.Float) (*big.Float, *big.Float) {
		a := num().Sub(num().Mul(re, x), num().Mul(im, y))
		return a, num().Add(num().Mul(re, y), num().Mul(im, x))
	}
	re, im, dre, dim := num(), num(), num(), num()
	for k := len(e.c) - 1; k >= 0; k-- {
		dre, dim = times(dre, dim)
		dre.Add(dre, re)
		dim.Add(dim, im)
		re, im = times(re, im)
		re.Add(re, e.c[k])
	}
	number := func(re, im *big.Float) complex128 {
		a, _ := re.Float64()
		b, _ := im.Float64()
		return complex(a, b)
	}
	return number(re, im), number(dre, dim)
}

// halfPower returns the ω at which Π|jω−pₖ|² is twice Π|pₖ|², by bisection on a
// function that grows with ω.
func halfPower(p []complex128) float64 {
	excess := func(w float64) float64 {
		sum := -math.Ln2
		for _, z := range p {
			sum += 2 * math.Log(cmplx.Abs(complex(0, w)-z)/cmplx.Abs(z))
		}
		return sum
	}
	lo, hi := 0.0, 1.0
	for excess(hi) < 0 {
		lo, hi = hi, 2*hi
	}
	for range 200 {
		mid := (lo + hi) / 2
		if mid <= lo || mid >= hi {
			break
		}
		if excess(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
