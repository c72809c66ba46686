package lsq_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/lsq"
)

// linear is the problem A·x − b.
func linear(a *mat.Dense, b []float64) lsq.Problem {
	m, n := a.Dims()
	return lsq.Problem{Residuals: m, Func: func(r []float64, jac *mat.Dense, x []float64) {
		for i := range m {
			r[i] = -b[i]
			for j := range n {
				r[i] += a.At(i, j) * x[j]
			}
		}
		jac.Copy(a)
	}}
}

// A bounded linear problem has one minimum, and the conditions of Karush, Kuhn
// and Tucker tell it: the gradient Aᵀ(Ax−b) is 0 in free parameters, ≥ 0 at a
// lower bound and ≤ 0 at an upper one. All bound patterns of three parameters
// are met by moving the box.
func TestBoundedLinearProblems(t *testing.T) {
	a := mat.NewDense(5, 3, []float64{
		3, 1, -1,
		1, 4, 2,
		0, 2, 5,
		1, -1, 1,
		2, 0, 1,
	})
	b := []float64{1, -2, 3, 0.5, 2}
	var free mat.VecDense
	if err := free.SolveVec(a, mat.NewVecDense(5, b)); err != nil {
		t.Fatal(err)
	}
	patterns := map[[3]lsq.Bound]bool{}
	shift := []float64{-2, -0.3, 0, 0.3, 2}
	for _, s0 := range shift {
		for _, s1 := range shift {
			for _, s2 := range shift {
				p := linear(a, b)
				var start []float64
				for j, s := range []float64{s0, s1, s2} {
					c := free.AtVec(j) + s
					p.Lower = append(p.Lower, c-0.5)
					p.Upper = append(p.Upper, c+0.5)
					start = append(start, c+0.4)
				}
				r, err := lsq.Minimize(p, start, nil)
				if err != nil {
					t.Fatal(err)
				}
				if !r.Status.Converged() {
					t.Errorf("shift %g %g %g: %v", s0, s1, s2, r.Status)
				}
				for j := range 3 {
					var g float64
					for i := range 5 {
						g += a.At(i, j) * r.Residuals[i]
					}
					x := r.X[j]
					if x < p.Lower[j] || x > p.Upper[j] {
						t.Errorf("x[%d] = %g is outside %g … %g", j, x, p.Lower[j], p.Upper[j])
					}
					switch r.Bounds[j] {
					case lsq.Free:
						if math.Abs(g) > 1e-8 {
							t.Errorf("shift %g %g %g: gradient of the free x[%d] is %g", s0, s1, s2, j, g)
						}
					case lsq.AtLower:
						if x != p.Lower[j] || g < 0 {
							t.Errorf("shift %g %g %g: x[%d] = %g at its lower bound %g with gradient %g", s0, s1, s2, j, x, p.Lower[j], g)
						}
					case lsq.AtUpper:
						if x != p.Upper[j] || g > 0 {
							t.Errorf("shift %g %g %g: x[%d] = %g at its upper bound %g with gradient %g", s0, s1, s2, j, x, p.Upper[j], g)
						}
					}
				}
				if r.Cosine > 1e-8 {
					t.Errorf("shift %g %g %g: cosine of the free parameters is %g", s0, s1, s2, r.Cosine)
				}
				patterns[[3]lsq.Bound(r.Bounds)] = true
			}
		}
	}
	if len(patterns) < 20 {
		t.Errorf("only %d patterns of bounds were met, want at least 20 of 27", len(patterns))
	}
}

// Without damping to speak of, one step of a linear problem goes to the bound
// that it crosses and, from there, to the minimum in the other parameters.
func TestStepAlongABound(t *testing.T) {
	a := mat.NewDense(4, 3, []float64{2, 1, 0, 1, 3, 1, 0, 1, 2, 1, 0, 1})
	b := []float64{1, 2, 3, 4}
	p := linear(a, b)
	p.Upper = []float64{math.Inf(1), -0.8, math.Inf(1)}
	r, err := lsq.Minimize(p, []float64{0, -1, 0}, &lsq.Settings{Iterations: 1, Damping: 1e-25})
	if err != nil {
		t.Fatal(err)
	}
	// The minimum with x[1] = −0.8: a problem of two parameters.
	two := mat.NewDense(4, 2, []float64{2, 0, 1, 1, 0, 2, 1, 1})
	var want mat.VecDense
	if err := want.SolveVec(two, mat.NewVecDense(4, []float64{1.8, 4.4, 3.8, 4})); err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.X[0]-want.AtVec(0)) > 1e-9 || r.X[1] != -0.8 || math.Abs(r.X[2]-want.AtVec(1)) > 1e-9 {
		t.Errorf("after one step x = %v, want (%.10g, -0.8, %.10g)", r.X, want.AtVec(0), want.AtVec(1))
	}
}

// Rosenbrock's function as residuals 10(y − x²), 1 − x. With x ≤ 0.5 the minimum
// is at (0.5, 0.25) with a cost of 0.125; with y ≥ 2 as well it is where
// d/dx = 0 on y = 2.
func TestRosenbrockWithinBounds(t *testing.T) {
	f := func(r []float64, jac *mat.Dense, x []float64) {
		r[0], r[1] = 10*(x[1]-x[0]*x[0]), 1-x[0]
		jac.SetRow(0, []float64{-20 * x[0], 10})
		jac.SetRow(1, []float64{-1, 0})
	}
	inf := math.Inf(1)
	for _, c := range []struct {
		lower, upper []float64
		start, want  []float64
		bounds       []lsq.Bound
	}{
		{nil, nil, []float64{-1.2, 1}, []float64{1, 1}, []lsq.Bound{lsq.Free, lsq.Free}},
		{nil, []float64{0.5, inf}, []float64{-1.2, 1}, []float64{0.5, 0.25}, []lsq.Bound{lsq.AtUpper, lsq.Free}},
		{nil, []float64{inf, 0.5}, []float64{-1.2, 0.5}, nil, []lsq.Bound{lsq.Free, lsq.AtUpper}},
		{[]float64{0.3, 0.3}, []float64{0.3, 0.3}, []float64{0.3, 0.3}, []float64{0.3, 0.3}, nil},
	} {
		r, err := lsq.Minimize(lsq.Problem{Residuals: 2, Func: f, Lower: c.lower, Upper: c.upper}, c.start, nil)
		if err != nil {
			t.Fatal(err)
		}
		if c.want == nil { // 200x(x²−0.5) + x − 1 = 0
			x := r.X[0]
			if g := 200*x*(x*x-0.5) + x - 1; math.Abs(g) > 1e-7 || r.X[1] != 0.5 {
				t.Errorf("upper %v: x = %v with derivative %g along the bound", c.upper, r.X, g)
			}
		} else if math.Hypot(r.X[0]-c.want[0], r.X[1]-c.want[1]) > 1e-9 {
			t.Errorf("bounds %v %v: x = %v, want %v (%v)", c.lower, c.upper, r.X, c.want, r.Status)
		}
		if c.bounds != nil && !slices.Equal(r.Bounds, c.bounds) {
			t.Errorf("bounds %v %v: parameters are at %v, want %v", c.lower, c.upper, r.Bounds, c.bounds)
		}
		if !r.Status.Converged() {
			t.Errorf("bounds %v %v: %v", c.lower, c.upper, r.Status)
		}
	}
}

// y = (a·b)·x: only the product is determined. The search must end, reproduce the
// data, and say that the rank is 1 of 2.
func TestRankDeficient(t *testing.T) {
	p := lsq.Problem{Residuals: 4, Func: func(r []float64, jac *mat.Dense, x []float64) {
		for i := range 4 {
			v := float64(i + 1)
			r[i] = x[0]*x[1]*v - 6*v
			jac.Set(i, 0, x[1]*v)
			jac.Set(i, 1, x[0]*v)
		}
	}}
	r, err := lsq.Minimize(p, []float64{1, 1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Status.Converged() || math.Abs(r.X[0]*r.X[1]-6) > 1e-9 {
		t.Errorf("product is %.12g (%v), want 6", r.X[0]*r.X[1], r.Status)
	}
	if r.Rank != 1 || !math.IsInf(r.Condition, 1) {
		t.Errorf("rank %d, condition %g, want 1 and +Inf", r.Rank, r.Condition)
	}
	if _, err := r.StandardErrors(); err == nil || !strings.Contains(err.Error(), "determine 1 of 2") {
		t.Errorf("standard errors of an undetermined fit: error %v", err)
	}
	// Held by a bound, the other one is determined.
	p.Lower, p.Upper = []float64{2, -9}, []float64{2, 9}
	if r, err = lsq.Minimize(p, []float64{2, 1}, nil); err != nil || r.Rank != 1 || math.Abs(r.X[1]-3) > 1e-9 {
		t.Errorf("with one held: %+v, %v", r, err)
	}
}

// The covariance of a fit with one parameter held is that of the others.
func TestCovarianceWithOneHeld(t *testing.T) {
	a := mat.NewDense(4, 3, []float64{2, 1, 0, 1, 3, 1, 0, 1, 2, 1, 0, 1})
	p := linear(a, []float64{1, 2, 3, 4})
	p.Upper = []float64{math.Inf(1), -0.8, math.Inf(1)}
	r, err := lsq.Minimize(p, []float64{0, -1, 0}, nil)
	if err != nil {
		t.Fatal(err)
	}
	two := linear(mat.NewDense(4, 2, []float64{2, 0, 1, 1, 0, 2, 1, 1}), []float64{1.8, 4.4, 3.8, 4})
	q, err := lsq.Minimize(two, []float64{0, 0}, nil)
	if err != nil {
		t.Fatal(err)
	}
	c, err := r.Correlation()
	if err != nil {
		t.Fatal(err)
	}
	d, err := q.Correlation()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(c.At(0, 2)-d.At(0, 1)) > 1e-10 || c.At(0, 1) != 0 || c.At(1, 2) != 0 || c.At(1, 1) != 1 {
		t.Errorf("correlation\n%v\nwant that of two parameters\n%v", mat.Formatted(c), mat.Formatted(d))
	}
	e, err := r.StandardErrors()
	if err != nil || e[1] != 0 || !(e[0] > 0) {
		t.Errorf("standard errors %v, %v", e, err)
	}
	if r.DegreesOfFreedom() != 2 || math.Abs(r.Cost()-r.SumSquares/2) > 0 {
		t.Errorf("%d degrees of freedom, cost %g of %g", r.DegreesOfFreedom(), r.Cost(), r.SumSquares)
	}
}

// √x has an infinite derivative at its minimum, the bound 0: the search may
// come as near as it likes but must not step onto it.
func TestInfiniteDerivativeAtABound(t *testing.T) {
	p := lsq.Problem{Residuals: 2, Lower: []float64{0}, Func: func(r []float64, jac *mat.Dense, x []float64) {
		r[0], r[1] = math.Sqrt(x[0]), 1
		jac.Set(0, 0, 0.5/math.Sqrt(x[0]))
		jac.Set(1, 0, 0)
	}}
	r, err := lsq.Minimize(p, []float64{1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !(r.X[0] > 0 && r.X[0] < 1e-6) || math.IsInf(r.Gradient, 0) || math.IsNaN(r.Gradient) || math.IsNaN(r.Cosine) {
		t.Errorf("x = %v, gradient %g, cosine %g, %v", r.X, r.Gradient, r.Cosine, r.Status)
	}
}

// A parameter without any influence, and fewer residuals than parameters.
func TestUnderdetermined(t *testing.T) {
	p := lsq.Problem{Residuals: 1, Func: func(r []float64, jac *mat.Dense, x []float64) {
		r[0] = x[0] + 2*x[1] - 5
		jac.SetRow(0, []float64{1, 2, 0})
	}}
	r, err := lsq.Minimize(p, []float64{0, 0, 7}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.Residuals[0]) > 1e-9 || r.X[2] != 7 || !r.Status.Converged() {
		t.Errorf("x = %v, residual %g, %v", r.X, r.Residuals[0], r.Status)
	}
	if _, err := r.Covariance(); err == nil || !strings.Contains(err.Error(), "no degree of freedom") {
		t.Errorf("covariance: error %v", err)
	}
}

// The covariance of a straight line through n points is a handbook formula:
// var(slope) = s²/Sxx, var(intercept) = s²·(1/n + x̄²/Sxx), correlation
// −x̄/√(Sxx/n + x̄²).
func TestCovarianceOfAStraightLine(t *testing.T) {
	x := []float64{1, 2, 4, 7, 11}
	y := []float64{2.1, 3.9, 8.3, 13.8, 22.4}
	a := mat.NewDense(5, 2, nil)
	var mean, sxx float64
	for i, v := range x {
		a.SetRow(i, []float64{1, v})
		mean += v / 5
	}
	for _, v := range x {
		sxx += (v - mean) * (v - mean)
	}
	r, err := lsq.Minimize(linear(a, y), []float64{0, 0}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := r.Deviation()
	if err != nil {
		t.Fatal(err)
	}
	e, err := r.StandardErrors()
	if err != nil {
		t.Fatal(err)
	}
	if want := s * math.Sqrt(0.2+mean*mean/sxx); math.Abs(e[0]/want-1) > 1e-10 {
		t.Errorf("standard error of the intercept is %.12g, want %.12g", e[0], want)
	}
	if want := s / math.Sqrt(sxx); math.Abs(e[1]/want-1) > 1e-10 {
		t.Errorf("standard error of the slope is %.12g, want %.12g", e[1], want)
	}
	// Two columns of length 1 at the angle ψ: condition √((1+cos ψ)/(1−cos ψ)).
	cos := mean / math.Sqrt(sxx/5+mean*mean)
	if want := math.Sqrt((1 + cos) / (1 - cos)); r.Rank != 2 || math.Abs(r.Condition/want-1) > 1e-10 {
		t.Errorf("rank %d, condition %.12g, want 2 and %.12g", r.Rank, r.Condition, want)
	}
	c, err := r.Correlation()
	if err != nil {
		t.Fatal(err)
	}
	if want := -mean / math.Sqrt(sxx/5+mean*mean); math.Abs(c.At(0, 1)-want) > 1e-10 || c.At(0, 0) != 1 {
		t.Errorf("correlation is %.12g, want %.12g", c.At(0, 1), want)
	}
}

// Scaling x by powers of two changes neither path nor end, not even where the
// squares of the columns are out of the range of float64.
func TestIndependentOfUnits(t *testing.T) {
	p := nistProblems[0].problem()
	r, err := lsq.Minimize(p, []float64{500, 1e-4}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range [][2]float64{{0x1p40, 0x1p-40}, {0x1p600, 0x1p-600}, {0x1p-560, 1}, {0x1p530, 1}} {
		scaled := lsq.Problem{Residuals: p.Residuals, Func: func(res []float64, jac *mat.Dense, x []float64) {
			p.Func(res, jac, []float64{x[0] / k[0], x[1] / k[1]})
			for i := range res {
				jac.Set(i, 0, jac.At(i, 0)/k[0])
				jac.Set(i, 1, jac.At(i, 1)/k[1])
			}
		}}
		q, err := lsq.Minimize(scaled, []float64{500 * k[0], 1e-4 * k[1]}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if q.Iterations != r.Iterations || math.Abs(q.X[0]/k[0]/r.X[0]-1) > 1e-11 || math.Abs(q.Condition/r.Condition-1) > 1e-9 {
			t.Errorf("scaled by %g: %d iterations to %g, condition %g, unscaled %d to %g, condition %g", k, q.Iterations, q.X[0]/k[0], q.Condition, r.Iterations, r.X[0], r.Condition)
		}
	}
}

// Läuchli's matrix, a row of ones above ε times the unit matrix, loses its rank in its
// normal equations long before it loses it itself (P. Läuchli, Numerische Mathematik 3,
// 1961; from memory). One step without damping to speak of goes from 0 to the solution
// that the right side was made from. The condition is √(1+3/ε²).
func TestLauchli(t *testing.T) {
	want := []float64{1, -2, 4}
	for _, eps := range []float64{1, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7} {
		a := mat.NewDense(4, 3, []float64{1, 1, 1, eps, 0, 0, 0, eps, 0, 0, 0, eps})
		var b mat.VecDense
		b.MulVec(a, mat.NewVecDense(3, want))
		r, err := lsq.Minimize(linear(a, b.RawVector().Data), []float64{0, 0, 0}, &lsq.Settings{Iterations: 1, Damping: 1e-28})
		if err != nil {
			t.Fatal(err)
		}
		for j, v := range want {
			if math.Abs(r.X[j]-v) > 1e-8 {
				t.Errorf("ε = %g: x[%d] is %.12g, want %g", eps, j, r.X[j], v)
			}
		}
		if c := math.Sqrt(1 + 3/(eps*eps)); math.Abs(r.Condition/c-1) > 1e-8 {
			t.Errorf("ε = %g: condition %.10g, want %.10g", eps, r.Condition, c)
		}
	}
}

// A search for the point alone goes the same way and tells the rest apart.
func TestPointOnly(t *testing.T) {
	p := nistProblems[3]
	r, err := lsq.Minimize(p.problem(), p.starts[0], nil)
	if err != nil {
		t.Fatal(err)
	}
	q, err := lsq.Minimize(p.problem(), p.starts[0], &lsq.Settings{PointOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(q.X, r.X) || !slices.Equal(q.Residuals, r.Residuals) || q.Cosine != r.Cosine || q.Evaluations != r.Evaluations {
		t.Errorf("the point alone is %v, with its covariance %v", q.X, r.X)
	}
	if q.Rank != 0 || !math.IsNaN(q.Condition) {
		t.Errorf("rank %d and condition %g of the point alone, want 0 and NaN", q.Rank, q.Condition)
	}
	if _, err := q.StandardErrors(); err == nil || !strings.Contains(err.Error(), "only the point was asked for") {
		t.Errorf("standard errors of the point alone: error %v", err)
	}
}

func TestStatusTellsTheTruth(t *testing.T) {
	good := nistProblems[0].problem()
	wrong := lsq.Problem{Residuals: good.Residuals, Func: func(r []float64, jac *mat.Dense, x []float64) {
		good.Func(r, jac, x)
		jac.Scale(-1, jac)
	}}
	r, err := lsq.Minimize(wrong, []float64{500, 1e-4}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != lsq.Stalled || r.Status.Converged() {
		t.Errorf("derivatives of the wrong sign end with %q, want Stalled", r.Status)
	}
	if r, err = lsq.Minimize(good, []float64{500, 1e-4}, &lsq.Settings{Iterations: 3}); err != nil || r.Status != lsq.IterationLimit || r.Iterations != 3 {
		t.Errorf("three iterations end with %q after %d, %v", r.Status, r.Iterations, err)
	}
	if r, err = lsq.Minimize(good, []float64{500, 1e-4}, &lsq.Settings{Step: 1e-3}); err != nil || r.Status != lsq.StepSmall || math.Abs(r.X[0]/2.3894212918e+02-1) > 1e-2 {
		t.Errorf("a coarse step tolerance ends with %q at %v, %v", r.Status, r.X, err)
	}
	// ln x from 100 towards 0.5: the full step goes where ln is not defined.
	edge := lsq.Problem{Residuals: 1, Func: func(r []float64, jac *mat.Dense, x []float64) {
		r[0] = math.Log(x[0]) - math.Log(0.5)
		jac.Set(0, 0, 1/x[0])
	}}
	if r, err = lsq.Minimize(edge, []float64{100}, nil); err != nil || !r.Status.Converged() || math.Abs(r.X[0]-0.5) > 1e-9 {
		t.Errorf("around an undefined region: x = %v, %v, %v", r.X, r.Status, err)
	}
	start := []float64{500, 1e-4}
	if _, err = lsq.Minimize(good, start, nil); err != nil || start[0] != 500 {
		t.Error("the start was changed")
	}
	// A start that is the minimum.
	if r, err = lsq.Minimize(edge, []float64{0.5}, nil); err != nil || r.Status != lsq.GradientSmall || r.Iterations != 0 {
		t.Errorf("from the minimum: %v after %d iterations, %v", r.Status, r.Iterations, err)
	}
}

func TestRefusals(t *testing.T) {
	nan := math.NaN()
	f := func(r []float64, jac *mat.Dense, x []float64) { r[0] = x[0]; jac.Set(0, 0, 1) }
	for _, c := range []struct {
		p    lsq.Problem
		x0   []float64
		s    *lsq.Settings
		want string
	}{
		{lsq.Problem{Residuals: 1}, []float64{1}, nil, "no Func"},
		{lsq.Problem{Func: f}, []float64{1}, nil, "0 residuals"},
		{lsq.Problem{Residuals: 1, Func: f}, nil, nil, "no parameter"},
		{lsq.Problem{Residuals: 1, Func: f}, []float64{nan}, nil, "start of parameter 0 is NaN"},
		{lsq.Problem{Residuals: 1, Func: f, Lower: []float64{2}}, []float64{1}, nil, "within its bounds 2 … +Inf"},
		{lsq.Problem{Residuals: 1, Func: f, Lower: []float64{2}, Upper: []float64{1}}, []float64{1}, nil, "want lower ≤ upper"},
		{lsq.Problem{Residuals: 1, Func: f, Lower: []float64{nan}}, []float64{1}, nil, "want lower ≤ upper"},
		{lsq.Problem{Residuals: 1, Func: f, Lower: []float64{1, 2}}, []float64{1}, nil, "2 lower bounds for 1"},
		{lsq.Problem{Residuals: 1, Func: f, Upper: []float64{1, 2}}, []float64{1}, nil, "2 upper bounds for 1"},
		{lsq.Problem{Residuals: 1, Func: f}, []float64{1}, &lsq.Settings{Step: -1}, "setting Step is -1"},
		{lsq.Problem{Residuals: 1, Func: f}, []float64{1}, &lsq.Settings{Gradient: nan}, "setting Gradient is NaN"},
		{lsq.Problem{Residuals: 1, Func: f}, []float64{1}, &lsq.Settings{Iterations: -1}, "setting Iterations is -1"},
		{lsq.Problem{Residuals: 1, Func: func(r []float64, jac *mat.Dense, x []float64) { r[0] = nan }}, []float64{1}, nil, "residuals at the start"},
		{lsq.Problem{Residuals: 1, Func: func(r []float64, jac *mat.Dense, x []float64) { jac.Set(0, 0, math.Inf(1)) }}, []float64{1}, nil, "derivatives at the start"},
		{lsq.Problem{Residuals: 1, Func: func(r []float64, jac *mat.Dense, x []float64) { r[0] = 1e200 * x[0]; jac.Set(0, 0, 1e200) }}, []float64{1}, nil, "sum of squares at the start is +Inf"},
	} {
		_, err := lsq.Minimize(c.p, c.x0, c.s)
		if err == nil || !strings.HasPrefix(err.Error(), "lsq: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want one with %q", err, c.want)
		}
	}
}

// Allocations do not grow with the number of iterations.
func TestIterationsDoNotAllocate(t *testing.T) {
	p := nistProblems[4] // MGH09, slow from its far start
	problem := p.problem()
	problem.Upper = []float64{50, 50, 50, 50}
	run := func(n int) float64 {
		return testing.AllocsPerRun(5, func() {
			if _, err := lsq.Minimize(problem, p.starts[0], &lsq.Settings{Iterations: n}); err != nil {
				t.Fatal(err)
			}
		})
	}
	if few, many := run(3), run(60); many != few {
		t.Errorf("3 iterations allocate %g times, 60 iterations %g times", few, many)
	}
}
