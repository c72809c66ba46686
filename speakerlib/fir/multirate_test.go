package fir_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// SciPy's upfirdn with low-passes of its own (testdata/scipy_multirate.py), in blocks
// of any length.
func TestMultirateAgainstSciPy(t *testing.T) {
	rows := map[string][]float64{}
	for _, row := range testtable.Read(t, "testdata/scipy_multirate.csv") {
		rows[row.Text(t, "what")] = row.Numbers(t, "values")
	}
	h, err := fir.New(48000, rows["plain"], 512, "bass shelf")
	if err != nil {
		t.Fatal(err)
	}
	m, err := fir.Decimate(h, fir.Decimation{Factor: 8, Edge: 900, Above: 1, Loss: level.Ratio(80)})
	if err != nil {
		t.Fatal(err)
	}
	if n := rows["decimator"][0]; float64(m.Decimator().Len()) != n || m.Samples() != n-1+512 {
		t.Errorf("%v: decimator of %d taps, %g samples late; SciPy %g taps", m, m.Decimator().Len(), m.Samples(), n)
	}
	x, want := rows["input"], rows["output"]
	r := m.NewRunner()
	run := func() []float64 {
		var y []float64
		for at, k := 0, 1; at < len(x); at, k = at+k, k%37+1 {
			y = append(y, r.Process(nil, x[at:min(at+k, len(x))])...)
		}
		return y
	}
	for turn, y := range [][]float64{run(), func() []float64 { r.Process(nil, x[:5]); r.Reset(); return run() }()} {
		for i := range want {
			if math.Abs(y[i]-want[i]) > 1e-13 {
				t.Fatalf("run %d: sample %d is %.15g, SciPy %.15g", turn, i, y[i], want[i])
			}
		}
	}
	if n := testing.AllocsPerRun(10, func() { r.Process(x[:200], x[:200]) }); n != 0 {
		t.Errorf("running allocates %g times", n)
	}
}

// correction is a correction of the bass by linear phase: a dip of −6 dB and a peak of
// 4 dB between 30 and 200 Hz, by differences of windowed low-passes.
func correction(t testing.TB, above float64) *fir.Filter {
	t.Helper()
	const n = 8193
	h := make([]float64, n)
	h[n/2] = above
	for _, s := range []struct{ lo, hi, gain float64 }{{30, 70, -0.5}, {90, 200, 0.585}} {
		b, err := fir.Windowed(48000, n, analog.Bandpass{Lo: s.lo, Hi: s.hi}, fir.Kaiser{Beta: 10})
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range b.Taps() {
			h[i] += s.gain * v
		}
	}
	f, err := fir.New(48000, h, n/2, "bass correction")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// What is stated, against tones that run through: a tone comes out as T says; all the
// rest is images, whose root of the sum of squares is at most what is stated, and at
// the tone named just that; and T is the plain filter, later.
func TestMultirateStatesItsImages(t *testing.T) {
	const fs = 48000.0
	for _, c := range []struct {
		above, loss float64
		factor      int
		edge        float64
	}{{1, 60, 48, 250}, {0, 80, 32, 250}, {0.7, 50, 40, 300}} {
		h := correction(t, c.above)
		m, err := fir.Decimate(h, fir.Decimation{Factor: c.factor, Edge: c.edge, Above: c.above, Loss: level.Ratio(c.loss)})
		if err != nil {
			t.Fatal(err)
		}
		wait := m.Decimator().Len()*2 + h.Len() + 2*c.factor
		const n = 48000 // tones of whole hertz fit
		tone := func(hz float64) (got complex128, rest float64) {
			x := make([]float64, wait+n)
			for i := range x {
				x[i] = math.Cos(2 * math.Pi * math.Mod(hz*float64(i), fs) / fs)
			}
			y := m.NewRunner().Process(nil, x)[wait:]
			var sum float64
			for i, v := range y {
				got += complex(v*2/n, 0) * cmplx.Rect(1, -2*math.Pi*math.Mod(hz*float64(i+wait), fs)/fs)
				sum += v * v * 2 / n
			}
			return got, math.Sqrt(math.Max(0, sum-real(got)*real(got)-imag(got)*imag(got)))
		}
		worst := math.Round(m.AliasAt)
		top := 0.0
		for _, hz := range []float64{7, 51, 133, 260, 401, 777, fs/float64(c.factor) - 150, 3*fs/float64(c.factor) + 52, 9013, 20001, worst} {
			got, rest := tone(hz)
			g, err := freq.NewGrid([]float64{hz})
			if err != nil {
				t.Fatal(err)
			}
			if want := m.ResponseTo(nil, g)[0]; cmplx.Abs(got-want) > 1e-9 {
				t.Errorf("%v at %g Hz: %v comes out, want %v", m, hz, got, want)
			}
			if rest > m.Alias*1.0001+1e-8 {
				t.Errorf("%v at %g Hz: images of %.4g, stated %.4g at %g Hz", m, hz, rest, m.Alias, m.AliasAt)
			}
			top = math.Max(top, rest)
			late := cmplx.Rect(1, -2*math.Pi*math.Mod(hz*float64(m.Decimator().Len()-1), fs)/fs)
			if e := cmplx.Abs(got - h.At(hz)*late); e > m.Error*1.6*1.0001+1e-9 {
				t.Errorf("%v at %g Hz: %.3g from the plain filter, stated %.3g", m, hz, e, m.Error)
			}
		}
		if top < 0.97*m.Alias {
			t.Errorf("%v: images reach %.4g, stated %.4g at %g Hz", m, top, m.Alias, m.AliasAt)
		}
		// One low-pass keeps images down by its loss, and all M−1 together are little
		// more; its ripple counts twice, and twice again where it is 1 at direct current.
		if ripple := level.Ratio(-c.loss); m.Alias > 3*ripple || m.Error > 5*ripple {
			t.Errorf("%v: images of %.3g at %g Hz, error of %.3g at %g Hz, want at most %.3g and %.3g", m, m.Alias, m.AliasAt, m.Error, m.ErrorAt, 3*ripple, 5*ripple)
		}
		// Latency and work, by counting.
		each := float64(2*m.Decimator().Len()+m.Low().Len()) / float64(c.factor)
		gain, samples := m.Direct()
		if c.above == 0.7 {
			each++
		}
		if m.Multiplications() != each || m.Saving() != float64(h.Len())/each || m.Saving() < 60 || gain != c.above || float64(samples) != m.Samples() ||
			m.Samples() != 4096+float64(m.Decimator().Len()-1) || m.Low().Len() != (8193+c.factor-1)/c.factor || m.Low().SampleRate() != fs/float64(c.factor) || m.Latency() != m.Samples()/fs {
			t.Errorf("%v: %g multiplications, saves %g, %g samples late, low filter %v", m, m.Multiplications(), m.Saving(), m.Samples(), m.Low())
		}
	}
}

// A filter that does something above its edge is not what is made of it, and the
// design says by how much and where: here a band-pass of 0.2 about 700 Hz.
func TestMultirateStatesItsError(t *testing.T) {
	h := correction(t, 1)
	b, err := fir.Windowed(48000, 8193, analog.Bandpass{Lo: 600, Hi: 800}, fir.Kaiser{Beta: 10})
	if err != nil {
		t.Fatal(err)
	}
	taps := h.Taps()
	for i, v := range b.Taps() {
		taps[i] += 0.2 * v
	}
	if h, err = fir.New(48000, taps, 4096, "both"); err != nil {
		t.Fatal(err)
	}
	m, err := fir.Decimate(h, fir.Decimation{Factor: 48, Edge: 250, Above: 1, Loss: 1000})
	if err != nil {
		t.Fatal(err)
	}
	// Its band folds to 200 to 400 Hz of the low rate of 1 kHz, and is left out where it was.
	if m.Error < 0.1 || m.Error > 0.2 || m.ErrorAt < 190 || m.ErrorAt > 810 || m.Alias < 0.01 {
		t.Errorf("%v: error of %.3g at %g Hz, images of %.3g at %g Hz", m, m.Error, m.ErrorAt, m.Alias, m.AliasAt)
	}
}

func TestDecimateRefuses(t *testing.T) {
	h := correction(t, 1)
	half, err := fir.New(48000, []float64{1, 1}, 0.5, "half")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		h    *fir.Filter
		d    fir.Decimation
		want string
	}{
		{nil, fir.Decimation{Factor: 8, Edge: 100, Loss: 1000}, "is nil"},
		{h, fir.Decimation{Factor: 1, Edge: 100, Loss: 1000}, "decimation by 1, want 2 to 256"},
		{h, fir.Decimation{Factor: 1000, Edge: 100, Loss: 1000}, "1000"},
		{h, fir.Decimation{Factor: 48, Edge: 500, Loss: 1000}, "edge of a filter at 1000 Hz is 500 Hz, want > 0 and less than 500 Hz"},
		{h, fir.Decimation{Factor: 48, Edge: math.NaN(), Loss: 1000}, "NaN"},
		{h, fir.Decimation{Factor: 48, Edge: 100, Above: math.Inf(1), Loss: 1000}, "gain above the edge of a decimated filter is +Inf"},
		{h, fir.Decimation{Factor: 48, Edge: 100, Loss: 1}, "loss is 0 dB"},
		{h, fir.Decimation{Factor: 48, Edge: 100, Loss: math.NaN()}, "loss is NaN dB"},
		{h, fir.Decimation{Factor: 48, Edge: 499.999, Loss: 1000}, "want at most 131072"},
		{half, fir.Decimation{Factor: 4, Edge: 100, Above: 1, Loss: 1000}, "is 0.5 samples late, want a whole number"},
	} {
		if _, err := fir.Decimate(c.h, c.d); err == nil || !strings.HasPrefix(err.Error(), "fir: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: error %v, want one with %q", c.d, err, c.want)
		}
	}
	if _, err := fir.Decimate(half, fir.Decimation{Factor: 4, Edge: 100, Loss: 1000}); err != nil {
		t.Errorf("a low-pass that is half a sample late: %v", err)
	}
	m, err := fir.Decimate(h, fir.Decimation{Factor: 48, Edge: 250, Above: 1, Loss: 1000})
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.NewGrid([]float64{24001})
	if err != nil {
		t.Fatal(err)
	}
	if err := m.CheckGrid(g); err == nil || !strings.Contains(err.Error(), "24000 Hz") {
		t.Errorf("error %v", err)
	}
	if s := m.String(); !strings.HasPrefix(s, "bass correction, below 250 Hz at 1000 Hz, latency 92.6 ms, 18.1 multi") || !strings.HasSuffix(s, "multiplications a sample instead of 8193") {
		t.Errorf("described as %q", s)
	}
}

// A second of sound at 48 kHz, over two rates and by the plain filter.
func BenchmarkMultirate(b *testing.B) {
	h := correction(b, 1)
	m, err := fir.Decimate(h, fir.Decimation{Factor: 48, Edge: 250, Above: 1, Loss: level.Ratio(80)})
	if err != nil {
		b.Fatal(err)
	}
	x := make([]float64, 48000)
	for i := range x {
		x[i] = math.Sin(float64(i * i))
	}
	for name, run := range map[string]func(dst, src []float64) []float64{"two rates": m.NewRunner().Process, "plain": h.NewRunner().Process} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				run(x, x)
			}
		})
	}
}
