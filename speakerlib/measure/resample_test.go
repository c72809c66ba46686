package measure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
	"pgregory.net/rapid"
)

func evaluate(t testing.TB, tr freq.Transfer, g *freq.Grid, label string, b freq.Basis) freq.Response {
	t.Helper()
	r, err := freq.Evaluate(tr, g, label, b)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func logGrid(t testing.TB, lo, hi float64, n int) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(lo, hi, n)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// resonance is a second-order band-pass section: 1 + gain·s/(Q+s+Q·s²).
func resonance(hz, q, gain float64) freq.Transfer {
	w := 2 * math.Pi * hz
	return &freq.PolyRatio{Num: freq.NewPoly(1, (1+gain)/(q*w), 1/(w*w)), Den: freq.NewPoly(1, 1/(q*w), 1/(w*w))}
}

// A known transfer, sampled on the lines of a transform with a long time of
// flight, is found again between them, magnitude and phase.
func TestResampleAgainstTheTransfer(t *testing.T) {
	lines, err := freq.LinearGrid(93.75, 24000, 1021)
	if err != nil {
		t.Fatal(err)
	}
	highpass := 2 * math.Pi * 900
	model := freq.Series{
		&freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(highpass*highpass)), Den: freq.NewPoly(1, 1.2/highpass, 1/(highpass*highpass))},
		resonance(5000, 3, 0.5), resonance(12000, 6, -0.4), freq.Gain(-0.3),
	}
	for _, flight := range []float64{0, 4.28e-3, 15e-3, -2e-3} {
		tr := append(freq.Series{freq.Delay(flight)}, model...)
		g := logGrid(t, 100, 20e3, 96)
		got, err := measure.Resample(evaluate(t, tr, lines, "x", freq.Basis{}), g)
		if err != nil {
			t.Fatal(err)
		}
		var worst float64
		for i, want := range tr.ResponseTo(nil, g) {
			// Between the first two lines a parabola of one side is all there is.
			if d := level.DB(1 + cmplx.Abs(got.At(i)/want-1)); g.At(i) > 200 {
				worst = max(worst, d)
			} else if d > 0.3 {
				t.Errorf("flight %g s, %g Hz: %.2g dB off", flight, g.At(i), d)
			}
		}
		if worst > 0.01 {
			t.Errorf("flight %g s: %.2g dB off, want at most 0.01", flight, worst)
		}
	}
}

// A power of jω with a delay is quadratic (in fact linear) in ln f once the delay
// is out, so that it must come back to rounding, on any grids.
func TestResampleKeepsPowers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(-4, 4).Draw(t, "n")
		a := rapid.Float64Range(-1e-4, 1e-4).Draw(t, "delay")
		from, err := freq.LogGrid(10, 3000, rapid.IntRange(12, 48).Draw(t, "per octave"))
		if err != nil {
			t.Fatal(err)
		}
		value := func(f float64) complex128 {
			return cmplx.Rect(math.Pow(f/100, n), n*math.Pi/2-2*math.Pi*f*a)
		}
		v := make([]complex128, from.Len())
		for i := range v {
			v[i] = value(from.At(i))
		}
		r, err := freq.NewResponse(from, v, "power", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		to, err := freq.LogGrid(rapid.Float64Range(10, 20).Draw(t, "lo"), 2500, 17)
		if err != nil {
			t.Fatal(err)
		}
		got, err := measure.Resample(r, to)
		if err != nil {
			t.Fatal(err)
		}
		for i := range got.Len() {
			if want := value(to.At(i)); cmplx.Abs(got.At(i)/want-1) > 1e-5 {
				t.Fatalf("%g Hz: %v, want %v", to.At(i), got.At(i), want)
			}
		}
	})
}

func TestResampleKeepsPointsAndLabels(t *testing.T) {
	from, _ := freq.NewGrid([]float64{100, 150, 200, 400})
	b := freq.Basis{Quantity: freq.Pressure, Per: freq.PerInput, Space: freq.FullSpace, Distance: 2}
	r, _ := freq.NewResponse(from, []complex128{1, 2i, -3, 0.5 + 1i}, "p", b)
	to, _ := freq.NewGrid([]float64{100, 120, 150, 200, 399, 400})
	got, err := measure.Resample(r, to)
	if err != nil {
		t.Fatal(err)
	}
	if got.Label() != "p" || got.Basis() != b || got.At(0) != 1 || got.At(2) != 2i || got.At(3) != -3 || got.At(5) != 0.5+1i {
		t.Errorf("%q, %v, %v", got.Label(), got.Basis(), got.Values())
	}
	same, _ := freq.NewGrid([]float64{100, 150, 200, 400})
	if got, err := measure.Resample(r, same); err != nil || got.At(1) != 2i {
		t.Errorf("on an equal grid: %v (%v)", got.Values(), err)
	}
	one, _ := freq.NewGrid([]float64{100})
	single, _ := freq.NewResponse(one, []complex128{7}, "s", b)
	near, _ := freq.NewGrid([]float64{100 * (1 + 1e-12)})
	if got, err := measure.Resample(single, near); err != nil || got.At(0) != 7 {
		t.Errorf("of one point: %v (%v)", got.Values(), err)
	}
	two, _ := freq.NewGrid([]float64{100, 200})
	pair, _ := freq.NewResponse(two, []complex128{1, 4}, "s", b)
	mid, _ := freq.NewGrid([]float64{100 * math.Sqrt2})
	if got, err := measure.Resample(pair, mid); err != nil || cmplx.Abs(got.At(0)-2) > 1e-14 {
		t.Errorf("of two points: %v (%v), want 2", got.Values(), err)
	}
}

func TestResampleRefuses(t *testing.T) {
	from, _ := freq.NewGrid([]float64{100, 150, 200, 400})
	good, _ := freq.NewResponse(from, []complex128{1, 2, 3, 4}, "good", freq.Basis{})
	zero, _ := freq.NewResponse(from, []complex128{1, 0, 3, 4}, "zero", freq.Basis{})
	many, _ := freq.LinearGrid(100, 400, 40)
	flip := make([]complex128, 40)
	for i := range flip {
		flip[i] = 1
		if i > 20 {
			flip[i] = -1
		}
	}
	turn, _ := freq.NewResponse(many, flip, "turn", freq.Basis{})
	inside, _ := freq.NewGrid([]float64{110, 390})
	below, _ := freq.NewGrid([]float64{99, 390})
	above, _ := freq.NewGrid([]float64{110, 401})
	for want, c := range map[string]struct {
		r freq.Response
		g *freq.Grid
	}{
		"extrapolation":                     {good, below},
		"400 Hz, 4 points, on 110 … 401 Hz": {good, above},
		"0 at 150 Hz":                       {zero, inside},
		"measure finer":                     {turn, inside},
		"no grid":                           {good, nil},
	} {
		if _, err := measure.Resample(c.r, c.g); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

// A microphone's file from 10 Hz on: what its high-pass turns there is no flight, and
// must not be taken for one at the top, where a step is a thousand times as wide.
func TestResampleOfAHighpass(t *testing.T) {
	capsule := func(f float64) complex128 {
		low, x := complex(0, f/4), complex(0, f/24e3)
		return low / (1 + low) / (1 + x/0.95 + x*x)
	}
	for _, flight := range []float64{0, 3e-3, 30e-6} {
		coarse, err := freq.LogGrid(10, 22e3, 24)
		if err != nil {
			t.Fatal(err)
		}
		fine, err := freq.LogGrid(10, 20e3, 31)
		if err != nil {
			t.Fatal(err)
		}
		at := func(f float64) complex128 { return capsule(f) * cmplx.Rect(1, -2*math.Pi*f*flight) }
		v := make([]complex128, coarse.Len())
		for i := range v {
			v[i] = at(coarse.At(i))
		}
		r, err := freq.NewResponse(coarse, v, "capsule", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		got, err := measure.Resample(r, fine)
		if err != nil {
			t.Errorf("flight of %g s: %v", flight, err)
			continue
		}
		for i := range got.Len() {
			if want := at(fine.At(i)); cmplx.Abs(got.At(i)-want) > 1e-4*cmplx.Abs(want) {
				t.Fatalf("flight of %g s, %g Hz: %v, want %v", flight, fine.At(i), got.At(i), want)
			}
		}
	}
}
