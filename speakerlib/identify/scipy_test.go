package identify_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// scipyPair is the pair of curves of testdata/scipy_fit.py.
func scipyPair(tb testing.TB) []identify.Measurement {
	tb.Helper()
	var hz []float64
	var z [2][]complex128
	for _, row := range testtable.Read(tb, "testdata/scipy_curves.csv") {
		hz = append(hz, row.Number(tb, "frequency_Hz"))
		for k, name := range []string{"free", "mass"} {
			z[k] = append(z[k], complex(row.Number(tb, name+"_real_ohm"), row.Number(tb, name+"_imag_ohm")))
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
	for _, row := range testtable.Read(t, "testdata/scipy_fit.csv") {
		name, want, sigma := row.Text(t, "parameter"), row.Number(t, "value"), row.Number(t, "standard_error")
		if name == "Rms" { // without the loss of the creep
			if math.Abs(d.Rms-want) > 1e-3*sigma {
				t.Errorf("Rms is %.10g, want %.10g", d.Rms, want)
			}
			continue
		}
		p := value(t, r, identify.Symbol(name))
		if math.Abs(p.Value-want) > 1e-3*sigma {
			t.Errorf("%s is %.10g, want %.10g (a thousandth of %.2g)", name, p.Value, want, sigma)
		}
		if math.Abs(p.Error/sigma-1) > 1e-3 {
			t.Errorf("error of %s is %.6g, want %.6g", name, p.Error, sigma)
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
