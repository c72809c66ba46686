package lsq_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/lsq"
)

// Problems of the NIST set with bounds that bind, against
// scipy.optimize.least_squares (datasets/reference/scipy_least_squares.py).
func TestBoundsAgainstSciPy(t *testing.T) {
	f, err := os.Open("../../datasets/reference/scipy_least_squares.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	numbers := func(s string) []float64 {
		var out []float64
		for _, w := range strings.Fields(s) {
			v, err := strconv.ParseFloat(w, 64)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, v)
		}
		return out
	}
	held := 0
	for i, row := range rows[1:] {
		var p lsq.Problem
		for _, n := range nistProblems {
			if n.name == row[0] {
				p = n.problem()
			}
		}
		p.Lower, p.Upper = numbers(row[2]), numbers(row[3])
		want, sum, active := numbers(row[4]), numbers(row[5])[0], numbers(row[6])
		r, err := lsq.Minimize(p, numbers(row[1]), nil)
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		if !r.Status.Converged() || math.Abs(r.SumSquares/sum-1) > 1e-11 {
			t.Errorf("row %d, %s: sum of squares %.14g (%v), SciPy %.14g", i+2, row[0], r.SumSquares, r.Status, sum)
		}
		for j, v := range want {
			if math.Abs(r.X[j]-v) > 1e-6*math.Abs(v) {
				t.Errorf("row %d, %s: x[%d] is %.10g, SciPy %.10g", i+2, row[0], j, r.X[j], v)
			}
			if b := map[float64]lsq.Bound{0: lsq.Free, -1: lsq.AtLower, 1: lsq.AtUpper}[active[j]]; r.Bounds[j] != b {
				t.Errorf("row %d, %s: x[%d] is at bound %d, SciPy %g", i+2, row[0], j, r.Bounds[j], active[j])
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
