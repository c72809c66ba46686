package tradeoff

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats"

	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// Every 397th of 10 000 candidates, and the size of the front, against NumPy 1.24.2,
// which solves the circuit from its flows: script and command in
// testdata/numpy_search.py.
func TestSearchAgainstNumPy(t *testing.T) {
	s := benchStudy(t)
	r, err := s.Search()
	if err != nil {
		t.Fatal(err)
	}
	rows := testtable.Read(t, "testdata/numpy_search.csv")
	if len(rows) != 27 {
		t.Fatalf("table has %d rows, want 27", len(rows))
	}
	for n, row := range rows[:26] {
		p := r.Points[397*n]
		for column, got := range map[string]float64{"gross": p.Gross, "fb": p.Tuning, "extension": p.Extension, "delay": p.Delay, "level": p.MaxLevel,
			"excursion": p.Excursion, "air": p.VentAir, "volts": p.Volts, "amps": p.Amperes, "power": p.Power, "heat": p.Heat, "length": p.Length} {
			if want := row.Number(t, column); math.Abs(got-want) > 1e-9*math.Abs(want) {
				t.Errorf("row %d: %s is %.12g, want %.12g", n+2, column, got, want)
			}
		}
		if want := map[float64]string{4: "Butterworth order 4", 6: "Butterworth order 6"}[row.Number(t, "order")]; p.Shape != want {
			t.Errorf("row %d: target is %q, want %q", n+2, p.Shape, want)
		}
	}
	feasible := 0
	for i := range r.Points {
		if r.Points[i].Feasible() {
			feasible++
		}
	}
	// Where the vent's air binds, cabinets of all sizes are alike, but for rounding.
	unlike := map[[3]float64]bool{}
	for _, p := range r.Front {
		round := func(v float64) float64 { return math.Round(v * 1e6) }
		unlike[[3]float64{round(p.Extension), round(p.MaxLevel), round(p.Delay)}] = true
	}
	// Two columns of the last row hold the sizes of the front and of what keeps all limits.
	sizes := rows[26]
	if front, keep := int(sizes.Number(t, "power")), int(sizes.Number(t, "heat")); len(unlike) != front || feasible != keep {
		t.Errorf("%d of %d on the front, want %d of %d", len(unlike), feasible, front, keep)
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
