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

// SciPy's firwin, kaiserord and firls (testdata/scipy_fir.py).
func TestDesignsAgainstSciPy(t *testing.T) {
	windows := map[string]fir.Window{"boxcar": fir.Rectangular{}, "hann": fir.Hann{}, "hamming": fir.Hamming{}, "blackman": fir.Blackman{}, "kaiser": fir.Kaiser{Beta: 7.3}}
	seen := map[string]int{}
	for i, row := range testtable.Read(t, "testdata/scipy_fir.csv") {
		what, band, _ := strings.Cut(row.Text(t, "design"), " ")
		seen[what]++
		n, e, want := int(row.Number(t, "number of taps")), row.Numbers(t, "edges_hz"), row.Numbers(t, "taps")
		var f *fir.Filter
		var err error
		switch what {
		case "firls":
			f, err = fir.LeastSquares(48000, n, goals(e, row.Numbers(t, "gains"), row.Numbers(t, "weights"))...)
		case "kaiserord":
			w, taps, err := fir.KaiserFor(level.Ratio(row.Number(t, "parameter")), e[0], 48000)
			if err != nil || taps != n || math.Abs(w.Beta-want[0]) > 1e-12 {
				t.Errorf("row %d: %v, %d taps, error %v; SciPy β = %g, %d taps", i+2, w, taps, err, want[0], n)
			}
			continue
		default:
			b := map[string]analog.Band{"lowpass": analog.Lowpass{Fc: e[0]}, "highpass": analog.Highpass{Fc: e[0]},
				"bandpass": analog.Bandpass{Lo: e[0], Hi: e[len(e)-1]}, "bandstop": analog.Bandstop{Lo: e[0], Hi: e[len(e)-1]}}[band]
			f, err = fir.Windowed(48000, n, b, windows[what])
		}
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		tol := 1e-14
		if what == "firls" { // a linear system
			tol = 1e-9 * want[n/2]
		}
		for k, v := range f.Taps() {
			if math.Abs(v-want[k]) > tol {
				t.Errorf("row %d: %v: tap %d is %.15g, SciPy %.15g", i+2, f, k, v, want[k])
				break
			}
		}
		if !f.LinearPhase() || f.Samples() != float64(n-1)/2 {
			t.Errorf("%v is not of linear phase", f)
		}
	}
	if len(seen) != 7 || seen["firls"] != 3 || seen["kaiserord"] != 4 {
		t.Errorf("rows: %v", seen)
	}
}

// Of an even number of taps: the integral that is minimised, by sums over a fine
// grid, grows with any change of a pair of taps.
func TestLeastSquaresIsALeast(t *testing.T) {
	const fs = 48000.0
	g := []fir.Goal{{0, 4000, 1, 1}, {6000, 24000, 0, 8}}
	f, err := fir.LeastSquares(fs, 30, g...)
	if err != nil {
		t.Fatal(err)
	}
	cost := func(h []float64) float64 {
		var sum float64
		for _, b := range g {
			const m = 2000
			for i := range m {
				hz := b.Lo + (b.Hi-b.Lo)*(float64(i)+0.5)/m
				var a float64
				for n, v := range h {
					a += v * math.Cos(2*math.Pi*hz/fs*(float64(n)-14.5))
				}
				sum += b.Weight * (a - b.Gain) * (a - b.Gain) * (b.Hi - b.Lo) / m
			}
		}
		return sum
	}
	least := cost(f.Taps())
	for k := range 15 {
		for _, d := range []float64{-1e-4, 1e-4} {
			h := f.Taps()
			h[k] += d
			h[29-k] += d
			if c := cost(h); c <= least {
				t.Errorf("with tap %d moved by %g the integral is %.12g, want more than %.12g", k, d, c, least)
			}
		}
	}
}

// A gap of 11 kHz leaves the equations of 201 taps without full rank; the goals are
// met all the same, and nothing rises in the gap beyond reason.
func TestLeastSquaresWithoutFullRank(t *testing.T) {
	f, err := fir.LeastSquares(48000, 201, fir.Goal{Lo: 0, Hi: 1000, Gain: 1, Weight: 1}, fir.Goal{Lo: 12000, Hi: 24000, Gain: 0, Weight: 1})
	if err != nil {
		t.Fatal(err)
	}
	for hz := 0.0; hz <= 24000; hz += 50 {
		a := cmplx.Abs(f.At(hz))
		if hz <= 1000 && math.Abs(a-1) > 1e-6 || hz >= 12000 && a > 1e-6 || a > 1.01 {
			t.Errorf("%v is %.9g at %g Hz", f, a, hz)
		}
	}
}

// A filter of known zeros: those outside the unit circle go to 1/z*, and the gain
// by |z|, which leaves the magnitude as it was (the definition of minimum phase).
func TestMinimumPhase(t *testing.T) {
	real2 := func(z complex128) []float64 { return []float64{1, -2 * real(z), real(z)*real(z) + imag(z)*imag(z)} }
	conv := func(a, b []float64) []float64 {
		out := make([]float64, len(a)+len(b)-1)
		for i, x := range a {
			for k, y := range b {
				out[i+k] += x * y
			}
		}
		return out
	}
	h, want := []float64{1}, []float64{1}
	for _, z := range []complex128{complex(1.3, 0.4), complex(0.2, 0.8), complex(-1.1, 1), complex(0.9, -0.2), complex(-3, 0.1)} {
		h = conv(h, real2(z))
		k := 1.0
		if r := cmplx.Abs(z); r > 1 {
			z = 1 / cmplx.Conj(z)
			k = r * r
		}
		v := real2(z)
		want = conv(want, []float64{k * v[0], k * v[1], k * v[2]})
	}
	f, err := fir.New(48000, h, 0, "given")
	if err != nil {
		t.Fatal(err)
	}
	m, err := fir.MinimumPhase(f)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range m.Taps() {
		if math.Abs(v-want[i]) > 1e-10*want[0] {
			t.Errorf("tap %d is %.12g, want %.12g", i, v, want[i])
		}
	}
	if m.LinearPhase() {
		t.Errorf("%v says it is of linear phase", m)
	}
	if m.Error > 1e-11 || m.Latency() != 0 {
		t.Errorf("error %.2g, latency %g s", m.Error, m.Latency())
	}
	// Of a filter with zeros on the circle the magnitude holds to −80 dB, and the
	// energy comes early: 90 % within the first fifth.
	lp, err := fir.Windowed(48000, 255, analog.Lowpass{Fc: 3000}, fir.Kaiser{Beta: 8})
	if err != nil {
		t.Fatal(err)
	}
	if m, err = fir.MinimumPhase(lp); err != nil {
		t.Fatal(err)
	}
	var early, all float64
	for i, v := range m.Taps() {
		all += v * v
		if i < 51 {
			early += v * v
		}
	}
	if m.Error > 1e-4 || early < 0.9*all {
		t.Errorf("%v: error %.2g, %.3g of the energy early", m, m.Error, early/all)
	}
	if lp, err = fir.Windowed(48000, 4095, analog.Lowpass{Fc: 500}, fir.Kaiser{Beta: 5}); err != nil {
		t.Fatal(err)
	}
	if m, err = fir.MinimumPhase(lp); err != nil || m.Error > 1e-3 {
		t.Errorf("%v: error %.2g of the magnitude, error %v", lp, m.Error, err)
	}
	if _, err := fir.MinimumPhase(zero(t)); err == nil || !strings.Contains(err.Error(), "all its taps are 0") {
		t.Errorf("error %v", err)
	}
}

func zero(t *testing.T) *fir.Filter {
	t.Helper()
	f, err := fir.New(48000, make([]float64, 5), 0, "nothing")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The sum of the ways is a pulse to the last bit, whatever the order of adding.
func TestCrossoverSumsExactly(t *testing.T) {
	for _, c := range [][]float64{{2300}, {250, 2500}, {80, 500, 3000, 9000}} {
		ways, err := fir.Crossover(96000, 1023, fir.Kaiser{Beta: 9}, c...)
		if err != nil {
			t.Fatal(err)
		}
		if len(ways) != len(c)+1 {
			t.Fatalf("%d ways, want %d", len(ways), len(c)+1)
		}
		var up, down [1023]float64
		for i := range ways {
			for k, v := range ways[i].Taps() {
				up[k] += v
			}
			for k, v := range ways[len(ways)-1-i].Taps() {
				down[k] += v
			}
			if !ways[i].LinearPhase() || ways[i].Samples() != 511 {
				t.Errorf("%v is not symmetric about tap 511", ways[i])
			}
		}
		for k := range up {
			want := 0.0
			if k == 511 {
				want = 1
			}
			if up[k] != want || down[k] != want {
				t.Errorf("tap %d of the sum is %g and %g, want exactly %g", k, up[k], down[k], want)
			}
		}
		for i, fc := range c {
			if fc > 400 {
				for _, w := range ways[i : i+2] {
					if l := level.DB(cmplx.Abs(w.At(fc))); math.Abs(l+6.02) > 0.05 {
						t.Errorf("%v is %.3f dB at %g Hz, want -6.02 dB", w, l, fc)
					}
				}
			}
		}
	}
}

// Lagrange interpolation is exact for polynomials of its order (its definition),
// and order 1 and 3 have their textbook taps.
func TestFractionalDelays(t *testing.T) {
	for order := 1; order <= 15; order++ {
		d := float64(order)/2 + 0.3
		f, err := fir.Lagrange(48000, d, order)
		if err != nil {
			t.Fatal(err)
		}
		for p := 0; p <= order; p++ {
			var got float64
			for k, h := range f.Taps() {
				got += h * math.Pow(-float64(k)/float64(order), float64(p))
			}
			if want := math.Pow(-d/float64(order), float64(p)); math.Abs(got-want) > 1e-11 {
				t.Errorf("order %d: the power %d is delayed to %.12g, want %.12g", order, p, got, want)
			}
		}
		if f.Samples() != d {
			t.Errorf("%v says %g samples, want %g", f, f.Samples(), d)
		}
	}
	f, err := fir.Lagrange(48000, 1.5, 3)
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range []float64{-1. / 16, 9. / 16, 9. / 16, -1. / 16} {
		if math.Abs(f.Taps()[k]-want) > 1e-15 {
			t.Errorf("tap %d is %.15g, want %.15g", k, f.Taps()[k], want)
		}
	}
	// The formula of a windowed sinc, of a Hann window over four taps: at −1.3, −0.3,
	// 0.7 and 1.7 samples, window ½ + ½·cos(πx/2).
	if f, err = fir.SincDelay(48000, 1.3, 4, fir.Hann{}); err != nil {
		t.Fatal(err)
	}
	var want [4]float64
	var sum float64
	for n := range want {
		x := float64(n) - 1.3
		want[n] = math.Sin(math.Pi*x) / (math.Pi * x) * (0.5 + 0.5*math.Cos(math.Pi*x/2))
		sum += want[n]
	}
	for n, v := range f.Taps() {
		if math.Abs(v-want[n]/sum) > 1e-15 {
			t.Errorf("tap %d is %.15g, want %.15g", n, v, want[n]/sum)
		}
	}
	// A windowed sinc: delay and magnitude up to 18 kHz.
	g, err := freq.LogGrid(20, 18000, 6)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range []float64{31.5, 31.9, 32, 31.01} {
		f, err := fir.SincDelay(48000, d, 64, fir.Kaiser{Beta: 6})
		if err != nil {
			t.Fatal(err)
		}
		for i, h := range f.ResponseTo(nil, g) {
			if want := cmplx.Rect(1, -2*math.Pi*g.At(i)*d/48000); cmplx.Abs(h-want) > 1e-3 {
				t.Errorf("%v at %g Hz: %v, want %v", f, g.At(i), h, want)
			}
		}
		for i, tau := range f.GroupDelayTo(nil, g) {
			if math.Abs(tau*48000-d) > 2e-2 {
				t.Errorf("%v at %g Hz: %g samples", f, g.At(i), tau*48000)
			}
		}
	}
}

func TestDesignsRefuse(t *testing.T) {
	second := func(_ *fir.Filter, err error) error { return err }
	lp := analog.Lowpass{Fc: 1000}
	pulse, err := fir.New(48000, []float64{1}, 0, "pulse")
	if err != nil {
		t.Fatal(err)
	}
	crossover := func(taps int, c ...float64) error { _, err := fir.Crossover(48000, taps, fir.Hann{}, c...); return err }
	kaiser := func(loss, width float64) error { _, _, err := fir.KaiserFor(loss, width, 48000); return err }
	for want, err := range map[string]error{
		"sample rate is -1 Hz":           second(fir.New(-1, []float64{1}, 0, "")),
		"0 taps":                         second(fir.New(48000, nil, 0, "")),
		"tap 1 of 2 is NaN":              second(fir.New(48000, []float64{1, math.NaN()}, 0, "")),
		"is 3 samples, want 0 to 2":      second(fir.New(48000, []float64{1, 1}, 3, "")),
		"window is nil":                  second(fir.Windowed(48000, 31, lp, nil)),
		"β of a Kaiser window is -1":     second(fir.Windowed(48000, 31, lp, fir.Kaiser{Beta: -1})),
		"half the sample rate":           second(fir.Windowed(48000, 31, analog.Lowpass{Fc: 25000}, fir.Hann{})),
		"is 0 at half the sample rate":   second(fir.Windowed(48000, 32, analog.Highpass{Fc: 500}, fir.Hann{})),
		"band is <nil>":                  second(fir.Windowed(48000, 32, nil, fir.Hann{})),
		"3000 taps, want at most 2047":   second(fir.LeastSquares(48000, 3000, fir.Goal{Hi: 100, Weight: 1})),
		"order 3 by 3 samples":           second(fir.Lagrange(48000, 3, 3)),
		"order of a Lagrange delay is 0": second(fir.Lagrange(48000, 0, 0)),
		"want 30.5 to 31.5":              second(fir.SincDelay(48000, 40, 63, fir.Hann{})),
		"followed by":                    second(pulse.Then(nil)),
		"of 64 taps, want an odd":        crossover(64, 1000),
		"without corners":                crossover(63),
		"corner 2 of 2":                  crossover(63, 1000, 900),
		"transition is 0 Hz":             kaiser(100, 0),
		"loss is -6.02":                  kaiser(0.5, 100),
		"want at most 131072":            kaiser(1e6, 0.1),
	} {
		if err == nil || !strings.HasPrefix(err.Error(), "fir: ") || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

// The filter as a system: the runner's output is the convolution, the response its
// transform, block by block, without allocation.
func TestFilterRunsAsItResponds(t *testing.T) {
	f, err := fir.Windowed(48000, 61, analog.Bandpass{Lo: 500, Hi: 5000}, fir.Hamming{})
	if err != nil {
		t.Fatal(err)
	}
	if f, err = f.Then(f); err != nil {
		t.Fatal(err)
	}
	r := f.NewRunner()
	x := make([]float64, 300)
	x[3] = 1
	y := append(r.Process(nil, x[:100]), r.Process(nil, x[100:])...)
	for n, want := range f.Taps() {
		if y[n+3] != want {
			t.Errorf("sample %d is %g, want %g", n+3, y[n+3], want)
		}
	}
	r.Reset()
	if y := r.Process(nil, x[:3]); y[2] != 0 {
		t.Errorf("after a reset: %v", y)
	}
	hz := 1234.0
	var want complex128
	for n, h := range f.Taps() {
		want += complex(h, 0) * cmplx.Rect(1, -2*math.Pi*hz*float64(n)/48000)
	}
	if got := f.At(hz); cmplx.Abs(got-want) > 1e-12 {
		t.Errorf("response %v, want %v", got, want)
	}
	if s := f.String(); !strings.HasSuffix(s, "121 taps, latency 1.25 ms") {
		t.Errorf("described as %q", s)
	}
	g, err := freq.NewGrid([]float64{1000, 24001})
	if err != nil {
		t.Fatal(err)
	}
	if err := f.CheckGrid(g); err == nil || !strings.Contains(err.Error(), "24000 Hz") {
		t.Errorf("error %v", err)
	}
	if n := testing.AllocsPerRun(10, func() { r.Process(x, x) }); n != 0 {
		t.Errorf("running allocates %g times", n)
	}
}
