package lsq

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Problem is what is to be minimised.
type Problem struct {
	// Residuals is the number of residuals.
	Residuals int
	// Func writes the residuals at x into r, and ∂rᵢ/∂xⱼ into row i, column j of
	// jac. Both hold what an earlier call left there. x must not be changed or
	// kept. A residual that is NaN or infinite says that x is out of the range
	// of the model: the step is then rejected and a shorter one tried.
	Func func(r []float64, jac *mat.Dense, x []float64)
	// Lower and Upper bound the parameters. Nil means no bound, and so does an
	// infinite value. Equal bounds hold a parameter fixed.
	Lower, Upper []float64
}

func (p Problem) check(x0 []float64) error {
	n := len(x0)
	switch {
	case p.Func == nil:
		return fmt.Errorf("lsq: problem has no Func")
	case p.Residuals < 1:
		return fmt.Errorf("lsq: problem has %d residuals, want at least 1", p.Residuals)
	case n == 0:
		return fmt.Errorf("lsq: start has no parameter, want at least 1")
	case p.Lower != nil && len(p.Lower) != n:
		return fmt.Errorf("lsq: %d lower bounds for %d parameters, want as many or none", len(p.Lower), n)
	case p.Upper != nil && len(p.Upper) != n:
		return fmt.Errorf("lsq: %d upper bounds for %d parameters, want as many or none", len(p.Upper), n)
	}
	for j, v := range x0 {
		lo, hi := p.bounds(j)
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("lsq: start of parameter %d is %g, want a finite value", j, v)
		}
		if !(lo <= hi) || math.IsInf(lo, 1) || math.IsInf(hi, -1) {
			return fmt.Errorf("lsq: bounds of parameter %d are %g … %g, want lower ≤ upper", j, lo, hi)
		}
		if v < lo || v > hi {
			return fmt.Errorf("lsq: start of parameter %d is %g, want within its bounds %g … %g", j, v, lo, hi)
		}
	}
	return nil
}

func (p Problem) bounds(j int) (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	if p.Lower != nil {
		lo = p.Lower[j]
	}
	if p.Upper != nil {
		hi = p.Upper[j]
	}
	return lo, hi
}

// Settings say when to stop. Zero values mean the defaults.
type Settings struct {
	// Gradient: stop when no free column of the Jacobian makes an angle with the
	// residual vector whose cosine is larger. Default 1e-10.
	Gradient float64
	// Step: stop when |D·s| ≤ Step·|D·x|. Default 1e-12.
	Step float64
	// Reduction: stop when the predicted relative reduction of the sum of squares
	// is at most this, and the actual one is lost in rounding. Default 1e-20.
	Reduction float64
	// Iterations is the most steps tried. Default 500.
	Iterations int
	// Damping is the first λ, relative to the scaled problem. Default 1e-3. A
	// larger one starts with shorter steps.
	Damping float64
	// PointOnly: leave out Rank, Condition and what [Result.Covariance] needs, which
	// take as long as some steps do: for a search within a search.
	PointOnly bool
}

func (s *Settings) withDefaults() (Settings, error) {
	d := Settings{Gradient: 1e-10, Step: 1e-12, Reduction: 1e-20, Iterations: 500, Damping: 1e-3}
	if s == nil {
		return d, nil
	}
	for _, f := range []struct {
		name string
		from float64
		to   *float64
	}{{"Gradient", s.Gradient, &d.Gradient}, {"Step", s.Step, &d.Step}, {"Reduction", s.Reduction, &d.Reduction}, {"Damping", s.Damping, &d.Damping}} {
		if !(f.from >= 0) || math.IsInf(f.from, 0) {
			return d, fmt.Errorf("lsq: setting %s is %g, want a finite value ≥ 0", f.name, f.from)
		}
		if f.from > 0 {
			*f.to = f.from
		}
	}
	if s.Iterations < 0 {
		return d, fmt.Errorf("lsq: setting Iterations is %d, want ≥ 0", s.Iterations)
	}
	if s.Iterations > 0 {
		d.Iterations = s.Iterations
	}
	d.PointOnly = s.PointOnly
	return d, nil
}
