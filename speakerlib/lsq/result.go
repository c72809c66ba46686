package lsq

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Status says why a search stopped.
type Status int

const (
	// GradientSmall: the gradient is 0 within the tolerance, in the free
	// parameters: a local minimum, or a residual of 0.
	GradientSmall Status = iota + 1
	// StepSmall: the step became negligible beside the parameters.
	StepSmall
	// ReductionSmall: neither the model nor the function promises a reduction
	// worth having.
	ReductionSmall
	// IterationLimit: the limit of the settings was reached before any of these.
	IterationLimit
	// Stalled: no step, however short, reduced the sum of squares: derivatives
	// that do not belong to the residuals, or a model that is not defined on any
	// side.
	Stalled
)

// Converged reports whether the search ended at a minimum within the tolerances.
func (s Status) Converged() bool {
	return s == GradientSmall || s == StepSmall || s == ReductionSmall
}

// String says it in words.
func (s Status) String() string {
	switch s {
	case GradientSmall:
		return "converged: gradient within tolerance"
	case StepSmall:
		return "converged: step within tolerance"
	case ReductionSmall:
		return "converged: reduction within tolerance"
	case IterationLimit:
		return "not converged: iteration limit reached"
	case Stalled:
		return "not converged: no step reduces the sum of squares"
	}
	return fmt.Sprintf("Status(%d)", int(s))
}

// Bound says where a parameter lies at the end.
type Bound int

const (
	Free    Bound = iota // inside, or on a bound that it does not press against
	AtLower              // held by its lower bound
	AtUpper              // held by its upper bound
)

// Result is where a search ended.
type Result struct {
	X          []float64
	Residuals  []float64
	SumSquares float64 // Σ r²; the cost that is minimised is half of it
	Status     Status
	Bounds     []Bound // of each parameter
	// Gradient is the largest magnitude of Jᵀr over the free parameters, in
	// their units; Cosine is the same without units, what Settings.Gradient is
	// compared with.
	Gradient, Cosine float64
	Iterations       int // steps tried
	Evaluations      int // calls of Func

	// Rank is the numerical rank of the Jacobian of the free parameters with its
	// columns scaled to 1, and Condition its condition number (+Inf if the rank
	// is not full). With no free parameter they are 0 and 1, and where only the
	// point was asked for ([Settings].PointOnly) 0 and NaN.
	Rank      int
	Condition float64

	free      []int
	pointOnly bool
	v         mat.Dense // right singular vectors of the scaled Jacobian
	sv        []float64
	norm      []float64
}

func (w *work) result(s Status, pointOnly bool) *Result {
	r := &Result{
		X: slices.Clone(w.x), Residuals: slices.Clone(w.r), SumSquares: w.sum, Status: s, Bounds: make([]Bound, w.n),
		Cosine: 0, Iterations: w.iterations, Evaluations: w.evaluations, Condition: 1,
	}
	for j := range w.n {
		switch {
		case !w.held[j]:
			r.free = append(r.free, j)
			r.Gradient = math.Max(r.Gradient, math.Abs(w.lin.grad[j]))
		case w.x[j] <= w.lo[j]:
			r.Bounds[j] = AtLower
		default:
			r.Bounds[j] = AtUpper
		}
	}
	if w.sum > 0 {
		r.Cosine = w.slope()
	}
	k := len(r.free)
	if k == 0 {
		return r
	}
	if r.pointOnly = pointOnly; pointOnly {
		r.Condition = math.NaN()
		return r
	}
	w.lin.triangular()
	r.norm = slices.Clone(w.lin.norm)
	// The singular values of R are those of J.
	a := mat.NewDense(w.n, k, nil)
	for c, j := range r.free {
		if r.norm[j] == 0 {
			continue
		}
		for i := 0; i <= j; i++ {
			a.Set(i, c, w.lin.lq.Data[j*w.lin.lq.Stride+i]/r.norm[j])
		}
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThinV) {
		r.Condition = math.Inf(1)
		return r
	}
	r.sv = svd.Values(nil)
	svd.VTo(&r.v)
	for _, v := range r.sv {
		if v > r.sv[0]*float64(max(w.m, w.n))*0x1p-52 {
			r.Rank++
		}
	}
	r.Condition = math.Inf(1)
	if r.Rank == k {
		r.Condition = r.sv[0] / r.sv[k-1]
	}
	return r
}

// Cost returns ½·Σ r².
func (r *Result) Cost() float64 { return r.SumSquares / 2 }

// DegreesOfFreedom returns the number of residuals less that of the free
// parameters.
func (r *Result) DegreesOfFreedom() int { return len(r.Residuals) - len(r.free) }

// Deviation returns the standard deviation of the residuals, √(Σ r²/ν) with ν
// the degrees of freedom, or an error if there are none.
func (r *Result) Deviation() (float64, error) {
	nu := r.DegreesOfFreedom()
	if nu < 1 {
		return 0, fmt.Errorf("lsq: %d residuals for %d free parameters leave no degree of freedom, want more residuals", len(r.Residuals), len(r.free))
	}
	return math.Sqrt(r.SumSquares / float64(nu)), nil
}

// Covariance returns s²·(JᵀJ)⁻¹ of the free parameters with s = Deviation: the
// covariance of the estimate if the residuals are independent and of equal
// variance and the model is linear over the width of the estimate. Rows and
// columns of parameters held by a bound are 0. It is an error if the data do not
// determine the parameters: no degrees of freedom, or a Jacobian without full
// rank.
func (r *Result) Covariance() (*mat.SymDense, error) {
	s, err := r.Deviation()
	if err != nil {
		return nil, err
	}
	if r.pointOnly {
		return nil, fmt.Errorf("lsq: only the point was asked for, want a search without PointOnly for its covariance")
	}
	if k := len(r.free); r.Rank < k {
		return nil, fmt.Errorf("lsq: the residuals determine %d of %d free parameters, want all: hold one fixed or give data that tell them apart", r.Rank, k)
	}
	c := mat.NewSymDense(len(r.X), nil)
	for a, i := range r.free {
		for b, j := range r.free[:a+1] {
			var sum float64
			for k, v := range r.sv {
				sum += r.v.At(a, k) * r.v.At(b, k) / (v * v)
			}
			c.SetSym(i, j, s*s*sum/(r.norm[i]*r.norm[j]))
		}
	}
	return c, nil
}

// StandardErrors returns the square roots of the diagonal of [Result.Covariance]:
// 0 for parameters held by a bound.
func (r *Result) StandardErrors() ([]float64, error) {
	c, err := r.Covariance()
	if err != nil {
		return nil, err
	}
	e := make([]float64, len(r.X))
	for j := range e {
		e[j] = math.Sqrt(c.At(j, j))
	}
	return e, nil
}

// Correlation returns the covariance scaled to a diagonal of 1. Rows and columns
// of parameters held by a bound are 0 off the diagonal. Values near ±1 say that
// two parameters are hardly told apart.
func (r *Result) Correlation() (*mat.SymDense, error) {
	c, err := r.Covariance()
	if err != nil {
		return nil, err
	}
	e := make([]float64, len(r.X))
	for j := range e {
		e[j] = math.Sqrt(c.At(j, j))
	}
	for i := range e {
		for j := range i {
			if e[i] > 0 && e[j] > 0 {
				c.SetSym(i, j, c.At(i, j)/(e[i]*e[j]))
			}
		}
		c.SetSym(i, i, 1)
	}
	return c, nil
}
