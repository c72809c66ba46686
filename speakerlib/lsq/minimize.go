package lsq

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
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
	return w.result(w.search(set)), nil
}

// work is everything that the search uses again and again.
type work struct {
	p         Problem
	m, n      int
	x, lo, hi []float64
	r         []float64
	jac       *mat.Dense
	sum       float64 // Σ r²

	// The point that is tried.
	tryX, tryR []float64
	tryJac     *mat.Dense

	// Jᵀ = L·Q of the present point: row j of lq is column j of J.
	lq     blas64.General
	tau    []float64
	lapack []float64
	qr     []float64 // Q·r; its first n values matter

	norm, scale, grad []float64 // of column j: present norm, D, gradient
	held              []bool    // on a bound, gradient outward
	step              []float64

	// The damped problem in n dimensions.
	fixed []bool
	index []int
	a     []float64
	rhs   []float64
	small []float64
	tau2  []float64
	rs    []float64 // R·s

	lambda, nu              float64
	iterations, evaluations int
}

func newWork(p Problem, x0 []float64) *work {
	m, n := p.Residuals, len(x0)
	wide := max(m, n)
	w := &work{
		p: p, m: m, n: n,
		x: append([]float64(nil), x0...), lo: make([]float64, n), hi: make([]float64, n),
		r: make([]float64, m), jac: mat.NewDense(m, n, nil),
		tryX: make([]float64, n), tryR: make([]float64, m), tryJac: mat.NewDense(m, n, nil),
		lq:  blas64.General{Rows: n, Cols: wide, Stride: wide, Data: make([]float64, n*wide)},
		tau: make([]float64, n), lapack: make([]float64, 2*n), qr: make([]float64, wide),
		norm: make([]float64, n), scale: make([]float64, n), grad: make([]float64, n), held: make([]bool, n),
		step: make([]float64, n), fixed: make([]bool, n), index: make([]int, n),
		a: make([]float64, 2*n*n), rhs: make([]float64, 2*n), small: make([]float64, 2*n), tau2: make([]float64, n), rs: make([]float64, n),
	}
	for j := range w.lo {
		w.lo[j], w.hi[j] = p.bounds(j)
	}
	return w
}

func (w *work) search(set Settings) Status {
	w.lambda, w.nu = set.Damping, 2
	w.factor()
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
				w.p.Func(w.tryR, w.tryJac, w.tryX)
				w.evaluations++
				if sum = sumSquares(w.tryR); !math.IsNaN(sum) && !math.IsInf(sum, 0) && finite(w.tryJac.RawMatrix().Data) {
					actual = w.sum - sum
					accepted = actual > 1e-4*predicted
				}
			}
			// Once the reduction is lost in the rounding of the sum, the model alone
			// is to be trusted, as long as its promises shrink.
			const rounding = 1e-14
			small := false
			if math.Abs(actual) <= rounding*w.sum && predicted <= rounding*w.sum {
				small = predicted <= set.Reduction*w.sum || !(predicted < last/2)
				accepted, last = accepted || !small, predicted
			}
			if accepted {
				w.x, w.tryX = w.tryX, w.x
				w.r, w.tryR = w.tryR, w.r
				w.jac, w.tryJac = w.tryJac, w.jac
				w.sum = sum
				q := 2*math.Min(actual/predicted, 1) - 1
				if last < math.Inf(1) {
					q = 1
				}
				w.lambda = math.Max(w.lambda*math.Max(1.0/3, 1-q*q*q), 1e-30)
				w.nu = 2
				w.factor()
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

// factor brings the Jacobian to triangular form and computes the gradient, the
// scale, and which parameters are held.
func (w *work) factor() {
	jac := w.jac.RawMatrix()
	for j := range w.n {
		col := w.lq.Data[j*w.lq.Stride : (j+1)*w.lq.Stride]
		for i := range w.m {
			col[i] = jac.Data[i*jac.Stride+j]
		}
		clear(col[w.m:])
		v := blas64.Vector{N: w.m, Inc: 1, Data: col}
		w.norm[j] = blas64.Nrm2(v)
		w.scale[j] = math.Max(w.scale[j], w.norm[j])
		w.grad[j] = blas64.Dot(v, blas64.Vector{N: w.m, Inc: 1, Data: w.r})
		w.held[j] = w.x[j] <= w.lo[j] && w.grad[j] >= 0 || w.x[j] >= w.hi[j] && w.grad[j] <= 0
	}
	// A work space of n values asks for the unblocked algorithm, which does not
	// allocate.
	lapack64.Gelqf(w.lq, w.tau, w.lapack[:w.n], w.n)
	copy(w.qr, w.r)
	clear(w.qr[w.m:])
	lapack64.Ormlq(blas.Left, blas.NoTrans, w.lq, w.tau,
		blas64.General{Rows: len(w.qr), Cols: 1, Stride: 1, Data: w.qr}, w.lapack[:1], 1)
}

// slope is the largest cosine between the residual and a free column.
func (w *work) slope() float64 {
	var worst float64
	norm := math.Sqrt(w.sum)
	for j, g := range w.grad {
		if !w.held[j] && w.norm[j] > 0 {
			worst = math.Max(worst, math.Abs(g)/(w.norm[j]*norm))
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
		w.solveFree()
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
		d := w.scaleOf(j)
		length = math.Hypot(length, d*s)
		at = math.Hypot(at, d*w.x[j])
	}
	w.timesR(w.rs, w.step)
	for k, v := range w.rs {
		predicted -= v * (2*w.qr[k] + v)
	}
	return predicted, length, at
}

// scaleOf is D: a parameter that has never had an influence is scaled by 1.
func (w *work) scaleOf(j int) float64 {
	if w.scale[j] == 0 {
		return 1
	}
	return w.scale[j]
}

// timesR writes R·s with R = Lᵀ, upper triangular.
func (w *work) timesR(dst, s []float64) {
	clear(dst)
	for j, v := range s {
		if v == 0 {
			continue
		}
		row := w.lq.Data[j*w.lq.Stride:]
		for k := 0; k <= j; k++ {
			dst[k] += row[k] * v
		}
	}
}

// solveFree solves min |R·s + c|² + λ|D·s|² for the components of the step that
// are not fixed, the others given.
func (w *work) solveFree() {
	k := 0
	for j := range w.n {
		if !w.fixed[j] {
			w.index[k] = j
			w.step[j] = 0
			k++
		}
	}
	if k == 0 {
		return
	}
	w.timesR(w.rs, w.step)
	rows := w.n + k
	a := blas64.General{Rows: rows, Cols: k, Stride: k, Data: w.a[:rows*k]}
	clear(a.Data)
	root := math.Sqrt(w.lambda)
	for c, j := range w.index[:k] {
		row := w.lq.Data[j*w.lq.Stride:]
		for i := 0; i <= j; i++ {
			a.Data[i*k+c] = row[i]
		}
		a.Data[(w.n+c)*k+c] = root * w.scaleOf(j)
	}
	for i := range w.n {
		w.rhs[i] = -w.qr[i] - w.rs[i]
	}
	clear(w.rhs[w.n:])
	lapack64.Geqrf(a, w.tau2[:k], w.small[:k], k)
	b := blas64.General{Rows: rows, Cols: 1, Stride: 1, Data: w.rhs[:rows]}
	lapack64.Ormqr(blas.Left, blas.Trans, a, w.tau2[:k], b, w.small[:1], 1)
	blas64.Trsv(blas.NoTrans, blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: k, Stride: k, Data: a.Data},
		blas64.Vector{N: k, Inc: 1, Data: w.rhs[:k]})
	for c, j := range w.index[:k] {
		w.step[j] = w.rhs[c]
	}
}

func sumSquares(r []float64) float64 {
	var s float64
	for _, v := range r {
		s += v * v
	}
	return s
}

func finite(x []float64) bool {
	var z float64
	for _, v := range x {
		z += v * 0 // NaN and ±Inf give NaN
	}
	return z == 0
}
