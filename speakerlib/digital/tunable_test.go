package digital_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

var tunables = []digital.Tunable{
	digital.Peak{800, level.Ratio(5), 1.7}, digital.Peak{18000, level.Ratio(-9), 3}, digital.Peak{45, level.Ratio(4), 6},
	digital.LowShelf{120, level.Ratio(6), 0.7}, digital.LowShelf{9000, level.Ratio(-3), 1.1},
	digital.HighShelf{6000, level.Ratio(-4), 0.6}, digital.HighShelf{200, level.Ratio(8), 0.9},
	digital.Lowpass{3000, 1.3}, digital.Lowpass{20000, 0.6}, digital.Highpass{40, 0.9}, digital.Highpass{15000, 2},
}

// prototype returns the coefficients of s², s and 1 in the numerator and the
// denominator of H(s) of the note, s normalised to ω0, for complex parameters.
func prototype(kind digital.Tunable, gain, q complex128) (num, den [3]complex128) {
	a := cmplx.Sqrt(gain)
	r := cmplx.Sqrt(a)
	switch kind.(type) {
	case digital.Peak:
		return [3]complex128{1, a / q, 1}, [3]complex128{1, 1 / (a * q), 1}
	case digital.LowShelf:
		return [3]complex128{a, a * r / q, a * a}, [3]complex128{a, r / q, 1}
	case digital.HighShelf:
		return [3]complex128{a * a, a * r / q, a}, [3]complex128{1, r / q, a}
	case digital.Lowpass:
		return [3]complex128{0, 0, 1}, [3]complex128{1, 1 / q, 1}
	case digital.Highpass:
		return [3]complex128{1, 0, 0}, [3]complex128{1, 1 / q, 1}
	}
	panic("unknown kind")
}

// The closed form against the coefficients of the very section, and its
// derivatives by complex step through the prototypes H(s) of the note:
// |c2·s² + c1·s + c0|² at s = jy is (c0 − c2·y²)² + c1²·y², analytic in θ, so
// that the imaginary part of ln|H| at θ + j·10⁻³⁰ is 10⁻³⁰ times the derivative,
// without any cancellation.
func TestTunableAgainstCoefficients(t *testing.T) {
	const fs, step = 48000.0, 1e-30
	g, err := freq.LogGrid(15, 23500, 12)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range tunables {
		theta := s.ThetaTo(nil)
		n := s.Parameters()
		if len(theta) != n || len(s.Names()) != n {
			t.Fatalf("%v has %d parameters and %d names", s, len(theta), n)
		}
		b, err := s.Biquad(fs)
		if err != nil {
			t.Fatal(err)
		}
		stride := n + 2
		jac := make([]float64, g.Len()*stride)
		got := digital.LogMagnitudeTo(nil, jac, stride, []digital.Tunable{s}, theta, g, fs)
		bare := digital.LogMagnitudeTo(nil, nil, 0, []digital.Tunable{s}, theta, g, fs)
		for i := range g.Len() {
			hz := g.At(i)
			if want := math.Log(cmplx.Abs(b.At(hz, fs))); math.Abs(got[i]-want) > 1e-11 || math.Abs(bare[i]-got[i]) > 1e-13 {
				t.Errorf("%v at %g Hz: %.14g Np, without Jacobian %.14g, want %.14g", s, hz, got[i], bare[i], want)
			}
			for k := range n {
				c := make([]complex128, n)
				for m, v := range theta {
					c[m] = complex(v, 0)
				}
				c[k] += complex(0, step)
				gain := complex(1, 0)
				if n == 3 {
					gain = cmplx.Exp(c[1])
				}
				q := cmplx.Exp(c[n-1])
				y := complex(math.Tan(math.Pi*hz/fs), 0) / cmplx.Tan(math.Pi/fs*cmplx.Exp(c[0]))
				power := func(c [3]complex128) complex128 {
					re := c[2] - c[0]*y*y
					return re*re + c[1]*c[1]*y*y
				}
				num, den := prototype(s, gain, q)
				want := imag(cmplx.Log(power(num)/power(den))) / 2 / step
				if d := math.Abs(jac[i*stride+k] - want); d > 1e-12*(1+math.Abs(want)) {
					t.Errorf("%v at %g Hz: ∂/∂(%s) is %.14g, want %.14g", s, hz, s.Names()[k], jac[i*stride+k], want)
				}
			}
			if jac[i*stride+n] != 0 || jac[i*stride+n+1] != 0 {
				t.Fatalf("%v writes beyond its own columns", s)
			}
		}
	}
}

func TestTunableSums(t *testing.T) {
	const fs = 48000.0
	g, err := freq.LogGrid(20, 20000, 24)
	if err != nil {
		t.Fatal(err)
	}
	var theta []float64
	want := make([]float64, g.Len())
	for _, s := range tunables {
		th := s.ThetaTo(nil)
		one := digital.LogMagnitudeTo(nil, nil, 0, []digital.Tunable{s}, th, g, fs)
		for i, v := range one {
			want[i] += v
		}
		theta = append(theta, th...)
		if back := s.With(th); math.Abs(back.ThetaTo(nil)[0]-th[0]) > 1e-14 {
			t.Errorf("With(Theta) of %v is %v", s, back)
		}
	}
	stride := len(theta)
	jac := make([]float64, stride*g.Len())
	dst := make([]float64, g.Len())
	digital.LogMagnitudeTo(dst, jac, stride, tunables, theta, g, fs)
	for i := range dst {
		if math.Abs(dst[i]-want[i]) > 1e-12 {
			t.Errorf("at %g Hz: %g Np, the parts sum to %g Np", g.At(i), dst[i], want[i])
		}
	}
	if n := testing.AllocsPerRun(10, func() { digital.LogMagnitudeTo(dst, jac, stride, tunables, theta, g, fs) }); n != 0 {
		t.Errorf("allocates %g times", n)
	}
	for name, call := range map[string]func(){
		"short theta": func() { digital.LogMagnitudeTo(dst, nil, 0, tunables, theta[1:], g, fs) },
		"long theta":  func() { digital.LogMagnitudeTo(dst, nil, 0, tunables[1:], theta, g, fs) },
		"short jac":   func() { digital.LogMagnitudeTo(dst, jac[1:], stride, tunables, theta, g, fs) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s does not panic", name)
				}
			}()
			call()
		}()
	}
}

// Eight peaks with their Jacobian at 481 frequencies.
func BenchmarkLogMagnitudeJacobian(b *testing.B) {
	g, err := freq.LogGrid(20, 20480, 48)
	if err != nil {
		b.Fatal(err)
	}
	var s []digital.Tunable
	var theta []float64
	for k := range 8 {
		p := digital.Peak{40 * math.Exp2(float64(k)), level.Ratio(float64(k) - 4), 1.5}
		s = append(s, p)
		theta = append(theta, p.ThetaTo(nil)...)
	}
	dst, jac := make([]float64, g.Len()), make([]float64, g.Len()*24)
	b.ReportAllocs()
	for b.Loop() {
		digital.LogMagnitudeTo(dst, jac, 24, s, theta, g, 96000)
	}
}
