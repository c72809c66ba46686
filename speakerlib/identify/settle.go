package identify

import (
	"math"
	"strings"

	"example.org/loudspeaker/speakerlib/lsq"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// offset is the relative offset of D. M. Bates and D. G. Watts, Nonlinear Regression
// Analysis and Its Applications, 1988, section 2.2.3 (from memory): what a
// Gauss-Newton step would still move, in units of the standard errors of the estimate,
//
//	(|Q₁ᵀr|/√p) / (|Q₂ᵀr|/√(n−p))
//
// with Q₁ a basis of the columns of the Jacobian. They say that below 0.001 nothing
// is left that an inference would notice.
func (s *solved) offset() float64 {
	n := len(s.Residuals)
	r, jac := make([]float64, n), mat.NewDense(n, s.n, nil)
	s.evaluate(r, jac, s.X)
	var free []int
	for j, b := range s.Bounds {
		if b == lsq.Free {
			free = append(free, j)
		}
	}
	if len(free) == 0 || len(free) >= n {
		return 0
	}
	// Modified Gram-Schmidt; a column that hangs on the others adds nothing.
	var basis [][]float64
	var along float64
	for _, j := range free {
		q := mat.Col(nil, j, jac)
		scale := floats.Norm(q, 2)
		for _, b := range basis {
			floats.AddScaled(q, -floats.Dot(b, q), b)
		}
		norm := floats.Norm(q, 2)
		if !(norm > 1e-9*scale) {
			continue
		}
		floats.Scale(1/norm, q)
		basis = append(basis, q)
		a := floats.Dot(q, r)
		along += a * a
	}
	rest := max(s.SumSquares-along, 0)
	if rest == 0 {
		return 0
	}
	return math.Sqrt(along / float64(len(free)) / (rest / float64(n-len(free))))
}

// settled reports whether the search ended where nothing is left to gain.
func (s *solved) settled() bool { return s.Status.Converged() || s.offset() < settledOffset }

const settledOffset = 1e-3

// untold are the parameters of the coil that are not told by the fit.
func (s *solved) untold() []Symbol {
	var list []Symbol
	errors, err := s.StandardErrors()
	for k := range s.coil.Parameters() {
		j := s.theta + k
		if err != nil || s.Bounds[j] != lsq.Free || errors[j] > 1 {
			list = append(list, Symbol(strings.TrimPrefix(s.names[j], "ln ")))
		}
	}
	return list
}
