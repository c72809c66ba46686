package freq_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Values of 24.7·(4.37·f/kHz + 1), worked by hand, and of the ERB number as Glasberg
// and Moore (1990, eq. 4; from memory) print it, 21.4·log10(4.37·f/kHz + 1).
func TestERB(t *testing.T) {
	for hz, want := range map[float64][2]float64{
		0:     {24.7, 0},
		100:   {35.494, 3.370},
		1000:  {132.639, 15.621},
		10000: {1104.09, 35.317},
	} {
		if got := freq.ERB(hz); math.Abs(got-want[0]) > 5e-4*want[0]/35 {
			t.Errorf("bandwidth at %g Hz: %.3f Hz, want %.3f", hz, got, want[0])
		}
		if got := freq.ERBNumber(hz); math.Abs(got-want[1]) > 3.3e-3*want[1] {
			t.Errorf("ERB number of %g Hz: %.4f, want %.3f to 0.33 %%", hz, got, want[1])
		}
		const step = 0.01
		if rise := (freq.ERBNumber(hz+2*step) - freq.ERBNumber(hz)) / (2 * step) * freq.ERB(hz+step); math.Abs(rise-1) > 1e-8 {
			t.Errorf("the ERB number rises by %.9f per bandwidth at %g Hz, want 1", rise, hz)
		}
	}
	for _, f := range []func(){func() { freq.ERB(-1) }, func() { freq.ERBNumber(math.NaN()) }} {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("a negative frequency without a panic")
				}
			}()
			f()
		}()
	}
}

// With ERB = 24.7 + c·f and df = ERB·dE, the mean over the ERB number of |r|² = ERB is
// the width in hertz over the width in bandwidths, and that of |r|² = 1/ERB from a to
// b hertz is (1/ERB(a) − 1/ERB(b))/(c·width).
func TestSmoothERBAgainstClosedForm(t *testing.T) {
	const c = 24.7 * 4.37e-3
	g := logGrid(t, 20, 20e3, 192)
	inverse := func(e float64) float64 { return (math.Exp(e*c) - 1) / 4.37e-3 }
	basis := freq.Basis{Quantity: freq.Pressure, Space: freq.FullSpace, Distance: 1}
	rising, falling := make([]complex128, g.Len()), make([]complex128, g.Len())
	for i := range rising {
		b := math.Sqrt(24.7 + c*g.At(i))
		rising[i], falling[i] = cmplx.Rect(b, float64(i)), cmplx.Rect(1/b, float64(-i))
	}
	for _, width := range []float64{0.5, 1, 2} {
		for name, v := range map[string][]complex128{"rising": rising, "falling": falling} {
			r, err := freq.NewResponse(g, v, name, basis)
			if err != nil {
				t.Fatal(err)
			}
			s, err := r.SmoothERB(width, 2)
			if err != nil {
				t.Fatal(err)
			}
			if s.Unit() != "dB" || s.Basis() != basis || s.Label() != name {
				t.Errorf("%q in %s, %v", s.Label(), s.Unit(), s.Basis())
			}
			i, j := g.Between(100, 12e3)
			for ; i < j; i += 11 {
				e := math.Log1p(4.37e-3*g.At(i)) / c
				a, b := inverse(e-width/2), inverse(e+width/2)
				mean := (b - a) / width
				if name == "falling" {
					mean = (1/(24.7+c*a) - 1/(24.7+c*b)) / (c * width)
				}
				if want := level.PowerDB(mean / 4); math.Abs(s.At(i)-want) > 1e-4 {
					t.Errorf("%s, width %g, at %g Hz: %.6f dB, want %.6f", name, width, g.At(i), s.At(i), want)
				}
			}
		}
	}
}

// What the documentation says of a width of 1: a line is spread over that much.
func TestSmoothERBWidth(t *testing.T) {
	for hz, octaves := range map[float64]float64{100: 0.515, 1000: 0.191, 10000: 0.159} {
		g, err := freq.LinearGrid(hz/2, hz*2, 8001)
		if err != nil {
			t.Fatal(err)
		}
		v := make([]complex128, g.Len())
		v[g.Nearest(hz)] = 1
		r, err := freq.NewResponse(g, v, "line", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		s, err := r.SmoothERB(1, 1)
		if err != nil {
			t.Fatal(err)
		}
		var first, last float64
		for i := range s.Len() {
			if s.At(i) > -100 {
				if first == 0 {
					first = g.At(i)
				}
				last = g.At(i)
			}
		}
		if got := math.Log2(last / first); math.Abs(got-octaves) > 2e-3 {
			t.Errorf("a line at %g Hz is spread over %.3f octaves, want %.3f", hz, got, octaves)
		}
	}
}

func TestSmoothERBEdges(t *testing.T) {
	g := logGrid(t, 20, 20e3, 12)
	silent, err := freq.Evaluate(freq.Gain(0), g, "silent", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := silent.SmoothERB(1, 1)
	if err != nil || !math.IsInf(s.At(7), -1) {
		t.Errorf("silence: %g dB (%v), want −Inf", s.At(7), err)
	}
	for want, c := range map[string][2]float64{"over 0 bandwidths": {0, 1}, "over NaN": {math.NaN(), 1}, "reference is 0": {1, 0}, "reference is +Inf": {1, math.Inf(1)}} {
		if _, err := silent.SmoothERB(c[0], c[1]); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}
