package largesignal

import (
	"math"
	"testing"
)

// TestOrderConditions checks both tableaux and their mixture against the conditions for
// order four (E. Hairer, S. P. Nørsett, G. Wanner, "Solving Ordinary Differential
// Equations I", II.2 and II.15, for partitioned methods), and that the implicit half is
// stiffly accurate and L-stable: its stability function tends to 0.
func TestOrderConditions(t *testing.T) {
	near := func(what string, got, want float64) {
		if !(math.Abs(got-want) < 1e-13) {
			t.Errorf("%s is %.16g, want %.16g", what, got, want)
		}
	}
	both := [2]*[stages][stages]float64{&implicit, &explicit}
	for _, a := range both {
		for k := range stages {
			sum := 0.0
			for _, v := range a[k] {
				sum += v
			}
			near("row", sum, nodes[k])
		}
	}
	dot := func(f func(k int) float64) (sum float64) {
		for k := range stages {
			sum += weights[k] * f(k)
		}
		return sum
	}
	c := func(k int) float64 { return nodes[k] }
	near("order 1", dot(func(int) float64 { return 1 }), 1)
	near("order 2", dot(c), 1./2)
	near("order 3", dot(func(k int) float64 { return c(k) * c(k) }), 1./3)
	near("order 4", dot(func(k int) float64 { return c(k) * c(k) * c(k) }), 1./4)
	inner := func(a *[stages][stages]float64, f func(k int) float64) func(k int) float64 {
		return func(k int) (sum float64) {
			for j := range stages {
				sum += a[k][j] * f(j)
			}
			return sum
		}
	}
	for _, a := range both {
		ac := inner(a, c)
		near("order 3, inner", dot(ac), 1./6)
		near("order 4, c·a·c", dot(func(k int) float64 { return c(k) * ac(k) }), 1./8)
		near("order 4, a·c²", dot(inner(a, func(k int) float64 { return c(k) * c(k) })), 1./12)
		for _, b := range both {
			near("order 4, a·a·c", dot(inner(b, ac)), 1./24)
		}
	}
	near("explicit last node", nodes[stages-1], 1)
	// y' = −z·y for z → ∞, from the stages themselves
	const z = 1e9
	var f [stages]float64
	for k := range stages {
		y := 1.0
		for j := range k {
			y += implicit[k][j] * f[j]
		}
		f[k] = -z * y / (1 + z*implicit[k][k])
	}
	end := 1.0
	for k := range stages {
		end += weights[k] * f[k]
	}
	if !(math.Abs(end) < 1e-6) {
		t.Errorf("a fast decay is left with %.3g of itself in a step, want 0", end)
	}
}
