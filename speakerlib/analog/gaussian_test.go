package analog_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
)

// With y = −γ·s² the poles are roots of Σ yᵏ/k!, k = 0 … n (Dishal 1959), evaluated
// with 400 bits: |Σ/Σ′| is the distance to the root. γ is where the sum is 2, from the
// same long arithmetic.
func TestGaussianPolesInLongArithmetic(t *testing.T) {
	sum := func(n int, y bigComplex) bigComplex {
		s := bigComplex{long(1), long(0)}
		for k := n; k >= 1; k-- { // 1 + y/1·(1 + y/2·(…))
			s = bigComplex{long(1), long(0)}.add(y.mul(s).over(long(float64(k))))
		}
		return s
	}
	for _, n := range []int{1, 2, 3, 7, 12, 17, 24} {
		gamma := math.Ln2
		for range 20 {
			y := bigComplex{long(gamma), long(0)}
			gamma -= real(sum(n, y).sub(bigComplex{long(2), long(0)}).short()) / real(sum(n-1, y).short())
		}
		poles, err := analog.Gaussian(n).Poles()
		if err != nil {
			t.Fatal(err)
		}
		if len(poles) != n {
			t.Errorf("order %d has %d poles", n, len(poles))
		}
		for _, p := range poles {
			s := bigComplex{long(real(p)), long(imag(p))}
			y := s.mul(s).mul(bigComplex{long(-gamma), long(0)})
			// The root of y moves by twice the relative error of s.
			d := cmplx.Abs(sum(n, y).short()) / cmplx.Abs(sum(n-1, y).short())
			if d > 4e-15*cmplx.Abs(y.short()) {
				t.Errorf("order %d: pole %v is %.2g from a root, relatively", n, p, d/cmplx.Abs(y.short()))
			}
		}
	}
}
