package proof

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/ccode"
)

// harness is a program that reads 64-bit words, runs the way of the number argv[1] over
// them in blocks of uneven length, and writes what it makes of them. Floating point
// travels as the bits of a double.
func harness(prefix, header string, ways []ccode.Way) string {
	var b strings.Builder
	fmt.Fprintf(&b, "#include \"%s\"\n#include <stdio.h>\n#include <stdlib.h>\n#include <string.h>\n", header)
	fmt.Fprintf(&b, "static int64_t buf[%d];\n", MaxSamples)
	b.WriteString("int main(int argc, char **argv)\n{\n\tint way;\n\tint64_t w;\n\tsize_t n = 0, i, at = 0, len = 1;\n\tif (argc < 2) return 1;\n\tway = atoi(argv[1]);\n")
	fmt.Fprintf(&b, "\twhile (n < %d && fread(&w, 8, 1, stdin) == 1) buf[n++] = w;\n", MaxSamples)
	for i, w := range ways {
		name := prefix + "_" + w.Name
		in, out := "buf[at + i]", "buf[at + i] = x[i];"
		if w.Program.Arithmetic.Signal.Number != dsp.FixedPoint {
			in, out = "d", "d = x[i]; memcpy(&buf[at + i], &d, 8);"
		}
		fmt.Fprintf(&b, "\tif (way == %d) {\n\t\tstatic %s_state s;\n\t\tstatic %s_sample x[1 << 12];\n\t\tdouble d = 0;\n\t\t(void)d;\n\t\tmemset(&s, 0x5a, sizeof s);\n\t\t%s_init(&s);\n", i, name, name, name)
		fmt.Fprintf(&b, "\t\tfor (; at < n; at += len, len = len %% 1000 + 7) {\n\t\t\tif (len > n - at) len = n - at;\n\t\t\tfor (i = 0; i < len; i++) { memcpy(&d, &buf[at + i], 8); x[i] = (%s_sample)%s; }\n", name, in)
		fmt.Fprintf(&b, "\t\t\t%s_process(&s, x, x, len);\n\t\t\tfor (i = 0; i < len; i++) { %s }\n\t\t}\n\t}\n", name, out)
	}
	b.WriteString("\treturn fwrite(buf, 8, n, stdout) == n ? 0 : 1;\n}\n")
	return b.String()
}

// build writes the sources into a folder, compiles them, and returns the executable.
func build(ctx context.Context, compiler, dir string, files *ccode.Files, main string) (string, error) {
	for name, text := range map[string][]byte{files.HeaderName: files.Header, files.SourceName: files.Source, mainName: []byte(main)} {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o600); err != nil {
			return "", fmt.Errorf("proof: %w", err)
		}
	}
	exe := filepath.Join(dir, "run")
	cmd := exec.CommandContext(ctx, compiler, append(Flags(), "-o", exe, filepath.Join(dir, files.SourceName), filepath.Join(dir, mainName))...)
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("proof: %s does not compile the program: %w\n%.4000s", filepath.Base(compiler), err, out)
	}
	return exe, nil
}

// mainName is the file of the harness, a name that ccode.Print does not give.
const mainName = "main-of-the-proof.c"

// feed runs a way of the executable over words.
func feed(ctx context.Context, exe string, way int, words []int64) ([]int64, error) {
	in := make([]byte, 0, 8*len(words))
	for _, w := range words {
		in = binary.NativeEndian.AppendUint64(in, uint64(w))
	}
	cmd := exec.CommandContext(ctx, exe, fmt.Sprint(way))
	cmd.Stdin = bytes.NewReader(in)
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("proof: the compiled program failed: %w", err)
	}
	if len(out) != len(in) {
		return nil, fmt.Errorf("proof: the compiled program gave %d bytes, want %d", len(out), len(in))
	}
	got := make([]int64, len(words))
	for i := range got {
		got[i] = int64(binary.NativeEndian.Uint64(out[8*i:]))
	}
	return got, nil
}

// wordsOf are samples in full scale as a program takes them: words of fixed point to the
// nearest, clipped at the ends of the format, or the bits of a double that is a number of
// the program's.
func wordsOf(p *dsp.Program, samples []float64) []int64 {
	f := p.Arithmetic.Signal
	words := make([]int64, len(samples))
	for i, v := range samples {
		switch f.Number {
		case dsp.FixedPoint:
			hi := math.Ldexp(1, f.M+f.N)
			words[i] = int64(max(-hi, min(hi-1, math.Round(math.Ldexp(v, f.N)))))
		case dsp.Binary32:
			words[i] = int64(math.Float64bits(float64(float32(v))))
		default:
			words[i] = int64(math.Float64bits(v))
		}
	}
	return words
}

// values are words in full scale.
func values(p *dsp.Program, words []int64) []float64 {
	f := p.Arithmetic.Signal
	out := make([]float64, len(words))
	for i, w := range words {
		if f.Number == dsp.FixedPoint {
			out[i] = math.Ldexp(float64(w), -f.N)
		} else {
			out[i] = math.Float64frombits(uint64(w))
		}
	}
	return out
}
