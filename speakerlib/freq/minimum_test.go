package freq_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
	"pgregory.net/rapid"
)

func ExampleResponse_Excess() {
	g, _ := freq.LogGrid(10, 40e3, 48)
	w := 2 * math.Pi * 2000.0
	highpass := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(w*w)), Den: freq.NewPoly(1, 1/(0.7*w), 1/(w*w))}
	late := freq.Series{highpass, freq.Delay(40e-6)}
	r, _ := freq.Evaluate(late, g, "tweeter, 40 µs late", freq.Basis{})
	excess, err := r.Excess(freq.Tails{Below: 12, Above: 0})
	if err != nil {
		fmt.Println(err)
		return
	}
	delay, _ := excess.GroupDelay()
	at, _ := delay.Interpolate(1000)
	fmt.Printf("beyond minimum phase: %.1f µs at 1 kHz\n", at*1e6)
	// Output: beyond minimum phase: 40.0 µs at 1 kHz
}

func poly2(hz, q float64) freq.Poly {
	w := 2 * math.Pi * hz
	return freq.NewPoly(1, 1/(q*w), 1/(w*w))
}

func highpass2(hz, q float64) freq.Transfer {
	w := 2 * math.Pi * hz
	return &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(w*w)), Den: poly2(hz, q)}
}

func lowpass2(hz, q float64) freq.Transfer {
	return &freq.PolyRatio{Num: freq.NewPoly(1), Den: poly2(hz, q)}
}

// peak has the gain k at its middle and the width hz/q at the poles.
func peak(hz, q, k float64) freq.Transfer {
	return &freq.PolyRatio{Num: poly2(hz, q/k), Den: poly2(hz, q)}
}

// worst returns the largest difference in degrees of the phase of a response from
// that of its minimum phase, within lo … hi hertz.
func worst(t *testing.T, r freq.Response, tails freq.Tails, lo, hi float64) (degrees, at float64) {
	t.Helper()
	m, err := r.MinimumPhase(tails)
	if err != nil {
		t.Fatal(err)
	}
	i, j := r.Grid().Between(lo, hi)
	for ; i < j; i++ {
		if d := math.Abs(cmplx.Phase(m.At(i)/r.At(i))) * 180 / math.Pi; d > degrees {
			degrees, at = d, r.Grid().At(i)
		}
		if math.Abs(cmplx.Abs(m.At(i)/r.At(i))-1) > 1e-14 {
			t.Fatalf("the magnitude of %q changed at %g Hz", r.Label(), r.Grid().At(i))
		}
	}
	return degrees, at
}

// Ratios of polynomials without zeros or poles on the right have minimum phase
// (H. W. Bode 1945): their own phase is the closed form. On a grid so wide that the
// tails are straight lines, what is left is the spline. On the band of a study,
// what is left at the ends is that the true magnitude is not yet the tail.
func TestMinimumPhaseAgainstClosedForms(t *testing.T) {
	for _, c := range []struct {
		name       string
		h          freq.Transfer
		tails      freq.Tails
		wide, band float64 // degrees
	}{
		{"constant", freq.Gain(3), freq.Tails{}, 1e-9, 1e-9},
		{"differentiator", &freq.PolyRatio{Num: freq.NewPoly(0, 1e-3), Den: freq.NewPoly(1)}, freq.Tails{Below: level.DB(2), Above: level.DB(2)}, 1e-6, 1e-6},
		{"high-pass, first order, 100 Hz", &freq.PolyRatio{Num: freq.NewPoly(0, 1), Den: freq.NewPoly(200*math.Pi, 1)}, freq.Tails{Below: level.DB(2)}, 1e-6, 0.1},
		{"high-pass, Butterworth, 60 Hz", highpass2(60, math.Sqrt(0.5)), freq.Tails{Below: level.DB(4)}, 1e-6, 0.01},
		{"low-pass, fourth order, 2300 Hz", freq.Series{lowpass2(2300, 0.5412), lowpass2(2300, 1.3066)}, freq.Tails{Above: -level.DB(16)}, 1e-5, 1e-4},
		{"driver in a closed box, Qtc 1.1", freq.Series{highpass2(75, 1.1), lowpass2(9000, 0.6)}, freq.Tails{Below: level.DB(4), Above: -level.DB(4)}, 1e-5, 2},
		{"driver in a vented box", freq.Series{highpass2(40, 0.5412), highpass2(40, 1.3066), lowpass2(9000, 0.7071)}, freq.Tails{Below: level.DB(16), Above: -level.DB(4)}, 1e-5, 0.5},
		{"peak, +6 dB, 450 Hz, Q 2", peak(450, 2, 2), freq.Tails{}, 1e-5, 0.005},
		{"peak, +6 dB, 450 Hz, poles of Q 10", peak(450, 10, 2), freq.Tails{}, 0.01, 0.01},
		{"dip, −12 dB, 3 kHz, zeros of Q 20", peak(3000, 5, 0.25), freq.Tails{}, 0.2, 0.2},
	} {
		r, err := freq.Evaluate(c.h, logGrid(t, 0.02, 20e6, 48), c.name, freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		if d, at := worst(t, r, c.tails, 5, 40e3); d > c.wide {
			t.Errorf("%s on a wide grid: %.2g° at %g Hz, want at most %g°", c.name, d, at, c.wide)
		}
		r, err = freq.Evaluate(c.h, logGrid(t, 10, 20e3, 48), c.name, freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		if d, at := worst(t, r, c.tails, 20, 10e3); d > c.band {
			t.Errorf("%s on the band: %.2g° at %g Hz, want at most %g°", c.name, d, at, c.band)
		}
	}
}

// Without zeros on the right an all-pass has the magnitude 1 and the minimum phase
// 0: all of its phase is excess.
func TestExcessOfAnAllPass(t *testing.T) {
	const hz, a = 800.0, 1 / (2 * math.Pi * 800.0)
	allpass := &freq.PolyRatio{Num: freq.NewPoly(1, -a), Den: freq.NewPoly(1, a)}
	basis := freq.Basis{Quantity: freq.Pressure, Space: freq.FullSpace, Distance: 1}
	r, err := freq.Evaluate(freq.Series{highpass2(60, 0.9), allpass}, logGrid(t, 0.5, 40e3, 48), "all-pass", basis)
	if err != nil {
		t.Fatal(err)
	}
	excess, err := r.Excess(freq.Tails{Below: level.DB(4)})
	if err != nil {
		t.Fatal(err)
	}
	if excess.Basis() != (freq.Basis{}) || excess.Label() != "all-pass" {
		t.Errorf("%q, %v, want a ratio of the same name", excess.Label(), excess.Basis())
	}
	phase := excess.Phase()
	delay, err := excess.GroupDelay()
	if err != nil {
		t.Fatal(err)
	}
	for i := range phase.Len() {
		x := r.Grid().At(i) / hz
		if want := -2 * math.Atan(x); math.Abs(phase.At(i)-want) > 2e-4 {
			t.Errorf("excess phase at %g Hz: %.5f rad, want %.5f", r.Grid().At(i), phase.At(i), want)
		}
		if want := 2 * a / (1 + x*x); i > 0 && i < phase.Len()-1 && r.Grid().At(i) > 20 && math.Abs(delay.At(i)-want) > 1e-3*2*a {
			t.Errorf("excess group delay at %g Hz: %.4g s, want %.4g", r.Grid().At(i), delay.At(i), want)
		}
	}
}

// testdata/scipy_minimum.py: scipy.signal.hilbert of ln|H| on 2^22 points of linear
// frequency.
func TestMinimumPhaseAgainstSciPy(t *testing.T) {
	rows := testtable.Read(t, "testdata/scipy_minimum.csv")
	bumps := map[string][][3]float64{
		"hump":   {{6, 1000, 0.5}},
		"narrow": {{-9, 3000, 0.08}},
		"voice":  {{4, 400, 1.2}, {-3, 1500, 0.3}, {5, 9000, 0.2}, {-6, 4000, 0.6}},
	}
	for name, set := range bumps {
		var at, want []float64
		for _, row := range testtable.Select(t, rows, "name", name) {
			at, want = append(at, row.Number(t, "f_hz")), append(want, row.Number(t, "phase_rad"))
		}
		if len(at) != 19 {
			t.Fatalf("%s: %d values, want 19", name, len(at))
		}
		// An uneven grid that holds the frequencies of the file.
		even := logGrid(t, 1, 400e3, 96).Hz()
		for _, hz := range at {
			k := freqNearest(even, hz)
			even[k] = hz
		}
		g, err := freq.NewGrid(even)
		if err != nil {
			t.Fatal(err)
		}
		db := make([]float64, g.Len())
		for i := range db {
			for _, b := range set {
				x := math.Log2(g.At(i)/b[1]) / b[2]
				db[i] += b[0] * math.Exp(-x*x/2)
			}
		}
		c, err := freq.NewCurve(g, db, name, "dB", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		m, err := c.MinimumPhase(1, freq.Tails{})
		if err != nil {
			t.Fatal(err)
		}
		for i, hz := range at {
			if got := cmplx.Phase(m.At(g.Nearest(hz))); math.Abs(got-want[i]) > 2e-5 {
				t.Errorf("%s at %g Hz: %.6f rad, want %.6f", name, hz, got, want[i])
			}
		}
	}
}

func freqNearest(hz []float64, at float64) int {
	best := 0
	for i, f := range hz {
		if math.Abs(math.Log(f/at)) < math.Abs(math.Log(hz[best]/at)) {
			best = i
		}
	}
	return best
}

// A slope below that is wrong by d nepers per e-fold turns the phase by
// (2d/π)·Σ (f₁/f)^n/n² over odd n: Bode's integral over the tail alone. The figures
// of the doc comment.
func TestMinimumPhaseOfAWrongTail(t *testing.T) {
	g := logGrid(t, 50, 50*math.Exp2(10), 24)
	r, err := freq.Evaluate(freq.Gain(1), g, "flat", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	below, err := r.MinimumPhase(freq.Tails{Below: level.DB(2)})
	if err != nil {
		t.Fatal(err)
	}
	above, err := r.MinimumPhase(freq.Tails{Above: -level.DB(2)})
	if err != nil {
		t.Fatal(err)
	}
	for octave, want := range map[int]float64{0: 45, 1: 18.8, 3: 4.6, 5: 1.1} {
		i := 24 * octave
		if got := cmplx.Phase(below.At(i)) * 180 / math.Pi; math.Abs(got-want) > 0.06 {
			t.Errorf("6 dB per octave below, %d octaves up: %.2f°, want %.1f°", octave, got, want)
		}
		if got := cmplx.Phase(above.At(g.Len()-1-i)) * 180 / math.Pi; math.Abs(got+want) > 0.06 {
			t.Errorf("−6 dB per octave above, %d octaves down: %.2f°, want %.1f°", octave, got, -want)
		}
	}
}

// What the transform must keep: gains change nothing, a shift along log frequency
// shifts, phases of products add (linearity in ln|r|), the inverse has the opposite
// phase, a mirrored frequency axis the opposite phase mirrored.
func TestMinimumPhaseProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 60).Draw(t, "n")
		hz := make([]float64, n)
		f := rapid.Float64Range(5, 50).Draw(t, "first")
		for i := range hz {
			hz[i] = f
			f *= 1 + rapid.Float64Range(0.02, 0.2).Draw(t, "step")
		}
		db := func(label string) ([]float64, freq.Tails) {
			return rapid.SliceOfN(rapid.Float64Range(-20, 20), n, n).Draw(t, label),
				freq.Tails{Below: rapid.Float64Range(-30, 30).Draw(t, "below"), Above: rapid.Float64Range(-30, 30).Draw(t, "above")}
		}
		phase := func(hz, db []float64, tails freq.Tails) []float64 {
			g, err := freq.NewGrid(hz)
			if err != nil {
				t.Fatal(err)
			}
			c, err := freq.NewCurve(g, db, "drawn", "dB", freq.Basis{})
			if err != nil {
				t.Fatal(err)
			}
			m, err := c.MinimumPhase(1, tails)
			if err != nil {
				t.Fatal(err)
			}
			p := make([]float64, n)
			for i := range p {
				p[i] = cmplx.Phase(m.At(i))
			}
			return p
		}
		a, ta := db("a")
		b, tb := db("b")
		pa, pb := phase(hz, a, ta), phase(hz, b, tb)
		sum, louder, inverse := make([]float64, n), make([]float64, n), make([]float64, n)
		mirrored, backward, moved := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			sum[i], louder[i], inverse[i] = a[i]+b[i], a[i]+7, -a[i]
			mirrored[i], backward[n-1-i], moved[i] = 1000/hz[n-1-i], a[i], 7*hz[i]
		}
		same := func(what string, got []float64, want func(i int) float64) {
			t.Helper()
			for i := range got {
				if d := math.Abs(cmplx.Phase(cmplx.Rect(1, got[i]-want(i)))); d > 1e-7 {
					t.Fatalf("%s: at %g Hz off by %.2g rad", what, hz[i], d)
				}
			}
		}
		same("product", phase(hz, sum, freq.Tails{Below: ta.Below + tb.Below, Above: ta.Above + tb.Above}), func(i int) float64 { return pa[i] + pb[i] })
		same("gain", phase(hz, louder, ta), func(i int) float64 { return pa[i] })
		same("inverse", phase(hz, inverse, freq.Tails{Below: -ta.Below, Above: -ta.Above}), func(i int) float64 { return -pa[i] })
		same("shift", phase(moved, a, ta), func(i int) float64 { return pa[i] })
		same("mirror", phase(mirrored, backward, freq.Tails{Below: -ta.Above, Above: -ta.Below}), func(i int) float64 { return -pa[n-1-i] })
	})
}

// The Hilbert transform keeps the mean square: noise of the level in nepers comes out
// as that of the phase in radians, less what the spline takes from the finest.
func TestMinimumPhaseOfNoise(t *testing.T) {
	g := logGrid(t, 20, 20e3, 48)
	random := rand.New(rand.NewPCG(1, 2))
	var in, out float64
	for range 20 {
		db := make([]float64, g.Len())
		for i := range db {
			db[i] = 0.1 * random.NormFloat64()
		}
		c, err := freq.NewCurve(g, db, "noise", "dB", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		m, err := c.MinimumPhase(1, freq.Tails{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range db {
			in += math.Pow(math.Log(level.Ratio(db[i])), 2)
			out += math.Pow(cmplx.Phase(m.At(i)), 2)
		}
	}
	if ratio := math.Sqrt(out / in); ratio < 0.88 || ratio > 1 {
		t.Errorf("noise comes out %.3f times, want 0.88 to 1", ratio)
	}
}

// The table of an even grid and the kernel of any other one give the same.
func TestMinimumPhaseOfEvenAndListedGrids(t *testing.T) {
	even := logGrid(t, 20, 20e3, 48)
	listed, err := freq.NewGrid(even.Hz())
	if err != nil {
		t.Fatal(err)
	}
	h := freq.Series{highpass2(75, 1.1), peak(2500, 4, 2)}
	tails := freq.Tails{Below: 12, Above: -1}
	var m [2]freq.Response
	for k, g := range []*freq.Grid{even, listed} {
		r, err := freq.Evaluate(h, g, "both", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		if m[k], err = r.MinimumPhase(tails); err != nil {
			t.Fatal(err)
		}
	}
	for i := range even.Len() {
		if d := cmplx.Abs(m[0].At(i)/m[1].At(i) - 1); d > 1e-9 {
			t.Fatalf("at %g Hz: differ by %.2g", even.At(i), d)
		}
	}
}

func TestMinimumPhaseRefuses(t *testing.T) {
	g := logGrid(t, 20, 20e3, 12)
	make := func(h freq.Transfer, g *freq.Grid) freq.Response {
		r, err := freq.Evaluate(h, g, "r", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	flat, late := make(freq.Gain(1), g), make(freq.Delay(4e-3), g)
	silent := make(freq.Gain(0), g)
	short := make(freq.Gain(1), logGrid(t, 20, 26, 6))
	long, err := freq.LinearGrid(1, 20e3, 8193)
	if err != nil {
		t.Fatal(err)
	}
	many := make(freq.Gain(1), long)
	quiet, err := freq.NewCurve(g, append([]float64{math.Inf(-1)}, flat.DB(1).Values()[1:]...), "quiet", "dB", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		r    func() (freq.Response, error)
		want string
	}{
		"zero":      {func() (freq.Response, error) { return silent.MinimumPhase(freq.Tails{}) }, "which is 0 at 20 Hz"},
		"few":       {func() (freq.Response, error) { return short.MinimumPhase(freq.Tails{}) }, "from 3 points"},
		"many":      {func() (freq.Response, error) { return many.MinimumPhase(freq.Tails{}) }, "from 8193 points"},
		"NaN":       {func() (freq.Response, error) { return flat.MinimumPhase(freq.Tails{Below: math.NaN()}) }, "NaN dB per octave below"},
		"steep":     {func() (freq.Response, error) { return flat.MinimumPhase(freq.Tails{Above: -301}) }, "-301 above"},
		"flight":    {func() (freq.Response, error) { return late.Excess(freq.Tails{}) }, "take the time of flight out"},
		"magnitude": {func() (freq.Response, error) { return flat.Magnitude().MinimumPhase(1, freq.Tails{}) }, "want a level in \"dB\""},
		"reference": {func() (freq.Response, error) { return flat.DB(1).MinimumPhase(0, freq.Tails{}) }, "reference is 0"},
		"silence":   {func() (freq.Response, error) { return quiet.MinimumPhase(1, freq.Tails{}) }, "which is 0 at 20 Hz"},
		"excess":    {func() (freq.Response, error) { return silent.Excess(freq.Tails{}) }, "which is 0 at 20 Hz"},
	} {
		if _, err := c.r(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}

func BenchmarkMinimumPhase481(b *testing.B) {
	g, err := freq.LogGrid(20, 20480, 48)
	if err != nil {
		b.Fatal(err)
	}
	benchmarkMinimumPhase(b, g)
}

func BenchmarkMinimumPhaseLinear1024(b *testing.B) {
	g, err := freq.LinearGrid(20, 20e3, 1024)
	if err != nil {
		b.Fatal(err)
	}
	benchmarkMinimumPhase(b, g)
}

func benchmarkMinimumPhase(b *testing.B, g *freq.Grid) {
	r, err := freq.Evaluate(highpass2(60, 0.7), g, "high-pass", freq.Basis{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := r.MinimumPhase(freq.Tails{Below: 12}); err != nil {
			b.Fatal(err)
		}
	}
}
