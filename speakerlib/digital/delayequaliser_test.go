package digital_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// A delay that is even with two known all-passes: the search finds those two.
func TestEqualiserFindsWhatIsMissing(t *testing.T) {
	const fs = 48000.0
	g, err := freq.LinearGrid(200, 6000, 300)
	if err != nil {
		t.Fatal(err)
	}
	known := []digital.Allpass{{F0: 1700, Q: 0.9}, {F0: 4300, Q: 1.4}}
	c, err := digital.NewCascade(fs, known[0], known[1])
	if err != nil {
		t.Fatal(err)
	}
	tau := c.GroupDelayTo(nil, g)
	for i := range tau {
		tau[i] = 1e-3 - tau[i]
	}
	curve, err := freq.NewCurve(g, tau, "short of a millisecond", "s", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	e, err := digital.EqualiseDelay(curve, 200, 6000, 2, fs)
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range e.Sections {
		if math.Abs(s.F0/known[i].F0-1) > 1e-6 || math.Abs(s.Q/known[i].Q-1) > 1e-6 {
			t.Errorf("section %d is %v, want %v", i, s, known[i])
		}
	}
	if math.Abs(e.Delay-1e-3) > 1e-10 || e.After > 1e-9 || e.Before < 1e-4 || !e.Converged {
		t.Errorf("%+v, want a delay of 1 ms without a rest", e)
	}
}

// An elliptic low-pass, whose delay rises steeply to its edge: what the equaliser
// says it left is what the cascade has, and more all-passes leave less.
func TestEqualiserFlattens(t *testing.T) {
	const fs = 48000.0
	s, err := digital.Prewarped(analog.Lowpass{Fc: 3000}, analog.Elliptic{Order: 4, Ripple: 1.05, Stop: 200}, fs)
	if err != nil {
		t.Fatal(err)
	}
	c, err := digital.NewCascade(fs, s...)
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LinearGrid(20, 2700, 400)
	if err != nil {
		t.Fatal(err)
	}
	curve, err := c.GroupDelay(g, "low-pass")
	if err != nil {
		t.Fatal(err)
	}
	last := math.Inf(1)
	for _, n := range []int{1, 2, 4} {
		e, err := digital.EqualiseDelay(curve, 20, 2700, n, fs)
		if err != nil {
			t.Fatal(err)
		}
		all := s
		for _, a := range e.Sections {
			all = append(all[:len(all):len(all)], a)
		}
		whole, err := digital.NewCascade(fs, all...)
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := math.Inf(1), 0.0
		for _, v := range whole.GroupDelayTo(nil, g) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
		low, high := math.Inf(1), 0.0
		for i := range curve.Len() {
			low, high = math.Min(low, curve.At(i)), math.Max(high, curve.At(i))
		}
		if math.Abs(e.Before/(high-low)-1) > 1e-12 {
			t.Errorf("said to vary by %.9g s before, want %.9g s", e.Before, high-low)
		}
		if math.Abs(hi-lo-e.After) > 1e-9 {
			t.Errorf("%d all-passes leave %.6g s, said %.6g s", n, hi-lo, e.After)
		}
		if e.Delay < lo || e.Delay > hi {
			t.Errorf("%d all-passes: delay %.6g s outside %.6g to %.6g s", n, e.Delay, lo, hi)
		}
		if !(e.After < 0.6*last) || !(e.After < e.Before) {
			t.Errorf("%d all-passes leave %.3g s of %.3g s, want less than %.3g s", n, e.After, e.Before, 0.6*last)
		}
		last = e.After
	}
}

// A crossover's low-pass over five octaves, where a search from one start falls into
// doing nothing with two all-passes.
func TestEqualiserSearchesWidely(t *testing.T) {
	lp, err := analog.Design(analog.Lowpass{Fc: 2300}, analog.LinkwitzRiley(8))
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LogGrid(200, 8000, 48)
	if err != nil {
		t.Fatal(err)
	}
	curve, err := lp.GroupDelay(g, "low-pass")
	if err != nil {
		t.Fatal(err)
	}
	last := 5.09e-4 // without any
	for _, n := range []int{1, 2, 4} {
		e, err := digital.EqualiseDelay(curve, 200, 8000, n, 96000)
		if err != nil {
			t.Fatal(err)
		}
		if !(e.After < 0.86*last) {
			t.Errorf("%d all-passes leave %.4g s of %.4g s, want less than %.4g s: %v", n, e.After, e.Before, 0.86*last, e.Sections)
		}
		last = e.After
	}
}

func TestEqualiserRefuses(t *testing.T) {
	g, err := freq.LinearGrid(100, 1000, 30)
	if err != nil {
		t.Fatal(err)
	}
	flat := make([]float64, 30)
	curve, err := freq.NewCurve(g, flat, "flat", "s", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	flat[4] = math.Inf(1)
	infinite, err := freq.NewCurve(g, flat, "infinite", "s", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	for want, call := range map[string]func() (*digital.DelayEqualiser, error){
		`in "ms", want s`: func() (*digital.DelayEqualiser, error) {
			return digital.EqualiseDelay(curve.Times(1e3, "ms"), 100, 1000, 2, 48000)
		},
		"of 0 all-passes":      func() (*digital.DelayEqualiser, error) { return digital.EqualiseDelay(curve, 100, 1000, 0, 48000) },
		"want at least 36":     func() (*digital.DelayEqualiser, error) { return digital.EqualiseDelay(curve, 100, 1000, 12, 48000) },
		"half the sample rate": func() (*digital.DelayEqualiser, error) { return digital.EqualiseDelay(curve, 100, 1000, 2, 1500) },
		"0 points":             func() (*digital.DelayEqualiser, error) { return digital.EqualiseDelay(curve, 900, 200, 2, 48000) },
		"+Inf s at":            func() (*digital.DelayEqualiser, error) { return digital.EqualiseDelay(infinite, 100, 1000, 2, 48000) },
	} {
		if _, err := call(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

// Against SciPy's least_squares from 150 random starts (testdata/scipy_delay.py): the
// root of the mean square that is left is the least found there, or less.
func TestEqualiserAgainstSciPy(t *testing.T) {
	for _, c := range scipyDelays(t) {
		e, err := digital.EqualiseDelay(c.curve, c.curve.Grid().First(), c.curve.Grid().Last(), c.n, 48000)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var s []digital.Section
		for _, a := range e.Sections {
			s = append(s, a)
		}
		all, err := digital.NewCascade(48000, s...)
		if err != nil {
			t.Fatal(err)
		}
		g := c.curve.Grid()
		delay := all.GroupDelayTo(nil, g)
		var sum, weight float64
		for i, v := range delay {
			w := g.At(min(i+1, g.Len()-1)) - g.At(max(i-1, 0))
			v += c.curve.At(i) - e.Delay
			sum, weight = sum+w*v*v, weight+w
		}
		if rms := math.Sqrt(sum / weight); !(rms <= c.rms*(1+1e-6)) {
			t.Errorf("%s: %d all-passes leave %.6g s, SciPy %.6g s", c.name, c.n, rms, c.rms)
		}
	}
}

type delayCase struct {
	name  string
	n     int
	rms   float64
	curve freq.Curve
}

func scipyDelays(t testing.TB) []delayCase {
	t.Helper()
	var out []delayCase
	for _, row := range testtable.Read(t, "testdata/scipy_delay.csv") {
		name := row.Text(t, "name")
		g, err := freq.NewGrid(row.Numbers(t, "frequencies"))
		if err != nil {
			t.Fatal(err)
		}
		curve, err := freq.NewCurve(g, row.Numbers(t, "delays"), name, "s", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, delayCase{name, int(row.Number(t, "all-passes")), row.Number(t, "root of the least mean square in s"), curve})
	}
	if len(out) != 16 {
		t.Fatalf("table has %d rows", len(out))
	}
	return out
}

// Four all-passes for an elliptic low-pass over 200 points, from twelve starts; SciPy's
// time for the same: testdata/scipy_delay.py time.
func BenchmarkEqualiseDelay(b *testing.B) {
	c := scipyDelays(b)[3]
	for b.Loop() {
		if _, err := digital.EqualiseDelay(c.curve, c.curve.Grid().First(), c.curve.Grid().Last(), c.n, 48000); err != nil {
			b.Fatal(err)
		}
	}
}
