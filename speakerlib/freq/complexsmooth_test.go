package freq_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"pgregory.net/rapid"
)

// The mean of 1/(1+jx) over log x from a to b has the closed form
// [ln x − ln(1+jx)]/ln(b/a).
func TestSmoothComplexAgainstClosedForm(t *testing.T) {
	g := logGrid(t, 10, 10e3, 192)
	lp := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1/(2*math.Pi*300))}
	basis := freq.Basis{Quantity: freq.Pressure, Space: freq.FullSpace, Distance: 1}
	r, err := freq.Evaluate(lp, g, "first order", basis)
	if err != nil {
		t.Fatal(err)
	}
	late, err := freq.Evaluate(freq.Series{lp, freq.Delay(4e-3)}, g, "late", basis)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []float64{1, 3, 12} {
		s, err := r.SmoothComplex(n, 0)
		if err != nil {
			t.Fatal(err)
		}
		l, err := late.SmoothComplex(n, 4e-3)
		if err != nil {
			t.Fatal(err)
		}
		if s.Basis() != basis || s.Label() != "first order" {
			t.Errorf("%q, %v", s.Label(), s.Basis())
		}
		i, j := g.Between(30, 3000)
		for ; i < j; i += 7 {
			a, b := g.At(i)/300*math.Exp2(-0.5/n), g.At(i)/300*math.Exp2(0.5/n)
			anti := func(x float64) complex128 { return complex(math.Log(x), 0) - cmplx.Log(complex(1, x)) }
			want := (anti(b) - anti(a)) / complex(math.Log(b/a), 0)
			if cmplx.Abs(s.At(i)-want) > 2e-6 {
				t.Errorf("1/%g octave at %g Hz: %.7f, want %.7f", n, g.At(i), s.At(i), want)
			}
			// A flight that is told does not change the magnitude, and stays in.
			if d := cmplx.Abs(l.At(i) - want*cmplx.Rect(1, -g.Omega()[i]*4e-3)); d > 2e-6 {
				t.Errorf("1/%g octave at %g Hz, 4 ms late: off by %.2g", n, g.At(i), d)
			}
		}
	}
}

// The spectrum of what arrives t late is averaged over a band of f·ln2/n: sin x/x.
func TestSmoothComplexTakesLateSoundDown(t *testing.T) {
	const n, late = 24.0, 3e-3
	g, err := freq.LinearGrid(500, 20e3, 20000)
	if err != nil {
		t.Fatal(err)
	}
	r, err := freq.Evaluate(freq.Delay(late), g, "late", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := r.SmoothComplex(n, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, hz := range []float64{1000, 3000, 6000, n / (math.Ln2 * late), 15e3} {
		i := g.Nearest(hz)
		x := math.Pi * g.At(i) * late * math.Ln2 / n
		if want := math.Abs(math.Sin(x) / x); math.Abs(cmplx.Abs(s.At(i))-want) > 0.01 {
			t.Errorf("at %.5g Hz: %.4f, want %.4f", hz, cmplx.Abs(s.At(i)), want)
		}
	}
}

// Smoothing is linear, moves with the frequency axis, and no average is larger than
// the mean of the power (Cauchy and Schwarz).
func TestSmoothComplexProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 80).Draw(t, "points")
		hz, high := make([]float64, n), make([]float64, n)
		f := rapid.Float64Range(10, 100).Draw(t, "first")
		for i := range hz {
			hz[i], high[i] = f, 8*f
			f *= 1 + rapid.Float64Range(0.001, 0.3).Draw(t, "step")
		}
		g, err1 := freq.NewGrid(hz)
		up, err2 := freq.NewGrid(high)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		delay := rapid.Float64Range(-1e-2, 1e-2).Draw(t, "delay")
		perOctave := rapid.Float64Range(0.5, 24).Draw(t, "n")
		draw := func(label string) []complex128 {
			return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) complex128 {
				return complex(rapid.Float64Range(-1, 1).Draw(t, "re"), rapid.Float64Range(-1, 1).Draw(t, "im"))
			}), n, n).Draw(t, label)
		}
		response := func(g *freq.Grid, v []complex128) freq.Response {
			r, err := freq.NewResponse(g, v, "drawn", freq.Basis{})
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		smooth := func(g *freq.Grid, v []complex128, delay float64) freq.Response {
			s, err := response(g, v).SmoothComplex(perOctave, delay)
			if err != nil {
				t.Fatal(err)
			}
			return s
		}
		a, b := draw("a"), draw("b")
		k := complex(0.3, -2)
		mixed := make([]complex128, n)
		for i := range mixed {
			mixed[i] = a[i] + k*b[i]
		}
		sa, sb, sm, su := smooth(g, a, delay), smooth(g, b, delay), smooth(g, mixed, delay), smooth(up, a, delay/8)
		power, err := response(g, a).SmoothPower(perOctave, 1)
		if err != nil {
			t.Fatal(err)
		}
		for i := range n {
			if d := cmplx.Abs(sm.At(i) - sa.At(i) - k*sb.At(i)); d > 1e-12 {
				t.Fatalf("not linear at %g Hz: %.2g", hz[i], d)
			}
			if d := cmplx.Abs(su.At(i) - sa.At(i)); d > 1e-9 {
				t.Fatalf("three octaves up at %g Hz: off by %.2g", hz[i], d)
			}
			if over := cmplx.Abs(sa.At(i)) - level.Ratio(power.At(i)); over > 1e-12 {
				t.Fatalf("%.3g above the power average at %g Hz", over, hz[i])
			}
		}
	})
}

func TestSmoothComplexRefuses(t *testing.T) {
	r, err := freq.Evaluate(freq.Gain(1), logGrid(t, 20, 20e3, 12), "flat", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	for want, c := range map[string][2]float64{"1/0 octave": {0, 0}, "1/NaN octave": {math.NaN(), 0}, "delay of NaN s": {3, math.NaN()}, "delay of +Inf s": {3, math.Inf(1)}} {
		if _, err := r.SmoothComplex(c[0], c[1]); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

func BenchmarkSmoothComplex(b *testing.B) {
	g, err := freq.LogGrid(20, 20480, 48)
	if err != nil {
		b.Fatal(err)
	}
	r, err := freq.Evaluate(highpass2(60, 0.7), g, "high-pass", freq.Basis{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := r.SmoothComplex(12, 1e-3); err != nil {
			b.Fatal(err)
		}
	}
}
