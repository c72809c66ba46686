package lsq

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// Both ways of solving |r + J·s|² + λ·|D·s|² for some of the components, the others
// given, against gonum's QR of J stacked on √λ·D, and the reduction that they promise
// against the sums of squares themselves.
func TestBothWaysSolveTheDampedProblem(t *testing.T) {
	const m, n = 9, 6
	rng := rand.New(rand.NewPCG(1, 2))
	fill := func(s []float64) []float64 {
		for i := range s {
			s[i] = rng.NormFloat64()
		}
		return s
	}
	jac, r := mat.NewDense(m, n, fill(make([]float64, m*n))), fill(make([]float64, m))
	scale := []float64{1, 3, 0, 0.2, 7, 1} // a scale of 0 counts as 1
	zero := make([]float64, n)
	w := newWork(Problem{Residuals: m}, zero)
	for _, index := range [][]int{{0, 1, 2, 3, 4, 5}, {0, 2, 3, 5}, {1, 4}, {5}, {0}} {
		for _, lambda := range []float64{1e-20, 1e-3, 10} {
			given := fill(make([]float64, n))
			k := len(index)
			a, b := mat.NewDense(m+k, k, nil), mat.NewVecDense(m+k, nil)
			left := append([]float64(nil), given...)
			for c, j := range index {
				left[j] = 0
				d := scale[j]
				if d == 0 {
					d = 1
				}
				a.Set(m+c, c, math.Sqrt(lambda)*d)
				for i := range m {
					a.Set(i, c, jac.At(i, j))
				}
			}
			for i := range m {
				b.SetVec(i, -r[i]-mat.Dot(jac.RowView(i), mat.NewVecDense(n, left)))
			}
			var want mat.VecDense
			if err := want.SolveVec(a, b); err != nil {
				t.Fatal(err)
			}
			for name, solve := range map[string]func(s []float64){
				"normal": func(s []float64) {
					w.lin.multiply()
					if !w.lin.solveNormal(s, index, lambda, scale) {
						t.Error("normal equations of moderate condition were given up")
					}
				},
				"triangular": func(s []float64) {
					w.lin.triangular()
					w.lin.solveTriangular(s, index, lambda, scale)
				},
			} {
				w.lin.set(jac, r)
				step := append([]float64(nil), left...)
				solve(step)
				for c, j := range index {
					if math.Abs(step[j]-want.AtVec(c)) > 1e-11*(1+math.Abs(want.AtVec(c))) {
						t.Errorf("%s, λ = %g, free %v: s[%d] is %.14g, want %.14g", name, lambda, index, j, step[j], want.AtVec(c))
					}
				}
				var sum float64
				for i := range m {
					v := r[i] + mat.Dot(jac.RowView(i), mat.NewVecDense(n, step))
					sum += r[i]*r[i] - v*v
				}
				if got := w.lin.reduction(step); math.Abs(got-sum) > 1e-11*(1+math.Abs(sum)) {
					t.Errorf("%s, λ = %g, free %v: reduction %.14g, want %.14g", name, lambda, index, got, sum)
				}
			}
		}
	}
}

func TestFiniteLooksEverywhere(t *testing.T) {
	for n := range 10 {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.MaxFloat64
		}
		if !finite(x) {
			t.Errorf("%d finite values count as infinite", n)
		}
		for i := range x {
			for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
				if x[i] = v; finite(x) {
					t.Errorf("%g at %d of %d counts as finite", v, i, n)
				}
			}
			x[i] = math.MaxFloat64
		}
	}
}
