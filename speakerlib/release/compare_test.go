package release_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/release"
)

const rate = 96000.0

var (
	pressure = freq.Basis{Quantity: freq.Pressure, Per: freq.PerFullScale, Space: freq.FullSpace, Distance: 1}
	ratio    = freq.Basis{}
)

func grid(t testing.TB) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(20, 20000, 48)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func write(t testing.TB, h freq.Transfer, b freq.Basis) freq.Response {
	t.Helper()
	r, err := freq.Evaluate(h, grid(t), "response", b)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func filter(t testing.TB, b analog.Band, p analog.Prototype) *analog.Filter {
	t.Helper()
	f, err := analog.Design(b, p)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func sections(t testing.TB, gain float64, s ...digital.Section) *digital.Cascade {
	t.Helper()
	c, err := digital.NewCascade(rate, s...)
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithGain(gain); err != nil {
		t.Fatal(err)
	}
	return c
}

// The ways as predicted: a fourth-order acoustic crossover at 2 kHz on a vented bass.
func woofer(t testing.TB) freq.Series {
	return freq.Series{filter(t, analog.Highpass{Fc: 36}, analog.Butterworth(4)), filter(t, analog.Lowpass{Fc: 2000}, analog.LinkwitzRiley(4))}
}

func tweeter(t testing.TB) freq.Series {
	return freq.Series{filter(t, analog.Highpass{Fc: 2000}, analog.LinkwitzRiley(4))}
}

// pairs returns the two ways with what the prototype has besides.
func pairs(t testing.TB, low, high freq.Series) []release.Pair {
	return []release.Pair{
		{Name: "woofer", Predicted: write(t, woofer(t), pressure), Measured: write(t, append(woofer(t), low...), pressure), From: 30, To: 3500},
		{Name: "tweeter", Predicted: write(t, tweeter(t), pressure), Measured: write(t, append(tweeter(t), high...), pressure), From: 1200, To: 18000},
	}
}

var whole = release.Pair{Name: "both", From: 30, To: 18000}

func compare(t testing.TB, p []release.Pair, j release.Judge) *release.Prediction {
	t.Helper()
	c, err := release.Compare(p, whole, j)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// What is put in comes out: gain, delay, polarity, nothing else.
func TestLevelDelayAndPolarityComeOutAsTheyWerePutIn(t *testing.T) {
	p := compare(t, pairs(t, freq.Series{freq.Gain(level.Ratio(1.2)), freq.Delay(37.3e-6)}, freq.Series{freq.Gain(-level.Ratio(-0.4)), freq.Delay(12.1e-6)}), release.Judge{Guard: 0.5})
	for i, want := range []struct {
		db, delay float64
		inverted  bool
	}{{1.2, 37.3e-6, false}, {-0.4, 12.1e-6, true}} {
		c := p.Ways[i]
		if math.Abs(c.Level-want.db) > 1e-9 || math.Abs(c.Delay-want.delay) > 1e-11 || c.Inverted != want.inverted || math.Abs(c.Coherence-1) > 1e-9 {
			t.Errorf("%s: %.6f dB, %.6g s, inverted %v, coherence %.9f; want %+v", c.Pair.Name, c.Level, c.Delay, c.Inverted, c.Coherence, want)
		}
		if len(c.Beyond) != 0 {
			t.Errorf("%s: beyond no guard band: %+v", c.Pair.Name, c.Beyond)
		}
		for k, v := range c.Turn.Values() {
			if math.Abs(v) > 1e-6 {
				t.Errorf("%s turns by %g rad at %g Hz", c.Pair.Name, v, grid(t).At(k))
				break
			}
		}
	}
	if d := p.Lag(1) + 25.2e-6; math.Abs(d) > 1e-11 {
		t.Errorf("tweeter is later by %g s, want −25.2 µs", p.Lag(1))
	}
	if p.Together != nil {
		t.Error("ways that were not measured together are compared so")
	}
}

// A ripple of a·sin(k·ln f) dB has an rms of a/√2 over whole periods, its bounds
// where it stands above them, and hardly a mean.
func TestShapeBandsAndGuard(t *testing.T) {
	g := grid(t)
	const amplitude = 0.8
	k := 2 * math.Pi / math.Log(4) // a period every two octaves
	z := make([]complex128, g.Len())
	for i := range z {
		z[i] = complex(level.Ratio(amplitude*math.Sin(k*math.Log(g.At(i)/100))+3), 0)
	}
	ripple, err := freq.NewResponse(g, z, "ripple", ratio)
	if err != nil {
		t.Fatal(err)
	}
	flat := write(t, freq.Gain(1), pressure)
	measured, err := flat.Mul(ripple)
	if err != nil {
		t.Fatal(err)
	}
	pair := []release.Pair{{Name: "way", Predicted: flat, Measured: measured, From: 100, To: 6400}}
	whole := pair[0]
	p, err := release.Compare(pair, whole, release.Judge{Smoothing: 48, Guard: 0.7, Bands: []float64{100, 200, 400, 1600, 6400}})
	if err != nil {
		t.Fatal(err)
	}
	c := p.Ways[0]
	if math.Abs(c.Level-3) > 0.005 {
		t.Errorf("level %.4f dB, want 3", c.Level)
	}
	if len(c.Bands) != 4 {
		t.Fatalf("bands %+v", c.Bands)
	}
	// The first octave is the upper half wave: mean 2a/π, worst a at its middle.
	b := c.Bands[0]
	if math.Abs(b.Mean-2*amplitude/math.Pi) > 0.01 || math.Abs(b.RMS-amplitude/math.Sqrt2) > 0.01 || math.Abs(b.Worst-amplitude) > 0.005 || math.Abs(b.At/141.42-1) > 0.01 {
		t.Errorf("first octave: %+v", b)
	}
	b = c.Bands[1]
	if math.Abs(b.Mean+2*amplitude/math.Pi) > 0.01 || math.Abs(b.Worst+amplitude) > 0.005 {
		t.Errorf("second octave: %+v", b)
	}
	b = c.Bands[3]
	if math.Abs(b.Mean) > 0.02 || math.Abs(b.RMS-amplitude/math.Sqrt2) > 0.01 {
		t.Errorf("last two octaves: %+v", b)
	}
	// |sin| > 0.7/0.8 for arcs of ±0.505 rad around each top: ±0.1608 octaves.
	if len(c.Beyond) != 6 {
		t.Fatalf("%d stretches beyond the guard band, want 6: %+v", len(c.Beyond), c.Beyond)
	}
	for i, s := range c.Beyond {
		middle := 100 * math.Exp2(0.5+float64(i))
		half := math.Acos(0.7/amplitude) / k / math.Ln2
		if math.Abs(math.Log2(s.From/middle)+half) > 1.0/24 || math.Abs(math.Log2(s.To/middle)-half) > 1.0/24 || math.Abs(math.Abs(s.Worst)-amplitude) > 0.01 {
			t.Errorf("stretch %d: %+v, want %.4g Hz ± %.3f octaves", i, s, middle, half)
		}
		if (s.Worst > 0) != (i%2 == 0) {
			t.Errorf("stretch %d has the sign of %g", i, s.Worst)
		}
	}
	wide := make([]float64, g.Len())
	for i := range wide {
		if wide[i] = 0.7; g.At(i) > 1000 {
			wide[i] = 1
		}
	}
	over, err := freq.NewCurve(g, wide, "guard", "dB", ratio)
	if err != nil {
		t.Fatal(err)
	}
	if p, err = release.Compare(pair, whole, release.Judge{Smoothing: 48, GuardOver: over}); err != nil || len(p.Ways[0].Beyond) != 3 {
		t.Errorf("with a guard band over frequency: %+v, %v", p.Ways[0].Beyond, err)
	}
}

// A point on the edge of two bands is in the upper one.
func TestEdgeBelongsToTheUpperBand(t *testing.T) {
	g := grid(t)
	z := make([]complex128, g.Len())
	for i := range z {
		z[i] = 1
	}
	const at = 240
	z[at] = complex(level.Ratio(2), 0)
	spike, err := freq.NewResponse(g, z, "spike", pressure)
	if err != nil {
		t.Fatal(err)
	}
	way := release.Pair{Name: "way", Predicted: write(t, freq.Gain(1), pressure), Measured: spike, From: 100, To: 6400}
	p, err := release.Compare([]release.Pair{way}, way, release.Judge{Smoothing: 1000, Guard: 1, Bands: []float64{g.At(at), 5000}})
	if err != nil {
		t.Fatal(err)
	}
	b := p.Ways[0].Bands
	if len(b) != 3 || math.Abs(b[0].Worst) > 0.1 || math.Abs(b[1].Worst-2) > 0.1 || b[1].At != g.At(at) {
		t.Errorf("bands %+v", b)
	}
}

// The sum of ways 1 dB apart in level and 20 µs in time, in closed form: fourth-order
// Linkwitz–Riley ways are in phase, so at the corner it is |a + b·e^{−jωτ}|/2.
func TestSumInClosedForm(t *testing.T) {
	ways := pairs(t, nil, freq.Series{freq.Gain(level.Ratio(-1)), freq.Delay(20e-6)})
	ways[0].Predicted = write(t, woofer(t)[1:], pressure) // without the bass, whose phase reaches up to here
	ways[0].Measured = ways[0].Predicted
	p := compare(t, ways, release.Judge{Smoothing: 96, Guard: 0.5})
	g := grid(t)
	i := g.Nearest(2000)
	f := g.At(i)
	// Off the corner by the grid: exact weights of the two ways from their prototypes.
	x := math.Pow(f/2000, 4)
	a, b := 1/(1+x), x/(1+x)*level.Ratio(-1)
	re, im := a+b*math.Cos(2*math.Pi*f*20e-6), b*math.Sin(2*math.Pi*f*20e-6)
	want := level.DB(math.Hypot(re, im))
	if got := p.Sum.Shape.At(i) + p.Sum.Level; math.Abs(got-want) > 0.003 {
		t.Errorf("sum at %.1f Hz is off by %.4f dB, want %.4f", f, got, want)
	}
}

// Ways measured together that are not the sum of what was measured apart.
func TestTogether(t *testing.T) {
	ways := pairs(t, nil, nil)
	s, err := ways[0].Measured.Add(ways[1].Measured)
	if err != nil {
		t.Fatal(err)
	}
	w := whole
	if w.Measured, err = s.Mul(write(t, freq.Series{freq.Gain(level.Ratio(0.5)), freq.Delay(8e-6)}, ratio)); err != nil {
		t.Fatal(err)
	}
	p, err := release.Compare(ways, w, release.Judge{Guard: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	if p.Together == nil || math.Abs(p.Together.Level-0.5) > 1e-9 || math.Abs(p.Together.Delay-8e-6) > 1e-11 {
		t.Errorf("together: %+v", p.Together)
	}
}

// A low end from near fields, on a grid and a basis of its own and with a scale that is
// off, gives what the whole response gives.
func TestLowEndIsJoined(t *testing.T) {
	ways := pairs(t, freq.Series{sections(t, 1, digital.Peak{F0: 60, Gain: level.Ratio(2), Q: 1}, digital.Peak{F0: 900, Gain: level.Ratio(-1.5), Q: 1})}, nil)
	j := release.Judge{Guard: 0.4}
	want := compare(t, ways, j)
	on := func(r freq.Response, from, to float64, k complex128, b freq.Basis) freq.Response {
		g := r.Grid()
		i, n := g.Between(from, to)
		h, err := freq.NewGrid(g.Hz()[i:n])
		if err != nil {
			t.Fatal(err)
		}
		v := r.Values()[i:n]
		for i := range v {
			v[i] *= k
		}
		out, err := freq.NewResponse(h, v, r.Label(), b)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	const below = 250
	near := freq.Basis{Quantity: freq.Pressure, Per: freq.PerFullScale, Space: freq.HalfSpace, Distance: 1}
	joined := make([]release.Pair, 2)
	for i, w := range ways {
		joined[i] = w
		joined[i].Predicted, joined[i].Measured = on(w.Predicted, 150, 20000, 1, pressure), on(w.Measured, 150, 20000, 1, pressure)
	}
	joined[0].Low = &release.Low{Predicted: on(ways[0].Predicted, 20, 700, 1, near), Measured: on(ways[0].Measured, 20, 700, complex(level.Ratio(1.3), 0), near), Below: below}
	got := compare(t, joined, j)
	for i, pair := range [][2]release.Comparison{{got.Ways[0], want.Ways[0]}, {got.Sum, want.Sum}} {
		a, b := pair[0], pair[1]
		if math.Abs(a.LowLevel+1.3) > 0.02 {
			t.Errorf("%d: low end moved by %.4f dB, want −1.3", i, a.LowLevel)
		}
		if math.Abs(a.Level-b.Level) > 0.02 {
			t.Errorf("%d: level %.4f dB, want %.4f", i, a.Level, b.Level)
		}
		for _, f := range []float64{35, 60, 100, 200, 240, 260, 400, 900, 1500} {
			x, err1 := a.Shape.Interpolate(f)
			y, err2 := b.Shape.Interpolate(f)
			if err1 != nil || err2 != nil || math.Abs(x-y) > 0.05 {
				t.Errorf("%d: %.4f dB at %g Hz, want %.4f (%v, %v)", i, x, f, y, err1, err2)
			}
		}
	}
	a, b := fit(t, got, release.Bounds{}), fit(t, want, release.Bounds{})
	for k, v := range level.OfComplex(nil, a.Ways[0].Cascade.ResponseTo(nil, grid(t))) {
		w := level.OfComplex(nil, b.Ways[0].Cascade.ResponseTo(nil, grid(t)))[k]
		if f := grid(t).At(k); f > 30 && f < 3500 && math.Abs(v-w) > 0.1 {
			t.Errorf("corrected by %.3f dB at %.0f Hz, want %.3f", v, f, w)
			break
		}
	}
	if len(a.After.Sum.Beyond) != 0 || a.After.Ways[0].LowLevel == 0 {
		t.Errorf("after the correction: %+v, low end moved by %g dB", a.After.Sum.Beyond, a.After.Ways[0].LowLevel)
	}
}

func TestCompareRefuses(t *testing.T) {
	good := pairs(t, nil, nil)
	low := func(below float64) *release.Low {
		return &release.Low{Predicted: good[0].Predicted, Measured: good[0].Measured, Below: below}
	}
	spoil := func(f func(p []release.Pair, w *release.Pair, j *release.Judge)) error {
		p, w, j := append([]release.Pair(nil), good...), whole, release.Judge{Guard: 0.5}
		f(p, &w, &j)
		_, err := release.Compare(p, w, j)
		return err
	}
	other, err := freq.LogGrid(100, 20000, 12)
	if err != nil {
		t.Fatal(err)
	}
	coarse, err := freq.NewCurve(other, make([]float64, other.Len()), "", "dB", ratio)
	if err != nil {
		t.Fatal(err)
	}
	for want, f := range map[string]func(p []release.Pair, w *release.Pair, j *release.Judge){
		"two ways are called":     func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[1].Name = "woofer" },
		"has no name":             func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[1].Name = "" },
		"want all of the mask's":  func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[0].From = 10 },
		"want 0 < from < to":      func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[0].To = 0 },
		"one basis":               func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[0].Measured = p[0].Measured.Stated(ratio) },
		"lacks the predicted":     func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[0].Predicted = freq.Response{} },
		"guard band of":           func(_ []release.Pair, _ *release.Pair, j *release.Judge) { j.Guard = math.NaN() },
		"guard band: ":            func(_ []release.Pair, _ *release.Pair, j *release.Judge) { j.GuardOver = coarse },
		"the whole has a low end": func(_ []release.Pair, w *release.Pair, _ *release.Judge) { w.Low = &release.Low{} },
		"lacks the predicted or":  func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[0].Low = &release.Low{Below: 200} },
		"want it of one way only": func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[0].Low = low(200); p[1].Low = low(2000) },
		"want it above 30 Hz":     func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[0].Low = low(30) },
		"an octave below 3500":    func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[0].Low = low(1800) },
		"edge 2 of the bands":     func(_ []release.Pair, _ *release.Pair, j *release.Judge) { j.Bands = []float64{100, 50} },
		"bands with one edge":     func(_ []release.Pair, _ *release.Pair, j *release.Judge) { j.Bands = []float64{100} },
		"delay window":            func(_ []release.Pair, _ *release.Pair, j *release.Judge) { j.Window = math.Inf(1) },
		"smoothing":               func(_ []release.Pair, _ *release.Pair, j *release.Judge) { j.Smoothing = -1 },
		"is +Inf dB at": func(_ []release.Pair, _ *release.Pair, j *release.Judge) {
			v := make([]float64, good[0].Measured.Len())
			v[0] = math.Inf(1)
			c, err := freq.NewCurve(good[0].Measured.Grid(), v, "", "dB", ratio)
			if err != nil {
				t.Fatal(err)
			}
			j.GuardOver = c
		},
		"all of the window of ±1 ms": func(p []release.Pair, _ *release.Pair, _ *release.Judge) {
			p[0].Measured = write(t, append(woofer(t), freq.Delay(1.1e-3)), pressure)
		},
		"predicted or the measure": func(p []release.Pair, _ *release.Pair, _ *release.Judge) { p[1].Measured = freq.Response{} },
	} {
		if err := spoil(f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if _, err := release.Compare(nil, whole, release.Judge{Guard: 0.5}); err == nil {
		t.Error("no ways compared")
	}
}
