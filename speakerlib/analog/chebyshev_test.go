package analog_test

import (
	"math"
	"math/big"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
)

// bigComplex is a complex number of 400 bits.
type bigComplex struct{ re, im *big.Float }

func long(v float64) *big.Float { return new(big.Float).SetPrec(400).SetFloat64(v) }

func (a bigComplex) mul(b bigComplex) bigComplex {
	re := long(0).Sub(long(0).Mul(a.re, b.re), long(0).Mul(a.im, b.im))
	return bigComplex{re, long(0).Add(long(0).Mul(a.re, b.im), long(0).Mul(a.im, b.re))}
}

func (a bigComplex) sub(b bigComplex) bigComplex {
	return bigComplex{long(0).Sub(a.re, b.re), long(0).Sub(a.im, b.im)}
}

func (a bigComplex) add(b bigComplex) bigComplex {
	return bigComplex{long(0).Add(a.re, b.re), long(0).Add(a.im, b.im)}
}

func (a bigComplex) over(d *big.Float) bigComplex {
	return bigComplex{long(0).Quo(a.re, d), long(0).Quo(a.im, d)}
}

func (a bigComplex) short() complex128 {
	re, _ := a.re.Float64()
	im, _ := a.im.Float64()
	return complex(re, im)
}

// Poles of Chebyshev filters are roots of 1 + ε²·Tₙ²(s/j), those of the inverse
// filter of 1 + Tₙ²(j/s)/(Stop² − 1), with Tₙ from its recurrence in 400 bits:
// |(Tₙ ∓ j/ε)/Tₙ′| is the distance to the root.
func TestChebyshevPolesInLongArithmetic(t *testing.T) {
	two := bigComplex{long(2), long(0)}
	distance := func(x bigComplex, n int, target float64) float64 {
		prev, cur := bigComplex{long(1), long(0)}, x
		dprev, dcur := bigComplex{long(0), long(0)}, bigComplex{long(1), long(0)}
		for range n - 1 {
			next := two.mul(x).mul(cur).sub(prev)
			dnext := two.mul(cur).add(two.mul(x).mul(dcur)).sub(dprev)
			prev, cur, dprev, dcur = cur, next, dcur, dnext
		}
		// |target| is known to double precision only, which moves the root by
		// less than what is tested.
		near := bigComplex{long(0), long(math.Copysign(target, imag(cur.short())))}
		return cmplx.Abs(cur.sub(near).short()) / cmplx.Abs(dcur.short())
	}
	for _, n := range []int{1, 2, 5, 12, 17, 24} {
		for _, r := range []float64{1.0005, 1.1, 3, 1e4} {
			one, err := analog.ChebyshevI{Order: n, Ripple: r}.Poles()
			if err != nil {
				t.Fatal(err)
			}
			two, err := analog.ChebyshevII{Order: n, Stop: r}.Poles()
			if err != nil {
				t.Fatal(err)
			}
			root, _ := long(0).Sqrt(long(0).Sub(long(0).Mul(long(r), long(r)), long(1))).Float64()
			for i := range one {
				// s/j = Im s − j·Re s.
				x := bigComplex{long(imag(one[i])), long(-real(one[i]))}
				if d := distance(x, n, 1/root); d > 1e-15*cmplx.Abs(one[i]) {
					t.Errorf("order %d, ripple %g: pole %v is %.2g from a root", n, r, one[i], d)
				}
				// j/s = (Im s + j·Re s)/|s|², and the relative error is the same.
				s := bigComplex{long(real(two[i])), long(imag(two[i]))}
				size := long(0).Add(long(0).Mul(s.re, s.re), long(0).Mul(s.im, s.im))
				y := bigComplex{s.im, s.re}.over(size)
				if d := distance(y, n, root); d > 2e-15*cmplx.Abs(y.short()) {
					t.Errorf("order %d, stop band %g: pole %v is %.2g from a root", n, r, two[i], d/cmplx.Abs(y.short()))
				}
			}
		}
	}
}
