package tune

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

var kinds = []digital.Tunable{
	digital.Lowpass{F0: 2100, Q: 0.6}, digital.Highpass{F0: 1900, Q: 1.3}, digital.Peak{F0: 5200, Gain: 0.6, Q: 2.2},
	digital.LowShelf{F0: 700, Gain: 1.7, Q: 0.7}, digital.HighShelf{F0: 6000, Gain: 0.7, Q: 0.8},
	Unwarped{digital.Peak{F0: 11e3, Gain: 1.8, Q: 1.1}}, Unwarped{digital.Lowpass{F0: 9e3, Q: 0.8}}, Unwarped{digital.HighShelf{F0: 9e3, Gain: 1.5, Q: 0.7}},
	Unwarped{digital.LowShelf{F0: 3e3, Gain: 0.6, Q: 0.7}}, Unwarped{digital.Highpass{F0: 3e3, Q: 1.7}},
}

// Responses against those of the cascade, which are made of coefficients by another
// way, and derivatives against differences of them (gonum's fd, central).
func TestSectionsWithPhase(t *testing.T) {
	const rate = 48e3
	g, err := freq.LogGrid(50, 20e3, 12)
	if err != nil {
		t.Fatal(err)
	}
	cascade := func(s digital.Section) []complex128 {
		c, err := digital.NewCascade(rate, s)
		if err != nil {
			t.Fatal(err)
		}
		return c.ResponseTo(nil, g)
	}
	for _, k := range kinds {
		theta := k.ThetaTo(nil)
		n := len(theta)
		h, jac := make([]complex128, g.Len()), make([]complex128, g.Len()*n)
		for i := range h {
			h[i] = 1
		}
		complexTo(h, jac, n, k, theta, g, rate)
		power, slopes := make([]float64, g.Len()), make([]float64, g.Len()*n)
		for i := range power {
			power[i] = 1
		}
		k.PowerTo(power, slopes, n, theta, g, rate)
		want := cascade(k)
		for i, v := range want {
			if cmplx.Abs(h[i]/v-1) > 1e-9 || math.Abs(power[i]/(real(v)*real(v)+imag(v)*imag(v))-1) > 1e-9 {
				t.Fatalf("%v at %g Hz: %v, power %g, want %v", k, g.At(i), h[i], power[i], v)
			}
		}
		both := mat.NewDense(2*g.Len(), n, nil)
		fd.Jacobian(both, func(y, x []float64) {
			for i, v := range cascade(k.With(x)) {
				y[i], y[i+g.Len()] = real(cmplx.Log(v/want[i])), imag(cmplx.Log(v/want[i]))
			}
		}, theta, &fd.JacobianSettings{Formula: fd.Central, Step: 1e-5})
		for i := range h {
			for m := range n {
				re, im := both.At(i, m), both.At(i+g.Len(), m)
				if e := cmplx.Abs(jac[i*n+m] - complex(re, im)); e > 2e-6 {
					t.Fatalf("%v at %g Hz, parameter %d: derivative %v, want %v", k, g.At(i), m, jac[i*n+m], complex(re, im))
				}
				if math.Abs(slopes[i*n+m]-re) > 2e-6 {
					t.Fatalf("%v at %g Hz, parameter %d: derivative of the magnitude %v, want %v", k, g.At(i), m, slopes[i*n+m], re)
				}
			}
		}
	}
}

// The window against the average of package freq.
func TestWindowsAreTheSmoothing(t *testing.T) {
	uneven, err := freq.LinearGrid(300, 9000, 88)
	if err != nil {
		t.Fatal(err)
	}
	even, err := freq.LogGrid(100, 10e3, 48)
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range []*freq.Grid{uneven, even} {
		v, p := make([]complex128, g.Len()), make([]float64, g.Len())
		for i := range v {
			v[i] = complex(1.2+math.Sin(float64(3*i)), math.Cos(float64(i*i)))
			p[i] = real(v[i])*real(v[i]) + imag(v[i])*imag(v[i])
		}
		r, err := freq.NewResponse(g, v, "made", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range []float64{3, 12} {
			want, err := r.SmoothPower(n, 1)
			if err != nil {
				t.Fatal(err)
			}
			for i, w := range windows(g, n) {
				if got := 10 * math.Log(w.of(p)) / math.Ln10; math.Abs(got-want.At(i)) > 1e-9 {
					t.Fatalf("%v, 1/%g octave at %g Hz: %.9f dB, want %.9f", g, n, g.At(i), got, want.At(i))
				}
			}
		}
	}
}

// The Jacobian of a sum against differences, with everything that a sum may have.
func TestSumDerivatives(t *testing.T) {
	g, err := freq.LogGrid(300, 12e3, 12)
	if err != nil {
		t.Fatal(err)
	}
	response := func(tr freq.Transfer) freq.Response {
		r, err := freq.Evaluate(tr, g, "made", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	free := func(s digital.Tunable) Free {
		x := s.ThetaTo(nil)
		lo, hi := append([]float64(nil), x...), append([]float64(nil), x...)
		for k := range x {
			lo[k] -= 0.3
			hi[k] += 0.3
		}
		return Free{Low: s.With(lo), High: s.With(hi), Start: s}
	}
	target := response(freq.Gain(0.9)).DB(1)
	goal := SumGoal{Reference: 1, Smoothing: 6, Spacing: EarBands, From: 400, To: 10e3, SampleRate: 48e3, Views: []Aim{
		{Name: "a", Target: target, Counts: 1}, {Name: "b", Target: target, Counts: 0.6}}}
	b := []Branch{
		{Name: "low", Gain: 0.8, GainDB: 6, Delay: 1e-4, Play: 1e-4, Sources: []freq.Response{response(freq.Gain(1)), response(freq.Delay(2e-5))},
			Sections: []Free{free(kinds[0]), free(kinds[3]), free(kinds[2])}},
		{Name: "high", Gain: 1.2, GainDB: 6, Delay: 2e-4, Play: 1e-4, Inverted: true, Sources: []freq.Response{response(freq.Gain(0.5)), response(freq.Delay(3e-5))},
			Sections: []Free{free(kinds[1]), free(kinds[4]), free(kinds[5])}}}
	p, err := newSum(goal, b, 0.3)
	if err != nil {
		t.Fatal(err)
	}
	rows, n := p.rows(), len(p.x)
	jac, want := mat.NewDense(rows, n, nil), mat.NewDense(rows, n, nil)
	p.evaluate(make([]float64, rows), jac, p.x)
	fd.Jacobian(want, func(y, x []float64) { p.evaluate(y, nil, x) }, p.x, &fd.JacobianSettings{Formula: fd.Central, Step: 1e-5})
	var largest float64
	for i := range rows {
		for k := range n {
			largest = max(largest, math.Abs(want.At(i, k)))
			if e := math.Abs(jac.At(i, k) - want.At(i, k)); e > 1e-8 {
				t.Fatalf("row %d, parameter %d: %g, want %g", i, k, jac.At(i, k), want.At(i, k))
			}
		}
	}
	if largest < 1e-2 {
		t.Fatalf("largest derivative %g: nothing was compared", largest)
	}
	// Without Unwarped sections nothing is allocated in the loop.
	b[1].Sections = b[1].Sections[:2]
	if p, err = newSum(goal, b, 0.3); err != nil {
		t.Fatal(err)
	}
	rows, n = p.rows(), len(p.x)
	r := make([]float64, rows)
	jac = mat.NewDense(rows, n, nil)
	if a := testing.AllocsPerRun(10, func() { p.evaluate(r, jac, p.x) }); a != 0 {
		t.Errorf("%g allocations in an evaluation of a sum", a)
	}
}
