// Package gauss gives the rules of Gauss and Legendre for integrals over an interval.
package gauss

import (
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// Legendre writes the nodes and weights of the rule of len(x) points from lo to hi, nodes
// ascending: exact for polynomials up to the power 2·len(x) − 1. It panics if the lengths
// differ.
//
// The nodes are gonum's; the weights are computed from them,
//
//	w = 2(1−x²)/(n·Pₙ₋₁(x))²
//
// on −1 … 1 (M. Abramowitz and I. Stegun, "Handbook of Mathematical Functions", 25.4.29, with
// 22.8.5), because those of gonum 0.17 are 1 % short for 26 points.
func Legendre(x, w []float64, lo, hi float64) {
	if len(x) != len(w) {
		panic("gauss: nodes and weights differ in number")
	}
	n := len(x)
	if n == 0 {
		return
	}
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	if x[0] > x[n-1] {
		slices.Reverse(x)
	}
	for i, v := range x {
		w[i] = weight(n, v) * (hi - lo) / 2
		x[i] = (lo + hi + (hi-lo)*v) / 2
	}
}

// weight returns the weight of a node on −1 … 1.
func weight(n int, x float64) float64 {
	before, p := 0.0, 1.0 // Pₖ₋₁ and Pₖ
	for k := range n - 1 {
		before, p = p, (float64(2*k+1)*x*p-float64(k)*before)/float64(k+1)
	}
	return 2 * (1 - x*x) / (float64(n*n) * p * p)
}
