package gauss_test

import (
	"math"
	"slices"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/gauss"
)

// A rule of n points is exact for powers up to 2n−1 (its definition), 26 points included.
func TestRulesAreExact(t *testing.T) {
	for n := 1; n <= 300; n++ {
		x, w := make([]float64, n), make([]float64, n)
		gauss.Legendre(x, w, -1, 1)
		if !slices.IsSorted(x) {
			t.Errorf("%d points: nodes do not ascend", n)
		}
		for _, power := range []int{0, 1, 2, n, 2*n - 2, 2*n - 1} {
			if power < 0 || power > 2*n-1 {
				continue
			}
			sum, want := 0.0, 0.0
			for i, v := range x {
				sum += w[i] * math.Pow(v, float64(power))
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

func TestInterval(t *testing.T) {
	x, w := make([]float64, 26), make([]float64, 26)
	gauss.Legendre(x, w, 2, 5)
	sum := 0.0
	for i, v := range x {
		sum += w[i] * v * v
	}
	if math.Abs(sum-39) > 1e-11 { // (5³ − 2³)/3
		t.Errorf("the integral of x² from 2 to 5 is %v, want 39", sum)
	}
}
