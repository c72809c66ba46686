package ccode_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"os/exec"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/ccode"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// chain is sections that any structure takes in a format of one integer bit, with gain,
// inverted polarity, FIR filters and a delay (invented).
func chain(t testing.TB, full bool) dsp.Chain {
	t.Helper()
	sections := []digital.Section{digital.Highpass{F0: 60, Q: 0.9}, digital.Peak{F0: 90, Gain: 1.5, Q: 2}}
	if full {
		sections = append(sections, digital.Lowpass{F0: 2500, Q: 1.1}, digital.LowShelf{F0: 200, Gain: 0.6, Q: 0.6}, digital.Notch{F0: 5000, Q: 3}, digital.FirstLowpass{F0: 9000}, digital.FirstHighpass{F0: 12})
	}
	c, err := digital.NewCascade(48000, sections...)
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithGain(1.31); err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithPolarity(true).WithDelay(5); err != nil {
		t.Fatal(err)
	}
	out := dsp.Chain{Sections: c}
	for _, taps := range [][]float64{{0.11, -0.52, 0.997, -0.52, 0.11, 1e-4, 0}, {0.9, 0.4}} {
		f, err := fir.New(48000, taps, 1, fmt.Sprintf("%d taps", len(taps)))
		if err != nil {
			t.Fatal(err)
		}
		out.FIR = append(out.FIR, f)
	}
	return out
}

type arrangement struct {
	a dsp.Arithmetic
	o dsp.Options
}

// arrangements are all structures in formats of all kinds: narrow and wide accumulators,
// split coefficients, every rounding, both overflows, error feedback, own exponents.
func arrangements() []arrangement {
	base := []arrangement{
		{dsp.Arithmetic{Signal: dsp.Float32(), Coefficient: dsp.Float32()}, dsp.Options{}},
		{dsp.Arithmetic{Signal: dsp.Float64(), Coefficient: dsp.Float64()}, dsp.Options{}},
		{dsp.Arithmetic{Signal: dsp.Fixed(0, 23), Coefficient: dsp.Fixed(1, 22), Accumulator: 56}, dsp.Options{Feedback: 2}},
		{dsp.Arithmetic{Signal: dsp.Fixed(0, 23), Coefficient: dsp.Fixed(1, 22), Accumulator: 49, Rounding: dsp.Floor}, dsp.Options{Feedback: 1, Scaling: dsp.Unscaled}},
		{dsp.Arithmetic{Signal: dsp.Fixed(2, 13), Coefficient: dsp.Fixed(1, 30), Accumulator: 64, Rounding: dsp.HalfEven, Overflow: dsp.Wrap}, dsp.Options{Scaling: dsp.Unscaled}},
		{dsp.Arithmetic{Signal: dsp.Fixed(0, 31), Coefficient: dsp.Fixed(1, 30), Accumulator: 72, Rounding: dsp.TowardZero}, dsp.Options{Feedback: 1, Scaling: dsp.Unscaled}},
		{dsp.Arithmetic{Signal: dsp.Fixed(1, 22), Coefficient: dsp.Fixed(1, 22), Accumulator: 80, Rounding: dsp.HalfEven, Exponent: 8}, dsp.Options{Split: dsp.SplitAlways, Feedback: 2, Scaling: dsp.LTwo}},
		{dsp.Arithmetic{Signal: dsp.Fixed(0, 23), Coefficient: dsp.Fixed(1, 14), Accumulator: 64, Rounding: dsp.TowardZero}, dsp.Options{Split: dsp.SplitAlways, Feedback: 2, Scaling: dsp.Unscaled}},
		{dsp.Arithmetic{Signal: dsp.Fixed(0, 39), Coefficient: dsp.Fixed(1, 30), Accumulator: 128, Overflow: dsp.Wrap}, dsp.Options{Split: dsp.SplitAlways, Scaling: dsp.Unscaled}},
		{dsp.Arithmetic{Signal: dsp.Fixed(0, 44), Coefficient: dsp.Fixed(1, 30), Accumulator: 78, Rounding: dsp.Floor}, dsp.Options{Feedback: 2, Scaling: dsp.Unscaled}},
	}
	var out []arrangement
	for _, b := range base {
		for _, s := range dsp.Structures() {
			b.o.Structure, b.o.KeepOrder = s, true
			out = append(out, b)
		}
		b.o.Structure, b.o.KeepOrder = dsp.Automatic, false
		out = append(out, b)
	}
	return out
}

// ways realises the arrangements: of the structures each a short chain, and a long one of
// chosen structures.
func ways(t testing.TB) []ccode.Way {
	var out []ccode.Way
	for i, x := range arrangements() {
		c := chain(t, x.o.Structure == dsp.Automatic)
		if x.o.Structure > dsp.DirectI {
			c.FIR = nil // the same for all structures
		}
		r, err := dsp.Realise(c, x.a, x.o)
		if err != nil {
			t.Fatalf("%v, %v: %v", x.a, x.o.Structure, err)
		}
		out = append(out, ccode.Way{Name: fmt.Sprintf("w%d", i), Program: r.Program})
	}
	// A bare gain, a bare delay and a wire.
	a := dsp.Arithmetic{Signal: dsp.Fixed(0, 15), Coefficient: dsp.Fixed(0, 15), Accumulator: 32}
	out = append(out, ccode.Way{Name: "gain", Program: &dsp.Program{SampleRate: 48000, Arithmetic: a, Gain: &dsp.Gain{Coefficient: dsp.Coefficient{Word: -20000, Shift: 15}, Shift: 2}}},
		ccode.Way{Name: "delay", Program: &dsp.Program{SampleRate: 48000, Arithmetic: a, Delay: 3}}, ccode.Way{Name: "wire", Program: &dsp.Program{SampleRate: 48000, Arithmetic: a}})
	return out
}

var strict = []string{"-std=c11", "-Wall", "-Wextra", "-Wconversion", "-Wsign-conversion", "-Wshadow", "-pedantic", "-Werror", "-ffp-contract=off"}

// The C computes what the library computes, bit for bit, whatever the optimisation,
// without a warning and without undefined behaviour.
func TestCComputesTheSame(t *testing.T) {
	cc := compiler(t)
	dir := t.TempDir()
	list := ways(t)
	write(t, dir, list)
	builds := map[string]string{"O2": build(t, cc, dir, "O2", append(strict, "-O2")...)}
	if !testing.Short() {
		builds["O0"] = build(t, cc, dir, "O0", append(strict, "-O0")...)
		builds["O3"] = build(t, cc, dir, "O3", append(strict, "-O3")...)
		if out, err := exec.Command(cc, "-fsanitize=undefined", "-std=c11", "-o", filepath.Join(dir, "probe"), writeProbe(t, dir)).CombinedOutput(); err != nil {
			t.Logf("no sanitizer for undefined behaviour: %.200s", out)
		} else {
			builds["sanitizer"] = build(t, cc, dir, "sanitizer", append(strict, "-O1", "-fsanitize=undefined", "-fno-sanitize-recover=all")...)
		}
		if fused(t, cc, dir) {
			// gcc 12.2 fuses in its vectoriser of straight code whatever -ffp-contract says.
			builds["O2 with fused multiply-add"] = build(t, cc, dir, "fma", append(strict, "-O2", "-mfma", "-fno-tree-slp-vectorize")...)
		}
	}
	kinds := map[string]int{}
	for i, w := range list {
		p := w.Program
		words, x := signalFor(p)
		fixed := p.Arithmetic.Signal.Number == dsp.FixedPoint
		var want []int64
		if fixed {
			want = p.NewRunner().ProcessWords(nil, words)
		} else {
			for _, v := range p.NewRunner().Process(nil, x) {
				want = append(want, int64(math.Float64bits(v)))
			}
		}
		if hi := int64(1)<<(p.Arithmetic.Signal.Word()-1) - 1; fixed && p.Arithmetic.Overflow == dsp.Saturate {
			for _, v := range want {
				if v == hi || v == -hi-1 {
					kinds["saturated"]++
					break
				}
			}
		}
		if p.Arithmetic.Accumulator > 64 {
			kinds["wide"]++
		}
		for _, s := range p.Sections {
			kinds[s.Structure.String()]++
			if s.Feedback > 0 {
				kinds["feedback"]++
			}
			if s.InputShift != 0 {
				kinds["shift"]++
			}
			for _, c := range s.Coefficients {
				if c.LowBits > 0 {
					kinds["split"]++
				}
			}
		}
		for name, exe := range builds {
			got := run(t, exe, i, words)
			for k := range got {
				if got[k] != want[k] {
					t.Errorf("way %s (%v), build %s: sample %d is %#x, the library has %#x", w.Name, p.Arithmetic, name, k, got[k], want[k])
					break
				}
			}
		}
	}
	// That all of it was there.
	for _, s := range dsp.Structures() {
		if kinds[s.String()] < 15 {
			t.Errorf("%v occurs %d times, want many", s, kinds[s.String()])
		}
	}
	for k, n := range map[string]int{"saturated": 20, "feedback": 10, "shift": 10, "split": 50, "wide": 20} {
		if kinds[k] < n {
			t.Errorf("%s occurs %d times, want at least %d", k, kinds[k], n)
		}
	}
	t.Logf("%d ways, %d builds: %v", len(list), len(builds), kinds)
}

// The response of the running C is that of the target: an impulse of half full scale
// through the compiled program, transformed, against the designed chain. compared
// where it is above −40 dB.
func TestResponseOfTheRunningC(t *testing.T) {
	cc := compiler(t)
	dir := t.TempDir()
	c := chain(t, false)
	var list []ccode.Way
	for i, a := range []dsp.Arithmetic{
		{Signal: dsp.Fixed(1, 30), Coefficient: dsp.Fixed(1, 30), Accumulator: 72},
		{Signal: dsp.Float32(), Coefficient: dsp.Float32()}, {Signal: dsp.Float64(), Coefficient: dsp.Float64()},
	} {
		r, err := dsp.Realise(c, a, dsp.Options{})
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, ccode.Way{Name: fmt.Sprintf("w%d", i), Program: r.Program})
	}
	write(t, dir, list)
	exe := build(t, cc, dir, "O2", append(strict, "-O2")...)
	const n = 1 << 16
	target := freq.Series{c.Sections, c.FIR[0], c.FIR[1]}
	for i, w := range list {
		words := make([]int64, n)
		words[0] = int64(math.Float64bits(0.5))
		scale := func(v int64) float64 { return 2 * math.Float64frombits(uint64(v)) }
		tolerance := 2e-3 // dB, float32
		switch w.Program.Arithmetic.Signal.Number {
		case dsp.FixedPoint:
			words[0] = 1 << 29
			scale = func(v int64) float64 { return math.Ldexp(float64(v), -29) }
			tolerance = 0.01
		case dsp.Binary64:
			tolerance = 1e-9
		}
		h := make([]float64, n)
		for k, v := range run(t, exe, i, words) {
			h[k] = scale(v)
		}
		got := fourier.NewFFT(n).Coefficients(nil, h)
		var worst float64
		for k := 1; k < n/2; k++ {
			g, err := freq.NewGrid([]float64{float64(k) * 48000 / n})
			if err != nil {
				t.Fatal(err)
			}
			if k > 400 && k%50 != 0 {
				continue
			}
			want := target.ResponseTo(nil, g)[0]
			if cmplx.Abs(want) < 1e-2 {
				continue
			}
			worst = math.Max(worst, level.DB(1+cmplx.Abs(got[k]/want-1)))
		}
		t.Logf("%v: %.3g dB", w.Program.Arithmetic, worst)
		if worst > tolerance {
			t.Errorf("%v: the running C is off the target by %.3g dB, want at most %g", w.Program.Arithmetic, worst, tolerance)
		}
	}
}
