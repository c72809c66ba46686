package lsq_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/lsq"
)

// Problems of the NIST set with bounds that bind, against
// scipy.optimize.least_squares (datasets/reference/scipy_least_squares.py).
func TestBoundsAgainstSciPy(t *testing.T) {
	held := 0
	for i, row := range testtable.Read(t, "../../datasets/reference/scipy_least_squares.csv") {
		name := row.Text(t, "problem")
		var p lsq.Problem
		for _, n := range nistProblems {
			if n.name == name {
				p = n.problem()
			}
		}
		p.Lower, p.Upper = row.Numbers(t, "lower"), row.Numbers(t, "upper")
		want, sum, active := row.Numbers(t, "x"), row.Number(t, "sum_squares"), row.Numbers(t, "active")
		r, err := lsq.Minimize(p, row.Numbers(t, "start"), nil)
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		if !r.Status.Converged() || math.Abs(r.SumSquares/sum-1) > 1e-11 {
			t.Errorf("row %d, %s: sum of squares %.14g (%v), SciPy %.14g", i+2, name, r.SumSquares, r.Status, sum)
		}
		for j, v := range want {
			if math.Abs(r.X[j]-v) > 1e-6*math.Abs(v) {
				t.Errorf("row %d, %s: x[%d] is %.10g, SciPy %.10g", i+2, name, j, r.X[j], v)
			}
			if b := map[float64]lsq.Bound{0: lsq.Free, -1: lsq.AtLower, 1: lsq.AtUpper}[active[j]]; r.Bounds[j] != b {
				t.Errorf("row %d, %s: x[%d] is at bound %d, SciPy %g", i+2, name, j, r.Bounds[j], active[j])
			}
			if active[j] != 0 {
				held++
			}
		}
	}
	if held < 6 {
		t.Errorf("only %d parameters are held in the table, want at least 6", held)
	}
}
