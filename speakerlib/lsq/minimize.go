package lsq

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// Minimize searches a local minimum from x0, which it does not change. Nil
// settings mean the defaults. It fails for a malformed problem, a start outside
// the bounds, and residuals or derivatives that are not finite at the start;
// that the search did not converge is not an error but a [Status] of the result.
// After its start it allocates nothing, whatever the number of iterations.
func Minimize(p Problem, x0 []float64, s *Settings) (*Result, error) {
	if err := p.check(x0); err != nil {
		return nil, err
	}
	set, err := s.withDefaults()
	if err != nil {
		return nil, err
	}
	w := newWork(p, x0)
	p.Func(w.r, w.jac, w.x)
	w.evaluations++
	if !finite(w.r) {
		return nil, fmt.Errorf("lsq: residuals at the start are not finite, want a start where the model is defined")
	}
	if !finite(w.jac.RawMatrix().Data) {
		return nil, fmt.Errorf("lsq: derivatives at the start are not finite, want a start where the model is differentiable")
	}
	if w.sum = sumSquares(w.r); math.IsInf(w.sum, 0) {
		return nil, fmt.Errorf("lsq: sum of squares at the start is %g, want a finite one: scale the residuals", w.sum)
	}
	return w.result(w.search(set), set.PointOnly), nil
}

// work is everything that the search uses again and again.
type work struct {
	p         Problem
	m, n      int
	x, lo, hi []float64
	r         []float64
	sum       float64 // Σ r²

	// The point that is tried, and the Jacobian of the last evaluation.
	tryX, tryR []float64
	jac        *mat.Dense

	lin linear // of the present point

	scale []float64 // D
	held  []bool    // on a bound, gradient outward
	step  []float64
	fixed []bool
	index []int // of those that are not

	lambda, nu              float64
	iterations, evaluations int
}

func newWork(p Problem, x0 []float64) *work {
	m, n := p.Residuals, len(x0)
	wide := max(m, n)
	// All of it in one piece: x, r, and what goes with them.
	memory := make([]float64, m*n+n*wide+2*m+wide+8*n+n*n+2*n*n+6*n)
	take := func(k int) []float64 {
		s := memory[:k:k]
		memory = memory[k:]
		return s
	}
	w := &work{
		p: p, m: m, n: n,
		x: take(n), lo: take(n), hi: take(n), r: take(m), tryX: take(n), tryR: take(m),
		jac: mat.NewDense(m, n, take(m*n)), scale: take(n), step: take(n),
		held: make([]bool, n), fixed: make([]bool, n), index: make([]int, 0, n),
	}
	w.lin = linear{
		m: m, n: n, norm: take(n), grad: take(n),
		lq:   blas64.General{Rows: n, Cols: wide, Stride: wide, Data: take(n * wide)},
		gram: take(n * n), a: take(2 * n * n), rhs: take(2 * n), rs: take(n),
		qr: take(wide), tau: take(n), small: take(2 * n),
	}
	copy(w.x, x0)
	for j := range w.lo {
		w.lo[j], w.hi[j] = p.bounds(j)
	}
	return w
}

func (w *work) search(set Settings) Status {
	w.lambda, w.nu = set.Damping, 2
	w.linearise()
	last := math.Inf(1)
	for {
		if w.sum == 0 || w.slope() <= set.Gradient {
			return GradientSmall
		}
		promised := math.NaN() // reduction that the first step from here promises
		for {
			if w.iterations == set.Iterations {
				return IterationLimit
			}
			w.iterations++
			predicted, length, at := w.solve()
			if math.IsNaN(promised) {
				promised = predicted
			}
			if length <= set.Step*at || w.lambda > 1e30 {
				// A step that only damping has made small says nothing, unless
				// what was promised is lost in rounding.
				if w.nu > 2 && promised > 1e-12*w.sum {
					return Stalled
				}
				return StepSmall
			}
			accepted, actual, sum := false, math.Inf(-1), 0.0
			if predicted > 0 {
				w.p.Func(w.tryR, w.jac, w.tryX)
				w.evaluations++
				if sum = sumSquares(w.tryR); !math.IsNaN(sum) && !math.IsInf(sum, 0) && finite(w.jac.RawMatrix().Data) {
					actual = w.sum - sum
					accepted = actual > 1e-4*predicted
				}
			}
			// Once the reduction is lost in the rounding of the sum, which is some
			// hundred times that of its digits where residuals are small differences,
			// the model alone is to be trusted, as long as its promises shrink.
			const rounding = 1e-12
			small := false
			if math.Abs(actual) <= rounding*w.sum && predicted <= rounding/10*w.sum {
				small = predicted <= set.Reduction*w.sum || !(predicted < last/2)
				accepted, last = accepted || !small, predicted
			}
			if accepted {
				w.x, w.tryX = w.tryX, w.x
				w.r, w.tryR = w.tryR, w.r
				w.sum = sum
				q := 2*math.Min(actual/predicted, 1) - 1
				if last < math.Inf(1) {
					q = 1
				}
				w.lambda = math.Max(w.lambda*math.Max(1.0/3, 1-q*q*q), 1e-30)
				w.nu = 2
				w.linearise()
			} else {
				w.lambda *= w.nu
				w.nu *= 2
			}
			if small {
				return ReductionSmall
			}
			if accepted {
				break
			}
		}
	}
}

// linearise takes over the Jacobian of the point just accepted, and finds the scale
// and which parameters are held.
func (w *work) linearise() {
	w.lin.set(w.jac, w.r)
	for j, g := range w.lin.grad {
		w.scale[j] = math.Max(w.scale[j], w.lin.norm[j])
		w.held[j] = w.x[j] <= w.lo[j] && g >= 0 || w.x[j] >= w.hi[j] && g <= 0
	}
}

// slope is the largest cosine between the residual and a free column.
func (w *work) slope() float64 {
	var worst float64
	norm := math.Sqrt(w.sum)
	for j, g := range w.lin.grad {
		if !w.held[j] && w.lin.norm[j] > 0 {
			worst = max(worst, math.Abs(g)/(w.lin.norm[j]*norm))
		}
	}
	return worst
}

// solve computes the damped step within the bounds and the point that it leads
// to. It returns the predicted reduction of the sum of squares and the lengths
// of D·s and D·x.
func (w *work) solve() (predicted, length, at float64) {
	copy(w.fixed, w.held)
	clear(w.step)
	for {
		w.index = w.index[:0]
		for j, fixed := range w.fixed {
			if !fixed {
				w.index = append(w.index, j)
				w.step[j] = 0
			}
		}
		if len(w.index) > 0 {
			w.lin.solve(w.step, w.index, w.lambda, w.scale)
		}
		crossed := false
		for j := range w.step {
			if w.fixed[j] {
				continue
			}
			switch x := w.x[j] + w.step[j]; {
			case x < w.lo[j]:
				w.step[j] = w.lo[j] - w.x[j]
			case x > w.hi[j]:
				w.step[j] = w.hi[j] - w.x[j]
			default:
				continue
			}
			w.fixed[j], crossed = true, true
		}
		if !crossed {
			break
		}
	}
	for j, s := range w.step {
		x := w.x[j] + s
		if w.fixed[j] && !w.held[j] { // exactly on the bound
			if s < 0 {
				x = w.lo[j]
			} else {
				x = w.hi[j]
			}
		}
		w.tryX[j] = math.Min(math.Max(x, w.lo[j]), w.hi[j])
		d := scaleOf(w.scale[j])
		length = math.Hypot(length, d*s)
		at = math.Hypot(at, d*w.x[j])
	}
	return w.lin.reduction(w.step), length, at
}

// scaleOf is D: a parameter that has never had an influence is scaled by 1.
func scaleOf(d float64) float64 {
	if d == 0 {
		return 1
	}
	return d
}

func sumSquares(r []float64) float64 {
	v := blas64.Vector{N: len(r), Inc: 1, Data: r}
	return blas64.Dot(v, v)
}

func finite(x []float64) bool {
	var a, b, c, d float64 // so that none waits for the sum before
	for ; len(x) >= 4; x = x[4:] {
		a += x[0] * 0 // NaN and ±Inf give NaN
		b += x[1] * 0
		c += x[2] * 0
		d += x[3] * 0
	}
	for _, v := range x {
		a += v * 0
	}
	return a+b+c+d == 0
}
