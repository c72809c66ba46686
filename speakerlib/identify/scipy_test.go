package identify_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
)

func records(tb testing.TB, name string) [][]string {
	tb.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		tb.Fatal(err)
	}
	return rows[1:]
}

func number(tb testing.TB, s string) float64 {
	tb.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// scipyPair is the pair of curves of testdata/scipy_fit.py.
func scipyPair(tb testing.TB) []identify.Measurement {
	tb.Helper()
	var hz []float64
	var z [2][]complex128
	for _, row := range records(tb, "scipy_curves.csv") {
		hz = append(hz, number(tb, row[0]))
		for k := range z {
			z[k] = append(z[k], complex(number(tb, row[1+2*k]), number(tb, row[2+2*k])))
		}
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		tb.Fatal(err)
	}
	ms := []identify.Measurement{{Setup: identify.FreeAir{}}, {Setup: identify.AddedMass{Mass: 6e-3}}}
	for k := range ms {
		if ms[k].Impedance, err = freq.NewResponse(g, z[k], "pair", freq.Basis{Quantity: freq.Impedance}); err != nil {
			tb.Fatal(err)
		}
	}
	return ms
}

// The same curves and weights, fitted by scipy.optimize.least_squares with other
// parameters (Mms, Bl, Rms instead of their ratios), a start 10 % beside the truth,
// and a model that it is told: the same minimum and the same standard errors, with a
// model that is found.
func TestAgreesWithSciPy(t *testing.T) {
	r, err := identify.Fit(scipyPair(t), &identify.Settings{Sd: 138e-4})
	if err != nil {
		t.Fatal(err)
	}
	d, err := r.Driver()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range records(t, "scipy_fit.csv") {
		want, sigma := number(t, row[1]), number(t, row[2])
		if row[0] == "Rms" { // without the loss of the creep
			if math.Abs(d.Rms-want) > 1e-3*sigma {
				t.Errorf("Rms is %.10g, want %.10g", d.Rms, want)
			}
			continue
		}
		p := value(t, r, identify.Symbol(row[0]))
		if math.Abs(p.Value-want) > 1e-3*sigma {
			t.Errorf("%s is %.10g, want %.10g (a thousandth of %.2g)", row[0], p.Value, want, sigma)
		}
		if math.Abs(p.Error/sigma-1) > 1e-3 {
			t.Errorf("error of %s is %.6g, want %.6g", row[0], p.Error, sigma)
		}
	}
}

// BenchmarkSciPyPair is what testdata/scipy_fit.py times, the choice among all models
// included.
func BenchmarkSciPyPair(b *testing.B) {
	ms := scipyPair(b)
	for b.Loop() {
		if _, err := identify.Fit(ms, &identify.Settings{Sd: 138e-4}); err != nil {
			b.Fatal(err)
		}
	}
}
