package lsq_test

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/lsq"
)

// An exponential through four points, its amplitude held below 2.5. (SciPy
// 1.10.1 least_squares with the amplitude fixed: a rate of 0.58408.)
func ExampleMinimize() {
	t := []float64{0, 1, 2, 3}
	y := []float64{3.1, 1.4, 0.8, 0.4}
	p := lsq.Problem{
		Residuals: len(t),
		Func: func(r []float64, jac *mat.Dense, x []float64) {
			for i, t := range t {
				e := math.Exp(-x[1] * t)
				r[i] = x[0]*e - y[i]
				jac.Set(i, 0, e)
				jac.Set(i, 1, -x[0]*t*e)
			}
		},
		Upper: []float64{2.5, math.Inf(1)},
	}
	r, err := lsq.Minimize(p, []float64{1, 1}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("amplitude %.3f, at its upper bound: %v\n", r.X[0], r.Bounds[0] == lsq.AtUpper)
	fmt.Printf("rate %.3f\n", r.X[1])
	fmt.Println(r.Status.Converged())
	// Output:
	// amplitude 2.500, at its upper bound: true
	// rate 0.584
	// true
}
