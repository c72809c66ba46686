package radiation

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// struveH1 returns Struve's function H₁(x) for x ≥ 0: by
//
//	H₁(x) = (2x/π) ∫₀^{π/2} sin(x·cos θ)·sin²θ dθ
//
// (M. Abramowitz and I. Stegun, Handbook of Mathematical Functions, 1964, 12.1.7) up to
// 40, and beyond by the asymptotic series H₁ = Y₁ + (2/π)(1 + x⁻² − 3x⁻⁴ + 45x⁻⁶ − 1575x⁻⁸
// + 99225x⁻¹⁰ − 9823275x⁻¹²) (12.1.31), whose next term is below 1e-13 there.
func struveH1(x float64) float64 {
	if x > 40 {
		y := 1 / (x * x)
		return math.Y1(x) + 2/math.Pi*(1+y*(1-y*(3-y*(45-y*(1575-y*(99225-y*9823275))))))
	}
	return 2 * x / math.Pi * quad.Fixed(func(t float64) float64 {
		sin, cos := math.Sincos(t)
		return math.Sin(x*cos) * sin * sin
	}, 0, math.Pi/2, 40, nil, 0)
}
