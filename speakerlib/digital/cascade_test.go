package digital_test

import (
	"math"
	"math/big"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// hard is a chain that is awkward to evaluate: low frequencies at a high rate,
// high Q, zeros on the unit circle, sections on top of each other.
func hard(t testing.TB, fs float64) *digital.Cascade {
	t.Helper()
	c, err := digital.NewCascade(fs,
		digital.Highpass{20, 0.7}, digital.Highpass{20, 1.9},
		digital.Peak{40, level.Ratio(6), 8}, digital.Peak{41, level.Ratio(-6), 12},
		digital.LowShelf{35, level.Ratio(9), 0.8}, digital.LowShelf{60, level.Ratio(-4), 0.6},
		digital.Notch{8000, 10}, digital.Lowpass{2300, 0.54}, digital.Lowpass{2300, 1.31},
		digital.Peak{30, level.Ratio(3), 30}, digital.HighShelf{9000, level.Ratio(-2), 0.7},
		digital.FirstLowpass{19000}, digital.FirstHighpass{3}, digital.Allpass{500, 2}, digital.Bandpass{1000, 0.3})
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithGain(0.37); err != nil {
		t.Fatal(err)
	}
	return c.WithPolarity(true)
}

// plain evaluates b0 + b1·z⁻¹ + … of the same coefficients in 300-bit arithmetic.
func plain(c *digital.Cascade, hz float64) complex128 {
	const prec = 300
	n := func(v float64) *big.Float { return new(big.Float).SetPrec(prec).SetFloat64(v) }
	op := func() *big.Float { return new(big.Float).SetPrec(prec) }
	// π to 95 digits.
	pi, _, err := big.ParseFloat("3.14159265358979323846264338327950288419716939937510582097494459230781640628620899862803482534211", 10, prec, big.ToNearestEven)
	if err != nil {
		panic(err)
	}
	w := op().Quo(op().Mul(op().Mul(n(2), pi), n(hz)), n(c.SampleRate()))
	cos, sin := n(0), n(0)
	term := n(1)
	for k := 0; k < 120; k++ { // Taylor series of e^{−jΩ}
		switch k % 4 {
		case 0:
			cos.Add(cos, term)
		case 1:
			sin.Sub(sin, term)
		case 2:
			cos.Sub(cos, term)
		case 3:
			sin.Add(sin, term)
		}
		term = op().Quo(op().Mul(term, w), n(float64(k+1)))
	}
	cos2 := op().Sub(op().Mul(cos, cos), op().Mul(sin, sin))
	sin2 := op().Mul(n(2), op().Mul(cos, sin))
	re, im := n(c.Gain()), n(0)
	if c.Inverted() {
		re.Neg(re)
	}
	poly := func(b0, b1, b2 float64) (x, y *big.Float) {
		x = op().Add(n(b0), op().Add(op().Mul(n(b1), cos), op().Mul(n(b2), cos2)))
		y = op().Add(op().Mul(n(b1), sin), op().Mul(n(b2), sin2))
		return x, y
	}
	mul := func(a, b, x, y *big.Float) (*big.Float, *big.Float) {
		return op().Sub(op().Mul(a, x), op().Mul(b, y)), op().Add(op().Mul(a, y), op().Mul(b, x))
	}
	for i := range c.Len() {
		b := c.At(i)
		x, y := poly(b.B0, b.B1, b.B2)
		re, im = mul(re, im, x, y)
		x, y = poly(1, b.A1, b.A2)
		q := op().Add(op().Mul(x, x), op().Mul(y, y))
		re, im = mul(re, im, x, op().Neg(y))
		re, im = op().Quo(re, q), op().Quo(im, q)
	}
	a, _ := re.Float64()
	b, _ := im.Float64()
	return complex(a, b)
}

// The folded real form agrees with plain evaluation in exact enough arithmetic
// to 1e-9 dB from 10 Hz to close to half the sample rate.
func TestFoldedFormAgainstPlainEvaluation(t *testing.T) {
	for _, fs := range []float64{44100, 48000, 96000, 192000} {
		c := hard(t, fs)
		g, err := freq.LogGrid(10, 0.4999*fs, 24)
		if err != nil {
			t.Fatal(err)
		}
		h := c.ResponseTo(nil, g)
		worst, where := 0.0, 0.0
		for i, got := range h {
			want := plain(c, g.At(i))
			if e := cmplx.Abs(got-want) / cmplx.Abs(want); e > worst {
				worst, where = e, g.At(i)
			}
		}
		// A relative complex error of e is a level error of at most 8.69·e dB.
		if db := level.DB(1 + worst); db > 1e-9 {
			t.Errorf("at %g Hz: folded evaluation is off by %.2g dB at %g Hz, want 1e-9 dB", fs, db, where)
		} else {
			t.Logf("at %g Hz: worst %.2g dB at %.4g Hz", fs, db, where)
		}
	}
}

// A second route that shares nothing with the folded form: the product of the
// sections' own values, with delay.
func TestCascadeIsTheProductOfItsParts(t *testing.T) {
	c := hard(t, 48000)
	c, err := c.WithDelay(17)
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LogGrid(20, 20000, 12)
	if err != nil {
		t.Fatal(err)
	}
	for i, got := range c.ResponseTo(nil, g) {
		want := complex(-0.37, 0) * cmplx.Exp(complex(0, -g.Omega()[i]*17/48000))
		for k := range c.Len() {
			want *= c.At(k).At(g.At(i), 48000)
		}
		if cmplx.Abs(got-want) > 1e-11*cmplx.Abs(want) {
			t.Errorf("at %g Hz: %v, want %v", g.At(i), got, want)
		}
	}
}

// Group delay against numerical differentiation of the response, and the closed
// form for an all-pass at low frequency: a second-order all-pass delays by
// 2/(ω0·Q) at direct current and by 4Q/ω0 at ω0, with ω0 = 2·fs·tan(π·f0/fs)
// warped (derivative of −2·atan((ω/ω0/Q)/(1−ω²/ω0²))).
func TestGroupDelay(t *testing.T) {
	c := hard(t, 48000)
	c, err := c.WithDelay(5)
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LogGrid(15, 22000, 12)
	if err != nil {
		t.Fatal(err)
	}
	curve, err := c.GroupDelay(g, "chain")
	if err != nil {
		t.Fatal(err)
	}
	numeric := freq.GroupDelay(c, g, "numeric")
	for i := range g.Len() {
		if d := math.Abs(curve.At(i) - numeric.At(i)); d > 2e-8/g.At(i)*100 {
			t.Errorf("at %g Hz: group delay %g s, numerically %g s", g.At(i), curve.At(i), numeric.At(i))
		}
	}
	const f0, q, fs = 100.0, 1.7, 96000.0
	b, err := digital.Allpass{f0, q}.Biquad(fs)
	if err != nil {
		t.Fatal(err)
	}
	w0 := 2 * fs * math.Tan(math.Pi*f0/fs)
	if got, want := b.GroupDelay(0, fs), 2/(w0*q); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("delay of the all-pass at 0 Hz is %.12g s, want %.12g s", got, want)
	}
	// dω_analogue/dω = 1 + tan²(Ω/2) at f0.
	k := 1 + math.Pow(math.Tan(math.Pi*f0/fs), 2)
	if got, want := b.GroupDelay(f0, fs), 4*q/w0*k; math.Abs(got/want-1) > 1e-9 {
		t.Errorf("delay of the all-pass at F0 is %.12g s, want %.12g s", got, want)
	}
	// Zeros on the unit circle do not spoil it.
	n, err := digital.Notch{1000, 5}.Biquad(48000)
	if err != nil {
		t.Fatal(err)
	}
	lo, at, hi := n.GroupDelay(999.999, 48000), n.GroupDelay(1000, 48000), n.GroupDelay(1000.001, 48000)
	if math.Abs(at-(lo+hi)/2) > 1e-6*at {
		t.Errorf("group delay at the notch is %g s between %g and %g s", at, lo, hi)
	}
}

// Half the delay of a sample at direct current is that of b0 + b1·z⁻¹ with b0 = b1.
func TestGroupDelayOfAMeanOfTwo(t *testing.T) {
	b := digital.Biquad{B0: 0.5, B1: 0.5}
	for _, hz := range []float64{0, 1000, 20000} {
		if got, want := b.GroupDelay(hz, 48000), 0.5/48000; math.Abs(got-want) > 1e-18 {
			t.Errorf("at %g Hz: %g s, want %g s", hz, got, want)
		}
	}
}

// The response is the Fourier transform of the impulse response that the
// time-domain filter gives.
func TestFilterAgainstResponse(t *testing.T) {
	const fs = 48000.0
	c, err := digital.NewCascade(fs, digital.Peak{3000, level.Ratio(8), 2}, digital.HighShelf{8000, level.Ratio(-5), 0.7},
		digital.Lowpass{9000, 0.9}, digital.FirstLowShelf{2000, 2}, digital.Notch{5000, 1})
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithGain(0.8); err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithDelay(7); err != nil {
		t.Fatal(err)
	}
	c = c.WithPolarity(true)
	x := make([]float64, 4096)
	x[0] = 1
	f := c.NewFilter()
	y := append(f.Process(nil, x[:5]), f.Process(nil, x[5:])...) // in two calls
	g, err := freq.LogGrid(50, 23000, 6)
	if err != nil {
		t.Fatal(err)
	}
	h := c.ResponseTo(nil, g)
	for i := range g.Len() {
		var sum complex128
		for n, v := range y {
			sum += complex(v, 0) * cmplx.Exp(complex(0, -2*math.Pi*g.At(i)/fs*float64(n)))
		}
		if cmplx.Abs(sum-h[i]) > 1e-12 {
			t.Errorf("at %g Hz: transform of the impulse response %v, response %v", g.At(i), sum, h[i])
		}
	}
	f.Reset()
	again := f.Process(x, x) // in place
	for n := range y {
		if again[n] != y[n] {
			t.Fatalf("sample %d after Reset and in place is %g, want %g", n, again[n], y[n])
		}
	}
	if y[6] != 0 || y[7] == 0 {
		t.Errorf("impulse arrives at the wrong sample: y[6] = %g, y[7] = %g", y[6], y[7])
	}
}

func TestCascadeChangesMakeANewOne(t *testing.T) {
	a, err := digital.NewCascade(48000, digital.Peak{100, 2, 1})
	if err != nil {
		t.Fatal(err)
	}
	b := a.WithPolarity(true)
	if a.Inverted() || !b.Inverted() || a.Equal(b) {
		t.Error("WithPolarity changed its receiver, or nothing")
	}
	c, err := b.WithGain(3)
	if err != nil {
		t.Fatal(err)
	}
	d, err := a.WithDelay(4)
	if err != nil {
		t.Fatal(err)
	}
	j, err := c.Then(d, b)
	if err != nil {
		t.Fatal(err)
	}
	if j.Len() != 3 || j.Gain() != 3 || j.Inverted() || j.Delay() != 4 || a.Len() != 1 || a.Gain() != 1 {
		t.Errorf("joined cascade has %d sections, gain %g, inverted %v, delay %d", j.Len(), j.Gain(), j.Inverted(), j.Delay())
	}
	if !a.Equal(a.WithPolarity(false)) {
		t.Error("a copy is not equal")
	}
	other, err := digital.NewCascade(96000)
	if err != nil {
		t.Fatal(err)
	}
	for what, err := range map[string]error{
		"other rate": second(a.Then(other)), "nil": second(a.Then(other, nil)), "nil first": second(a.Then(nil)), "gain 0": second(a.WithGain(0)), "gain NaN": second(a.WithGain(math.NaN())),
		"delay -1": second(a.WithDelay(-1)), "long delay": second(a.WithDelay(1 << 30)),
	} {
		if err == nil || !strings.HasPrefix(err.Error(), "digital: ") {
			t.Errorf("%s: error %v", what, err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestCascadeChecksItsGrid(t *testing.T) {
	c, err := digital.NewCascade(48000)
	if err != nil {
		t.Fatal(err)
	}
	ok, err := freq.LinearGrid(1000, 24000, 3)
	if err != nil {
		t.Fatal(err)
	}
	if err := freq.CheckGrid(c, ok); err != nil {
		t.Error(err)
	}
	above, err := freq.NewGrid([]float64{100, 24001})
	if err != nil {
		t.Fatal(err)
	}
	if err := freq.CheckGrid(freq.Series{c}, above); err == nil || !strings.Contains(err.Error(), "24001 Hz, want at most 24000 Hz") {
		t.Errorf("grid above half the sample rate: error %v", err)
	}
	if _, err := c.GroupDelay(above, "x"); err == nil {
		t.Error("group delay above half the sample rate accepted")
	}
}

func TestPolesAndZeros(t *testing.T) {
	b, err := digital.Peak{1000, 2, 4}.Biquad(48000)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range b.Poles() {
		if d := cmplx.Abs(p*p + complex(b.A1, 0)*p + complex(b.A2, 0)); d > 1e-15 {
			t.Errorf("denominator at the pole %v is %g", p, d)
		}
	}
	for _, z := range b.Zeros() {
		if d := cmplx.Abs(complex(b.B0, 0)*z*z + complex(b.B1, 0)*z + complex(b.B2, 0)); d > 1e-15 {
			t.Errorf("numerator at the zero %v is %g", z, d)
		}
	}
	if r := b.PoleRadius(); math.Abs(r*r-b.A2) > 1e-15 {
		t.Errorf("pole radius %g, want √a2 = %g", r, math.Sqrt(b.A2))
	}
	if z := (digital.Biquad{B1: 1, B2: -0.5}).Zeros(); len(z) != 1 || z[0] != 0.5 {
		t.Errorf("zeros of z⁻¹ − 0.5·z⁻² are %v, want 0.5 alone", z)
	}
	if z := (digital.Biquad{B2: 3}).Zeros(); len(z) != 0 {
		t.Errorf("zeros of a pure delay are %v, want none", z)
	}
	// Real poles 0.9 and −0.5: a1 = −0.4, a2 = −0.45.
	p := digital.Biquad{A1: -0.4, A2: -0.45}.Poles()
	if cmplx.Abs(p[0]-0.9) > 1e-15 || cmplx.Abs(p[1]+0.5) > 1e-15 {
		t.Errorf("poles are %v, want 0.9 and −0.5", p)
	}
	if err := (digital.Biquad{B0: 1, A1: -2.1, A2: 1.05}).Check(); err == nil || !strings.Contains(err.Error(), "pole radius is 1 +") {
		t.Errorf("unstable section: error %v", err)
	}
	if err := (digital.Biquad{B0: math.NaN()}).Check(); err == nil {
		t.Error("NaN coefficient accepted")
	}
}

func TestCascadeDoesNotAllocate(t *testing.T) {
	c := hard(t, 96000)
	g, err := freq.LogGrid(20, 20480, 48)
	if err != nil {
		t.Fatal(err)
	}
	r, dst := freq.NewRatio(g.Len()), make([]complex128, g.Len())
	delay := make([]float64, g.Len())
	if n := testing.AllocsPerRun(20, func() { r.Reset(); c.MulTo(r, g); r.DivideTo(dst); c.GroupDelayTo(delay, g) }); n != 0 {
		t.Errorf("evaluation allocates %g times", n)
	}
	f := c.NewFilter()
	if n := testing.AllocsPerRun(20, func() { f.Process(delay, delay) }); n != 0 {
		t.Errorf("filtering allocates %g times", n)
	}
}

// Ten sections at 481 frequencies.
func BenchmarkCascade(b *testing.B) {
	const fs = 96000
	var s []digital.Section
	for k := range 10 {
		s = append(s, digital.Peak{30 * math.Exp2(float64(k)), level.Ratio(float64(k) - 4), 1.5})
	}
	c, err := digital.NewCascade(fs, s...)
	if err != nil {
		b.Fatal(err)
	}
	g, err := freq.LogGrid(20, 20480, 48)
	if err != nil {
		b.Fatal(err)
	}
	if g.Len() != 481 {
		b.Fatal(g.Len())
	}
	r, dst := freq.NewRatio(g.Len()), make([]complex128, g.Len())
	b.Run("folded", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			r.Reset()
			c.MulTo(r, g)
			r.DivideTo(dst)
		}
	})
	b.Run("plain complex128", func(b *testing.B) {
		for b.Loop() {
			for i, w := range g.Omega() {
				sin, cos := math.Sincos(w / fs)
				z := complex(cos, -sin)
				h := complex(1, 0)
				for k := range c.Len() {
					q := c.At(k)
					h *= (complex(q.B0, 0) + z*(complex(q.B1, 0)+z*complex(q.B2, 0))) / (1 + z*(complex(q.A1, 0)+z*complex(q.A2, 0)))
				}
				dst[i] = h
			}
		}
	})
}
