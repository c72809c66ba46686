package tune

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"
)

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
