package diffraction

import (
	"math"
	"testing"
)

// A Gauss–Legendre rule of n points is exact for powers up to 2n−1 (its definition).
func TestRulesAreExact(t *testing.T) {
	r := newRules()
	for n := 2; n <= 300; n++ {
		g := r.of(n)
		for _, power := range []int{0, 1, 2, n, 2*n - 2, 2*n - 1} {
			sum, want := 0.0, 0.0
			for i, x := range g.x {
				sum += g.w[i] * math.Pow(x, float64(power))
			}
			if power%2 == 0 {
				want = 2 / float64(power+1)
			}
			if math.Abs(sum-want) > 1e-12 {
				t.Errorf("%d points: the integral of x^%d is %v, want %v", n, power, sum, want)
			}
		}
	}
}
