package identify

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/mat"
)

// hanging is a fit of two curves whose misfit hangs together, that of the second three
// times as large, and of a resistance.
func hanging(t *testing.T) *solved {
	t.Helper()
	random := rand.New(rand.NewPCG(9, 2))
	p := driver.Params{Re: 5.5, Bl: 7.5, Mms: 15e-3, Cms: 1e-3, Rms: 0.8, Sd: 0.0138, Coil: driver.Inductor{Le: 0.4e-3}}
	g, err := freq.LogGrid(10, 2000, 12)
	if err != nil {
		t.Fatal(err)
	}
	var ms []Measurement
	for i, setup := range []Setup{FreeAir{}, AddedMass{Mass: 6e-3}} {
		q := p
		q.Mms += 6e-3 * float64(i)
		z := q.ImpedanceTo(nil, g)
		var state complex128
		for k := range z {
			state = 0.8*state + 0.6*complex(random.NormFloat64(), random.NormFloat64())
			z[k] *= 1 + complex(0.002*float64(1+2*i), 0)*state
		}
		r, err := freq.NewResponse(g, z, setup.String(), freq.Basis{Quantity: freq.Impedance})
		if err != nil {
			t.Fatal(err)
		}
		ms = append(ms, Measurement{Impedance: r, Setup: setup})
	}
	f, err := Fit(ms, &Settings{Re: 5.5, ReError: 0.01, Coils: []driver.TunableCoil{driver.Inductor{}}, Suspensions: []Suspension{Constant}})
	if err != nil {
		t.Fatal(err)
	}
	return f.known.fit
}

// (JᵀJ)⁻¹·JᵀCJ·(JᵀJ)⁻¹ with all of C written out: within each part of each curve the
// autocovariance at each distance, nothing between them, and the resistance by itself.
func TestSandwichWrittenOut(t *testing.T) {
	s := hanging(t)
	n := len(s.Residuals)
	r, jac := make([]float64, n), mat.NewDense(n, s.n, nil)
	s.evaluate(r, jac, s.X)
	freedom := float64(n - s.n)
	var sum float64
	for _, v := range r {
		sum += v * v
	}
	c := mat.NewSymDense(n, nil)
	row := 0
	for i := range s.curves {
		of := s.of(i)
		m := remembers(of)
		if m.share == 0 {
			t.Fatalf("curve %d is said to hold noise alone", i)
		}
		for a := range of {
			for b := range a + 1 {
				if (a-b)%2 != 0 { // a real part and an imaginary one
					continue
				}
				v := m.variance * float64(n) / freedom
				if a != b {
					v *= m.share * math.Pow(m.decay, float64((a-b)/2))
				}
				c.SetSym(row+a, row+b, v)
			}
		}
		row += len(of)
	}
	c.SetSym(row, row, sum/freedom)
	var normal, inverse, half, middle, left, want mat.Dense
	normal.Mul(jac.T(), jac)
	if err := inverse.Inverse(&normal); err != nil {
		t.Fatal(err)
	}
	half.Mul(jac.T(), c)
	middle.Mul(&half, jac)
	left.Mul(&inverse, &middle)
	want.Mul(&left, &inverse)
	got, err := s.covariance()
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.n {
		for j := range s.n {
			scale := math.Sqrt(want.At(i, i) * want.At(j, j))
			if d := got.At(i, j) - want.At(i, j); math.Abs(d) > 1e-6*scale {
				t.Errorf("%s, %s: %g, want %g", s.names[i], s.names[j], got.At(i, j), want.At(i, j))
			}
		}
	}
}

// Two models of as many parameters whose sums of squares are in the ratio q have weights
// in the ratio q^(n/2), n being what the residuals count (from the likelihood of noise).
func TestWeightsOfTwoModels(t *testing.T) {
	s := hanging(t)
	other := *s
	result := *s.Result
	other.Result = &result
	const q = 1.02
	result.SumSquares *= q
	w := weights([]*solved{s, &other}, s)
	n := float64(len(s.Residuals)) / remembers(s.of(0)).time()
	if want := math.Pow(q, n/2); math.Abs(w[0]/w[1]/want-1) > 1e-9 || math.Abs(w[0]+w[1]-1) > 1e-12 || want < 1.1 {
		t.Errorf("weights %v, want a ratio of %g", w, want)
	}
}
