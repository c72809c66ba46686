package tradeoff

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/floats"
)

// Every 397th of 10 000 candidates, and the size of the front, against NumPy 1.24.2,
// which solves the circuit from its flows: script and command in
// testdata/numpy_search.py.
func TestSearchAgainstNumPy(t *testing.T) {
	file, err := os.Open("testdata/numpy_search.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	s := benchStudy(t)
	r, err := s.Search()
	if err != nil {
		t.Fatal(err)
	}
	for n, row := range rows[1:] {
		var v [13]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		if n == len(rows)-2 {
			feasible := 0
			for i := range r.Points {
				if r.Points[i].Feasible() {
					feasible++
				}
			}
			// Where the vent's air binds, cabinets of all sizes are alike, but for
			// rounding.
			unlike := map[[3]float64]bool{}
			for _, p := range r.Front {
				round := func(v float64) float64 { return math.Round(v * 1e6) }
				unlike[[3]float64{round(p.Extension), round(p.MaxLevel), round(p.Delay)}] = true
			}
			if len(unlike) != int(v[10]) || feasible != int(v[11]) {
				t.Errorf("%d of %d on the front, want %g of %g", len(unlike), feasible, v[10], v[11])
			}
			break
		}
		p := r.Points[397*n]
		for i, got := range []float64{p.Gross, p.Tuning, float64(int(v[2])), p.Extension, p.Delay, p.MaxLevel, p.Excursion, p.VentAir, p.Volts, p.Amperes, p.Power, p.Heat, p.Length} {
			if math.Abs(got-v[i]) > 1e-9*math.Abs(v[i]) {
				t.Errorf("row %d: %s is %.12g, want %.12g", n+2, rows[0][i], got, v[i])
			}
		}
		if want := map[float64]string{4: "Butterworth order 4", 6: "Butterworth order 6"}[v[2]]; p.Shape != want {
			t.Errorf("row %d: target is %q, want %q", n+2, p.Shape, want)
		}
	}
	if len(rows) != 28 {
		t.Errorf("table has %d rows", len(rows))
	}
}

// The largest of a product by blocks is that of all, wherever the search begins.
func TestMostFindsTheLargest(t *testing.T) {
	a, b := newColumn(29), newColumn(29)
	x := uint64(7)
	for range 300 {
		want := 0.0
		for i := range 29 {
			x = x*6364136223846793005 + 1442695040888963407
			a.value[i] = float64(x>>40) / (1 << 24)
			x = x*6364136223846793005 + 1442695040888963407
			b.value[i] = math.Exp(float64(i)/9) * float64(x>>40) / (1 << 24)
			want = math.Max(want, a.value[i]*b.value[i])
		}
		a.summarise()
		b.summarise()
		for first := range a.block {
			if got, in := most(a, b, first); got != want || inBlock(a, b, in) != want {
				t.Fatalf("largest is %g in block %d, want %g", got, in, want)
			}
		}
	}
	if got := dot(a.value[:29], b.value); math.Abs(got/floats.Dot(a.value[:29], b.value[:29])-1) > 1e-14 {
		t.Errorf("sum of products is %g", got)
	}
}
