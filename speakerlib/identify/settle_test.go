package identify

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/mat"
)

// sample is a fit of a woofer with a ladder of its coil and 0.3 % noise.
func sample(t *testing.T) *solved {
	t.Helper()
	g, err := freq.LogGrid(8, 20000, 20)
	if err != nil {
		t.Fatal(err)
	}
	p := driver.Params{Re: 5.5, Bl: 7.5, Mms: 15.2e-3, Cms: 0.97e-3, Rms: 0.85, Sd: 138e-4, Coil: driver.Ladder{Le: 0.2e-3, L2: 0.4e-3, R2: 6}}
	z := p.ImpedanceTo(nil, g)
	random := rand.New(rand.NewPCG(2, 5))
	for i := range z {
		z[i] *= 1 + complex(0.003*random.NormFloat64(), 0.003*random.NormFloat64())
	}
	r, err := freq.NewResponse(g, z, "test", freq.Basis{Quantity: freq.Impedance})
	if err != nil {
		t.Fatal(err)
	}
	c, err := newCurve(Measurement{Impedance: r, Setup: FreeAir{}}, &Settings{})
	if err != nil {
		t.Fatal(err)
	}
	m := newModel(driver.Ladder{}, Constant, []*curve{c})
	x, err := m.start(0)
	if err != nil {
		t.Fatal(err)
	}
	s, err := m.solve(x, fine, patient)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A point that lies a tenth of a standard deviation beside the minimum, along one of p
// principal axes, has the relative offset 0.1/√p by its definition.
func TestOffset(t *testing.T) {
	s := sample(t)
	cov, err := s.Covariance()
	if err != nil {
		t.Fatal(err)
	}
	if o := s.offset(); o > 1e-6 {
		t.Fatalf("the offset at the minimum is %.3g, want 0", o)
	}
	axes, err := (&knowledge{fit: s, cov: cov}).axes()
	if err != nil {
		t.Fatal(err)
	}
	if len(axes) != s.n {
		t.Fatalf("%d axes of %d parameters", len(axes), s.n)
	}
	keep := append([]float64(nil), s.X...)
	for k, axis := range axes {
		for j := range s.X {
			s.X[j] = keep[j] + 0.1*axis[j]
		}
		r := make([]float64, len(s.Residuals))
		s.evaluate(r, mat.NewDense(len(r), s.n, nil), s.X)
		s.SumSquares = meanSquare(r) * float64(len(r))
		if o, want := s.offset(), 0.1/math.Sqrt(float64(s.n)); math.Abs(o/want-1) > 0.02 {
			t.Errorf("axis %d: offset %.4g, want %.4g", k, o, want)
		}
		copy(s.X, keep)
	}
}
