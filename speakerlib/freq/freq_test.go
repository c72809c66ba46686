package freq_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"pgregory.net/rapid"
)

func Example() {
	g, _ := freq.LogGrid(20, 20e3, 48)
	lowpass := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1/(2*math.Pi*1000))}
	r, _ := freq.Evaluate(lowpass, g, "first order at 1 kHz", freq.Basis{})
	db, _ := r.DB(1).Interpolate(1000)
	fmt.Printf("%v: %.2f dB at 1 kHz\n", g, db)
	// Output: 20 … 19897 Hz, 479 points: -3.01 dB at 1 kHz
}

func logGrid(t *testing.T, lo, hi float64, n int) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(lo, hi, n)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestGridRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		make func() (*freq.Grid, error)
		want string
	}{
		"empty":        {func() (*freq.Grid, error) { return freq.NewGrid(nil) }, "no frequency"},
		"zero":         {func() (*freq.Grid, error) { return freq.NewGrid([]float64{0, 1}) }, "frequency 0 of the grid is 0 Hz"},
		"NaN":          {func() (*freq.Grid, error) { return freq.NewGrid([]float64{1, math.NaN()}) }, "NaN"},
		"infinite":     {func() (*freq.Grid, error) { return freq.NewGrid([]float64{1, math.Inf(1)}) }, "+Inf"},
		"falling":      {func() (*freq.Grid, error) { return freq.NewGrid([]float64{2, 1}) }, "1 Hz after 2 Hz"},
		"doubled":      {func() (*freq.Grid, error) { return freq.NewGrid([]float64{2, 2}) }, "2 Hz after 2 Hz"},
		"log reversed": {func() (*freq.Grid, error) { return freq.LogGrid(20, 10, 3) }, "from 20 to 10"},
		"log none":     {func() (*freq.Grid, error) { return freq.LogGrid(20, 40, 0) }, "0 points per octave"},
		"log huge":     {func() (*freq.Grid, error) { return freq.LogGrid(1, 1e300, 1<<20) }, "at most"},
		"log too fine": {func() (*freq.Grid, error) { return freq.LogGrid(1000, 1000*(1+1e-14), 1e17) }, "strictly increasing"},
		"linear fine":  {func() (*freq.Grid, error) { return freq.LinearGrid(1000, math.Nextafter(1000, 2000), 9) }, "strictly increasing"},
		"linear":       {func() (*freq.Grid, error) { return freq.LinearGrid(1, 2, 1) }, "1 points"},
	} {
		if _, err := c.make(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}

func TestLogGridEndsAndSpacing(t *testing.T) {
	g := logGrid(t, 20, 20480, 12)
	if g.Len() != 121 || math.Abs(g.Last()/20480-1) > 1e-12 || g.PerOctave() != 12 {
		t.Errorf("20 Hz to ten octaves above at 12 per octave: %v, %d per octave", g, g.PerOctave())
	}
	for i := 0; i+12 < g.Len(); i++ {
		if math.Abs(g.At(i+12)/g.At(i)-2) > 1e-12 {
			t.Fatalf("no octave between %g and %g Hz", g.At(i), g.At(i+12))
		}
	}
}

func TestGridIsNotTheCallersSlice(t *testing.T) {
	hz := []float64{10, 20, 30}
	g, _ := freq.NewGrid(hz)
	hz[0] = 99
	g.Hz()[1] = 99
	if g.At(0) != 10 || g.At(1) != 20 {
		t.Error("a caller changed the grid")
	}
	h, _ := freq.NewGrid([]float64{10, 20, 30})
	if !g.Equal(h) || g.Equal(nil) {
		t.Error("Equal compares neither contents nor nil as it should")
	}
}

func TestBetweenAndNearest(t *testing.T) {
	g, _ := freq.NewGrid([]float64{10, 20, 40, 80})
	for _, c := range []struct {
		lo, hi float64
		i, j   int
	}{{10, 80, 0, 4}, {15, 45, 1, 3}, {20, 40, 1, 3}, {21, 39, 2, 2}, {90, 100, 4, 4}, {40, 10, 2, 2}, {math.NaN(), 40, 0, 0}, {10, math.NaN(), 0, 0}} {
		if i, j := g.Between(c.lo, c.hi); i != c.i || j != c.j {
			t.Errorf("Between(%g, %g) = %d, %d, want %d, %d", c.lo, c.hi, i, j, c.i, c.j)
		}
	}
	for _, c := range []struct {
		hz float64
		i  int
	}{{1, 0}, {14, 0}, {14.2, 1}, {28.2, 1}, {28.4, 2}, {1e6, 3}} {
		if i := g.Nearest(c.hz); i != c.i {
			t.Errorf("Nearest(%g) = %d, want %d", c.hz, i, c.i)
		}
	}
}

func TestTrigKeepsPrecisionAtLowFrequencies(t *testing.T) {
	g, _ := freq.NewGrid([]float64{0.01, 20, 12e3})
	u, s := g.Trig(48e3)
	x := 2 * math.Pi * 0.01 / 48e3
	if want := x * x / 2 * (1 - x*x/12); math.Abs(u[0]/want-1) > 1e-14 {
		t.Errorf("1 − cos Ω at 0.01 Hz = %g, want %g", u[0], want)
	}
	if math.Abs(u[2]-1) > 1e-15 || math.Abs(s[2]-1) > 1e-15 {
		t.Errorf("at a quarter of the rate: u = %g, sin = %g, want 1 and 1", u[2], s[2])
	}
}

func TestPolyAgainstHorner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SliceOfN(rapid.Float64Range(-2, 2), 0, freq.MaxDegree+1).Draw(t, "c")
		f := rapid.Float64Range(0.01, 1).Draw(t, "f")
		s := complex(0, 2*math.Pi*f)
		var want complex128
		var scale float64
		for k := len(c) - 1; k >= 0; k-- {
			want = want*s + complex(c[k], 0)
			scale = scale*cmplx.Abs(s) + math.Abs(c[k])
		}
		if got := freq.NewPoly(c...).At(f); cmplx.Abs(got-want) > 1e-14*scale+1e-300 {
			t.Fatalf("P(j2π·%g) = %v, want %v", f, got, want)
		}
	})
}

func TestPolyAlgebra(t *testing.T) {
	p, q := freq.NewPoly(1, 2), freq.NewPoly(3, 0, -1) // (1+2s)(3−s²) = 3+6s−s²−2s³
	if got, want := fmt.Sprint(p.Mul(q).Coefficients()), "[3 6 -1 -2]"; got != want {
		t.Errorf("product %s, want %s", got, want)
	}
	if got, want := fmt.Sprint(p.Add(q).Coefficients()), "[4 2 -1]"; got != want {
		t.Errorf("sum %s, want %s", got, want)
	}
	if (freq.Poly{}).Degree() != -1 || p.Mul(freq.Poly{}).Degree() != -1 || q.Scale(2).Degree() != 2 {
		t.Error("degrees are wrong")
	}
	defer func() {
		if recover() == nil {
			t.Error("a product of degree 10 did not panic")
		}
	}()
	freq.NewPoly(0, 0, 0, 0, 0, 1).Mul(freq.NewPoly(0, 0, 0, 0, 0, 1))
}

// Series on the fast path must equal the plain product of its parts.
func TestSeriesEqualsProduct(t *testing.T) {
	g := logGrid(t, 10, 20e3, 6)
	lp := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1e-3, 4e-7)}
	slow := freq.Inverse{Of: &freq.PolyRatio{Num: freq.NewPoly(2, 1e-4), Den: freq.NewPoly(1)}}
	parts := []freq.Transfer{lp, freq.Gain(-0.5), freq.Delay(3e-4), slow, lp}
	got := freq.Series(parts).ResponseTo(nil, g)
	want := make([]complex128, g.Len())
	for i := range want {
		want[i] = 1
	}
	for _, p := range parts {
		for i, v := range p.ResponseTo(nil, g) {
			want[i] *= v
		}
	}
	for i := range got {
		if cmplx.Abs(got[i]-want[i]) > 1e-13*cmplx.Abs(want[i]) {
			t.Fatalf("at %g Hz: %v, want %v", g.At(i), got[i], want[i])
		}
	}
	unity := freq.Series{}.ResponseTo(nil, g)
	if unity[0] != 1 || unity[len(unity)-1] != 1 {
		t.Error("the empty chain is not unity")
	}
}

// A pure delay, and the second-order low-pass of Q = 1/√2, whose group delay is
// √2/ω₀·(1+x²)/(1+x⁴), x = ω/ω₀ (differentiate the phase −atan(√2·x/(1−x²))).
func TestGroupDelay(t *testing.T) {
	w0 := 2 * math.Pi * 100
	g := logGrid(t, 10, 1000, 24)
	lp := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, math.Sqrt2/w0, 1/(w0*w0))}
	exact := freq.GroupDelay(freq.Series{lp, freq.Delay(2e-3)}, g, "low-pass")
	r, err := freq.Evaluate(freq.Series{lp, freq.Delay(2e-3)}, g, "low-pass", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	coarse, err := r.GroupDelay()
	if err != nil {
		t.Fatal(err)
	}
	for i := range g.Len() {
		x := g.At(i) / 100
		want := 2e-3 + math.Sqrt2/w0*(1+x*x)/(1+x*x*x*x)
		if math.Abs(exact.At(i)-want) > 1e-11 {
			t.Errorf("%g Hz: %.12g s, want %.12g", g.At(i), exact.At(i), want)
		}
		if math.Abs(coarse.At(i)-want) > 4e-6 {
			t.Errorf("from points, %g Hz: %.9g s, want %.9g", g.At(i), coarse.At(i), want)
		}
	}
}

func TestPhaseUnwraps(t *testing.T) {
	g, _ := freq.LinearGrid(10, 5000, 500)
	r, _ := freq.Evaluate(freq.Series{freq.Gain(-1), freq.Delay(2e-3)}, g, "inverted delay", freq.Basis{})
	p := r.Phase()
	for i := range g.Len() {
		want := math.Pi - 2*math.Pi*g.At(i)*2e-3
		if d := p.At(i) - want; math.Abs(d-math.Round(d/(2*math.Pi))*2*math.Pi) > 1e-9 || math.Abs(d-(p.At(0)-(math.Pi-2*math.Pi*g.At(0)*2e-3))) > 1e-9 {
			t.Fatalf("%g Hz: phase %g, want %g and no jump", g.At(i), p.At(i), want)
		}
	}
}

// The mean of |H|² = 1/(1+x²) over log x from a to b has the closed form
// [ln x − ½·ln(1+x²)] / ln(b/a).
func TestSmoothPowerAgainstClosedForm(t *testing.T) {
	g := logGrid(t, 10, 10e3, 192)
	lp := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1/(2*math.Pi*300))}
	r, _ := freq.Evaluate(lp, g, "first order", freq.Basis{})
	for _, n := range []float64{1, 3, 12} {
		c, err := r.SmoothPower(n, 1)
		if err != nil {
			t.Fatal(err)
		}
		i, j := g.Between(30, 3000)
		for ; i < j; i += 7 {
			a, b := g.At(i)/300*math.Exp2(-0.5/n), g.At(i)/300*math.Exp2(0.5/n)
			anti := func(x float64) float64 { return math.Log(x) - math.Log1p(x*x)/2 }
			want := level.PowerDB((anti(b) - anti(a)) / math.Log(b/a))
			if math.Abs(c.At(i)-want) > 2e-5 {
				t.Errorf("1/%g octave at %g Hz: %.6f dB, want %.6f", n, g.At(i), c.At(i), want)
			}
		}
	}
	flat, _ := freq.Evaluate(freq.Gain(2), g, "flat", freq.Basis{})
	c, _ := flat.SmoothPower(3, 1)
	for i := range g.Len() {
		if math.Abs(c.At(i)-level.DB(2)) > 1e-9 {
			t.Fatalf("a flat response is %g dB at %g Hz after smoothing, want %g", c.At(i), g.At(i), level.DB(2))
		}
	}
}

// Step of the second-order high-pass of Q = 1/2: s²/(s+a)² has the step
// response (1 − a·t)·e^{−a·t}.
func TestStepAgainstClosedForm(t *testing.T) {
	const a, rate = 2 * math.Pi * 40, 48000.0
	hp := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1), Den: freq.NewPoly(a*a, 2*a, 1)}
	step, err := freq.Step(hp, rate, 8192)
	if err != nil {
		t.Fatal(err)
	}
	for i := 20; i < len(step); i += 101 {
		tt := float64(i) / rate
		if want := (1 - a*tt) * math.Exp(-a*tt); math.Abs(step[i]-want) > 5e-5 {
			t.Errorf("at %.5f s: %.5f, want %.5f", tt, step[i], want)
		}
	}
	if _, err := freq.Step(hp, 0, 100); err == nil {
		t.Error("a sample rate of 0 was accepted")
	}
}

func TestResponsesThatDoNotBelongTogether(t *testing.T) {
	g, h := logGrid(t, 10, 100, 3), logGrid(t, 10, 100, 4)
	near := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 1}
	far := near
	far.Distance = 2
	a, _ := freq.Evaluate(freq.Gain(1), g, "a", near)
	b, _ := freq.Evaluate(freq.Gain(1), g, "b", far)
	c, _ := freq.Evaluate(freq.Gain(1), h, "c", near)
	if _, err := a.Add(b); err == nil || !strings.Contains(err.Error(), "2 m") {
		t.Errorf("sum over distances: %v", err)
	}
	if _, err := a.Add(c); err == nil || !strings.Contains(err.Error(), "resample") {
		t.Errorf("sum over grids: %v", err)
	}
	if _, err := a.Magnitude().Minus(c.Magnitude()); err == nil {
		t.Error("difference over grids was accepted")
	}
	if _, err := a.Magnitude().Minus(a.DB(1)); err == nil {
		t.Error("difference over units was accepted")
	}
	q, err := a.Over(a)
	if err != nil || q.Basis() != (freq.Basis{}) {
		t.Errorf("ratio: basis %v, error %v", q.Basis(), err)
	}
	if _, err := freq.NewResponse(g, make([]complex128, 3), "short", near); err == nil || !strings.Contains(err.Error(), "3 values, want") {
		t.Errorf("short: %v", err)
	}
	zero, _ := freq.Evaluate(freq.Gain(0), g, "zero", near)
	if _, err := a.Over(zero); err == nil || !strings.Contains(err.Error(), "finite") {
		t.Errorf("division by zero: %v", err)
	}
}

func TestCurveStatistics(t *testing.T) {
	g := logGrid(t, 10, 1000, 10)
	v := make([]float64, g.Len())
	for i := range v {
		v[i] = math.Log10(g.At(i)) // 1 … 3, linear over log f
	}
	c, err := freq.NewCurve(g, v, "ramp", "dB", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	if m, err := c.Mean(g.First(), g.Last()); err != nil || math.Abs(m-(v[0]+v[len(v)-1])/2) > 1e-12 {
		t.Errorf("mean %g, %v", m, err)
	}
	if x := c.Crossing(2); len(x) != 1 || math.Abs(x[0]-100) > 1e-9 {
		t.Errorf("crossing of 2 at %v, want 100", x)
	}
	if y, err := c.Interpolate(100); err != nil || math.Abs(y-2) > 1e-12 {
		t.Errorf("value at 100 Hz is %g, %v", y, err)
	}
	if _, err := c.Interpolate(2000); err == nil || !strings.Contains(err.Error(), "2000 Hz") {
		t.Errorf("extrapolation: %v", err)
	}
	if p, err := c.Plus(-2.5).Largest(20, 200); err != nil || p.Hz != g.First() && math.Abs(p.Hz-20) > 1e-9 || math.Abs(p.Value-(math.Log10(p.Hz)-2.5)) > 1e-12 {
		t.Errorf("largest deviation from 2.5: %v, error %v", p, err)
	}
	if p, err := c.Max(20, 200); err != nil || p.Hz > 200 || p.Hz < 190 || p.Value != math.Log10(p.Hz) {
		t.Errorf("max %+v, %v", p, err)
	}
	if _, err := c.Min(2000, 3000); err == nil {
		t.Error("an empty range has a minimum")
	}
}

// A high-pass of first order, |H|² = x²/(1+x²), is d below 1 at x² = 1/(d² − 1)…
// with d the ratio; its mean far above the corner is 0 dB to within 1e-4 dB.
func TestLowCorner(t *testing.T) {
	g := logGrid(t, 1, 20e3, 48)
	hp := &freq.PolyRatio{Num: freq.NewPoly(0, 1), Den: freq.NewPoly(2*math.Pi*10, 1)}
	r, _ := freq.Evaluate(hp, g, "high-pass", freq.Basis{Quantity: freq.Pressure})
	d := level.Ratio(6)
	want := 10 / math.Sqrt(d*d-1)
	got, err := r.DB(1).LowCorner(4e3, 10e3, 6)
	if err != nil || math.Abs(got/want-1) > 1e-4 {
		t.Errorf("corner at %g Hz (%v), want %g", got, err, want)
	}
	if m := r.Magnitude().DB(1); math.Abs(m.At(7)-r.DB(1).At(7)) > 1e-12 || m.Unit() != "dB" {
		t.Errorf("level of the magnitude %g %s, of the response %g dB", m.At(7), m.Unit(), r.DB(1).At(7))
	}
	if b := r.Stated(freq.Basis{Quantity: freq.Pressure, Per: freq.PerInput}).SPL(2).Basis(); b.Per != freq.Absolute {
		t.Errorf("a level at 2 V is still %v", b)
	}
	if s := r.SPL(2).At(100) - r.DB(1).At(100); math.Abs(s-(level.SPL(2))) > 1e-9 {
		t.Errorf("2 V raise the level by %g dB above that re 1 Pa/V, want %g", s, level.SPL(2))
	}
	if _, err := r.DB(1).LowCorner(4e3, 10e3, 40); err == nil || !strings.Contains(err.Error(), "does not fall 40 dB") {
		t.Errorf("no corner: %v", err)
	}
	if _, err := r.DB(1).LowCorner(4e3, 10e3, math.NaN()); err == nil {
		t.Error("a drop of NaN was accepted")
	}
	if _, err := r.DB(1).LowCorner(40e3, 50e3, 6); err == nil {
		t.Error("an empty band was accepted")
	}
}

func TestBasisSaysWhatALevelMustState(t *testing.T) {
	b := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 1}
	if got, want := b.String(), "sound pressure per volt at the way's terminals, half space, 1 m"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestEvaluationDoesNotAllocate(t *testing.T) {
	g := logGrid(t, 10, 20e3, 48)
	q := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1), Den: freq.NewPoly(1, 1e-3, 1e-6)}
	r, dst := freq.NewRatio(g.Len()), make([]complex128, g.Len())
	if n := testing.AllocsPerRun(20, func() { r.Reset(); q.MulTo(r, g); r.DivideTo(dst) }); n != 0 {
		t.Errorf("%g allocations a run, want 0", n)
	}
}

func BenchmarkPolyRatio481(b *testing.B) {
	g, _ := freq.LogGrid(20, 20e3, 48)
	q := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 0, 0, 1), Den: freq.NewPoly(1, 1e-3, 1e-6, 1e-9, 1e-12)}
	r, dst := freq.NewRatio(g.Len()), make([]complex128, g.Len())
	for b.Loop() {
		r.Reset()
		q.MulTo(r, g)
		r.DivideTo(dst)
	}
}

// What has no finite answer is refused, not answered with NaN.
func TestNoSilentNaN(t *testing.T) {
	inf := math.Inf(1)
	g, err := freq.NewGrid([]float64{100, 200, 300, 400})
	if err != nil {
		t.Fatal(err)
	}
	c, err := freq.NewCurve(g, []float64{-inf, 3, inf, -inf}, "edges", "dB", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	if y, err := c.Interpolate(150); err == nil {
		t.Errorf("between -Inf and 3: %g", y)
	}
	if m, err := c.Mean(100, 400); err == nil {
		t.Errorf("mean of both infinities: %g", m)
	}
	x, half := c.Crossing(0), math.Sqrt(300*400)
	if len(x) != 2 || math.Abs(x[0]-200) > 1e-9 || math.Abs(x[1]-half) > 1e-9 {
		t.Errorf("crossings of 0 at %v, want 200 and %g", x, half)
	}
	for name, f := range map[string]func(){
		"plus":        func() { c.Plus(math.NaN()) },
		"times":       func() { c.Times(0, "dB") },
		"group delay": func() { freq.GroupDelay(freq.Gain(1), nil, "") },
		"silence":     func() { freq.GroupDelay(freq.Gain(0), g, "") },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}

// Windows narrower than float64 can tell are the point itself, and points that
// their logarithms do not tell apart do no harm.
func TestSmoothPowerOfTheNarrowest(t *testing.T) {
	g, err := freq.NewGrid([]float64{500, 1000, math.Nextafter(1000, 2000), 2000})
	if err != nil {
		t.Fatal(err)
	}
	r, err := freq.NewResponse(g, []complex128{2, 2, 2, 2}, "flat", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	for _, perOctave := range []float64{1, 1e300} {
		c, err := r.SmoothPower(perOctave, 1)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range c.Values() {
			if !(math.Abs(v-level.DB(2)) < 1e-9) {
				t.Errorf("1/%g octave: %g dB at %g Hz, want %g", perOctave, v, g.At(i), level.DB(2))
			}
		}
	}
}

// halfBand is a transfer that, as a digital one, is not defined above a frequency.
type halfBand struct {
	freq.Gain
	top float64
}

func (h halfBand) CheckGrid(g *freq.Grid) error {
	if g.Last() > h.top {
		return fmt.Errorf("grid goes to %g Hz, want at most %g Hz", g.Last(), h.top)
	}
	return nil
}

func TestStepAndEvaluateRefuse(t *testing.T) {
	g := logGrid(t, 20, 20e3, 12)
	measured, err := freq.Evaluate(freq.Gain(1), g, "measured", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		of   freq.Transfer
		want string
	}{
		"nil":           {nil, "transfer is nil"},
		"measured":      {measured, "resample it first"},
		"inside":        {freq.Series{freq.Gain(2), measured}, "resample it first"},
		"above Nyquist": {halfBand{1, 24e3}, "at most 24000 Hz"},
		"not finite":    {freq.Gain(math.NaN()), "want finite values"},
	} {
		if _, err := freq.Step(c.of, 96e3, 64); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	if _, err := freq.Evaluate(freq.Gain(1), nil, "", freq.Basis{}); err == nil || !strings.Contains(err.Error(), "grid is nil") {
		t.Errorf("no grid: %v", err)
	}
}
