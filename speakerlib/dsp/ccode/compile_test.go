package ccode_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/ccode"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// compiler returns the system's C compiler. Without one the proof cannot be made, which
// is said, and fails where it must be made.
func compiler(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"cc", "gcc", "clang"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("no C compiler (cc, gcc, clang) on PATH, want one where CI is set")
	}
	t.Skip("no C compiler (cc, gcc, clang) on PATH: that the C computes what the library computes is not shown")
	return ""
}

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

// harness reads 64-bit words of way argv[1] and writes what the way makes of them, in
// blocks of uneven length. Floating point travels as the bits of a double.
func harness(prefix string, ways []ccode.Way) string {
	var b strings.Builder
	fmt.Fprintf(&b, "#include \"%s.h\"\n#include <stdio.h>\n#include <stdlib.h>\n#include <string.h>\n", prefix)
	b.WriteString("int main(int argc, char **argv)\n{\n\tint way = atoi(argv[1]);\n\tint64_t w;\n\tsize_t n = 0, i, at = 0, len = 1;\n\tstatic int64_t buf[1 << 20];\n\t(void)argc;\n")
	b.WriteString("\twhile (fread(&w, 8, 1, stdin) == 1) buf[n++] = w;\n")
	for i, w := range ways {
		name := prefix + "_" + w.Name
		in, out := "buf[at + i]", "buf[at + i] = x[i];"
		if w.Program.Arithmetic.Signal.Number != dsp.FixedPoint {
			in = "d"
			out = "d = x[i]; memcpy(&buf[at + i], &d, 8);"
		}
		fmt.Fprintf(&b, "\tif (way == %d) {\n\t\tstatic %s_state s;\n\t\tstatic %s_sample x[1 << 12];\n\t\tdouble d = 0;\n\t\t(void)d;\n\t\tmemset(&s, 0x5a, sizeof s);\n\t\t%s_init(&s);\n", i, name, name, name)
		fmt.Fprintf(&b, "\t\tfor (; at < n; at += len, len = len %% 1000 + 7) {\n\t\t\tif (len > n - at) len = n - at;\n\t\t\tfor (i = 0; i < len; i++) { memcpy(&d, &buf[at + i], 8); x[i] = (%s_sample)%s; }\n", name, in)
		fmt.Fprintf(&b, "\t\t\t%s_process(&s, x, x, len);\n\t\t\tfor (i = 0; i < len; i++) { %s }\n\t\t}\n\t}\n", name, out)
	}
	b.WriteString("\tfwrite(buf, 8, n, stdout);\n\treturn 0;\n}\n")
	return b.String()
}

// build compiles with flags and returns the executable.
func build(t *testing.T, cc, dir, name string, flags ...string) string {
	t.Helper()
	exe := filepath.Join(dir, name)
	lib := append(append([]string{}, flags...), "-c", "-o", exe+".o", filepath.Join(dir, "chain.c"))
	main := append(append([]string{}, flags...), "-o", exe, filepath.Join(dir, "main.c"), exe+".o")
	for _, args := range [][]string{lib, main} {
		cmd := exec.Command(cc, args...)
		if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
			t.Fatalf("%s %s: %v\n%.4000s", cc, strings.Join(args, " "), err, out)
		}
	}
	return exe
}

// signalFor is an impulse, a sweep, noise, and noise far above full scale, as words of
// the harness and as what goes into the library.
func signalFor(p *dsp.Program) ([]int64, []float64) {
	rng := rand.New(rand.NewPCG(9, 9))
	var x []float64
	x = append(x, 0.999)
	x = append(x, make([]float64, 499)...)
	for i := range 3000 {
		x = append(x, 0.8*math.Sin(2*math.Pi*20/48000*3000/5*math.Expm1(5*float64(i)/3000)))
	}
	for range 2000 {
		x = append(x, 0.3*rng.NormFloat64())
	}
	for i := range 3000 {
		v := math.Copysign(2, math.Sin(float64(i)*float64(i)/20000))
		x = append(x, v*rng.Float64())
	}
	x = append(x, make([]float64, 500)...)
	w := make([]int64, len(x))
	f := p.Arithmetic.Signal
	for i, v := range x {
		switch f.Number {
		case dsp.FixedPoint:
			hi := math.Ldexp(1, f.M+f.N)
			w[i] = int64(math.Max(-hi, math.Min(hi-1, math.Round(math.Ldexp(v, f.N)))))
		case dsp.Binary32:
			x[i] = float64(float32(v))
			fallthrough
		default:
			w[i] = int64(math.Float64bits(x[i]))
		}
	}
	return w, x
}

func run(t *testing.T, exe string, way int, w []int64) []int64 {
	t.Helper()
	var in bytes.Buffer
	if err := binary.Write(&in, binary.LittleEndian, w); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(exe, fmt.Sprint(way))
	cmd.Stdin = &in
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil || stderr.Len() > 0 {
		t.Fatalf("way %d: %v\n%.2000s", way, err, stderr.String())
	}
	got := make([]int64, len(w))
	if err := binary.Read(bytes.NewReader(out), binary.LittleEndian, got); err != nil {
		t.Fatal(err)
	}
	return got
}

func write(t *testing.T, dir string, ways []ccode.Way) {
	t.Helper()
	files, err := ccode.Print(ccode.Info{Prefix: "chain", Title: "Proof", Notes: []string{"Invented data. /* ??/ \\"}}, ways)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string][]byte{files.HeaderName: files.Header, files.SourceName: files.Source, "main.c": []byte(harness("chain", ways))} {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

var strict = []string{"-std=c11", "-Wall", "-Wextra", "-Wconversion", "-Wsign-conversion", "-Wshadow", "-pedantic", "-Werror", "-ffp-contract=off"}

// The C computes what the library computes, bit for bit, whatever the optimisation,
// without a warning and without undefined behaviour.
func TestCComputesTheSame(t *testing.T) {
	cc := compiler(t)
	dir := t.TempDir()
	list := ways(t)
	write(t, dir, list)
	builds := map[string]string{
		"O0": build(t, cc, dir, "O0", append(strict, "-O0")...),
		"O2": build(t, cc, dir, "O2", append(strict, "-O2")...),
		"O3": build(t, cc, dir, "O3", append(strict, "-O3")...),
	}

	if out, err := exec.Command(cc, "-fsanitize=undefined", "-o", filepath.Join(dir, "probe"), "-x", "c", "-std=c11", writeProbe(t, dir)).CombinedOutput(); err != nil {
		t.Logf("no sanitizer for undefined behaviour: %.200s", out)
	} else {
		builds["sanitizer"] = build(t, cc, dir, "sanitizer", append(strict, "-O1", "-fsanitize=undefined", "-fno-sanitize-recover=all")...)
	}
	if fused(t, cc, dir) {
		// gcc 12.2 fuses in its vectoriser of straight code whatever -ffp-contract says.
		builds["O2 with fused multiply-add"] = build(t, cc, dir, "fma", append(strict, "-O2", "-mfma", "-fno-tree-slp-vectorize")...)
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

func writeProbe(t *testing.T, dir string) string {
	t.Helper()
	path := filepath.Join(dir, "probe.c")
	if err := os.WriteFile(path, []byte("int main(void) { return 0; }\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// fused reports whether compiler and processor have fused multiply-add.
func fused(t *testing.T, cc, dir string) bool {
	t.Helper()
	cpu, err := os.ReadFile("/proc/cpuinfo")
	if err != nil || !strings.Contains(string(cpu), " fma ") {
		return false
	}
	return exec.Command(cc, "-mfma", "-o", filepath.Join(dir, "probe2"), writeProbe(t, dir)).Run() == nil
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
