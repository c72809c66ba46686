package lsq_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/lsq"
)

// sectionFit is a fit of eight peaks, 24 parameters, to a target of eight peaks
// elsewhere and a ripple that they cannot follow, at 481 frequencies.
func sectionFit(tb testing.TB) (lsq.Problem, []float64) {
	tb.Helper()
	const fs = 96000
	g, err := freq.LogGrid(20, 20480, 48)
	if err != nil {
		tb.Fatal(err)
	}
	var s []digital.Tunable
	var theta, want []float64
	var lower, upper []float64
	for k := range 8 {
		f := 40 * math.Exp2(float64(k))
		sign := float64(1 - 2*(k%2))
		want = append(want, digital.Peak{F0: f * (1 + 0.1*math.Sin(float64(k))), Gain: level.Ratio(sign * (2 + float64(k%4))), Q: 1.2 + 0.2*float64(k%3)}.ThetaTo(nil)...)
		p := digital.Peak{F0: f, Gain: level.Ratio(sign), Q: 1}
		s = append(s, p)
		theta = append(theta, p.ThetaTo(nil)...)
		lower = append(lower, math.Log(f/2), math.Log(level.Ratio(-12)), math.Log(0.3))
		upper = append(upper, math.Log(f*2), math.Log(level.Ratio(12)), math.Log(8))
	}
	target := digital.LogMagnitudeTo(nil, nil, 0, s, want, g, fs)
	for i := range target {
		target[i] += 0.02 * math.Sin(float64(i))
	}
	return lsq.Problem{
		Residuals: g.Len(), Lower: lower, Upper: upper,
		Func: func(r []float64, jac *mat.Dense, x []float64) {
			raw := jac.RawMatrix()
			digital.LogMagnitudeTo(r, raw.Data, raw.Stride, s, x, g, fs)
			for i, v := range target {
				r[i] -= v
			}
		},
	}, theta
}

// The ripple is 0.02 Np·sin i, of an rms of 0.0141 Np: what is left cannot be
// more than it, since the target's own parameters leave just that.
func TestSectionFit(t *testing.T) {
	p, x := sectionFit(t)
	r, err := lsq.Minimize(p, x, nil)
	if err != nil {
		t.Fatal(err)
	}
	var ripple float64
	for i := range p.Residuals {
		v := 0.02 * math.Sin(float64(i))
		ripple += v * v
	}
	if !r.Status.Converged() || r.SumSquares > ripple {
		t.Errorf("%v with a sum of squares of %g, want at most %g", r.Status, r.SumSquares, ripple)
	}
	// A regression guard: about twice the evaluations that it takes now.
	if r.Evaluations > 40 {
		t.Errorf("%d evaluations, want at most 40", r.Evaluations)
	}
	t.Logf("%d evaluations, condition %.3g, rms %.3g Np", r.Evaluations, r.Condition, math.Sqrt(r.SumSquares/float64(p.Residuals)))
}

func BenchmarkSectionFit(b *testing.B) {
	p, x := sectionFit(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := lsq.Minimize(p, x, nil); err != nil {
			b.Fatal(err)
		}
	}
}
