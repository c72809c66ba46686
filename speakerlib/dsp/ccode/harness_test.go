package ccode_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/ccode"
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
