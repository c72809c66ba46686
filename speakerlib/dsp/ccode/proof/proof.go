// Package proof shows that the C of a release computes what the library computes: it
// compiles what [ccode.Print] wrote with the compiler of the system, feeds both with the same
// signals, and compares the outputs bit for bit.
//
// It runs a compiler and what comes out of it, in a temporary folder, and nothing else.
// That the two are equal on this machine says that the C is right; whether the compiler
// of the processor is, only the same comparison there says.
package proof

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"time"

	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/ccode"
)

// ErrNoCompiler is a system without a C compiler: nothing is shown then.
var ErrNoCompiler = errors.New("proof: no C compiler (cc, gcc, clang) on PATH, want one: that the C computes what the library computes is not shown")

// Flags are what the C is compiled with: C11, all warnings, none allowed, and no fused
// multiplications and additions.
func Flags() []string {
	return []string{"-std=c11", "-O2", "-Wall", "-Wextra", "-Wconversion", "-pedantic", "-Werror", "-ffp-contract=off"}
}

// Patience is how long compiling and running may take.
const Patience = 2 * time.Minute

// Run is a way fed with one signal.
type Run struct {
	Way     string `col:"way"`
	Signal  string `col:"signal"`
	Samples int    `col:"samples"`
	Equal   int    `col:"equal to the last bit"`
	Clipped int    `col:"at the end of the format"` // samples of the output that are: 0 where there is no end
	// First is the index of the first sample that differs, −1 if there is none.
	First int
	// Output is what the C gave, in full scale.
	Output []float64
}

// Proof is what came of a comparison.
type Proof struct {
	Compiler string // its file
	Flags    []string
	Runs     []Run // by way, then by signal
}

// Holds reports whether all samples of all runs are equal.
func (p *Proof) Holds() bool {
	return len(p.Runs) > 0 && !slices.ContainsFunc(p.Runs, func(r Run) bool { return r.Equal != r.Samples })
}

// Err returns nil if the proof holds, or an error that names the first sample that
// differs.
func (p *Proof) Err() error {
	for _, r := range p.Runs {
		if r.First >= 0 {
			return fmt.Errorf("proof: way %q fed with %s: %d of %d samples differ, the first is sample %d", r.Way, r.Signal, r.Samples-r.Equal, r.Samples, r.First)
		}
	}
	if len(p.Runs) == 0 {
		return errors.New("proof: nothing was run")
	}
	return nil
}

// Run returns the run of a way and a signal.
func (p *Proof) Run(way, signal string) (Run, error) {
	for _, r := range p.Runs {
		if r.Way == way && r.Signal == signal {
			return r, nil
		}
	}
	return Run{}, fmt.Errorf("proof: no run of way %q with signal %q", way, signal)
}

// Make compiles the programs as C, runs them over the signals, and compares. Every way is
// at rest in front of every signal. It returns ErrNoCompiler where there is no compiler, and
// a Proof that does not hold, with a nil error, where samples differ. It gives up after
// Patience.
func Make(info ccode.Info, ways []ccode.Way, signals []Signal) (*Proof, error) {
	if len(signals) == 0 {
		return nil, errors.New("proof: no signal, want at least 1")
	}
	for i, s := range signals {
		if err := s.check(); err != nil {
			return nil, err
		}
		if slices.ContainsFunc(signals[:i], func(o Signal) bool { return o.Name == s.Name }) {
			return nil, fmt.Errorf("proof: two signals are called %q, want different names", s.Name)
		}
	}
	ctx, cancel := context.WithTimeout(context.Background(), Patience)
	defer cancel()
	compiler, err := Compiler()
	if err != nil {
		return nil, err
	}
	files, err := ccode.Print(info, ways)
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "proof")
	if err != nil {
		return nil, fmt.Errorf("proof: %w", err)
	}
	defer os.RemoveAll(dir)
	exe, err := build(ctx, compiler, dir, files, harness(info.Prefix, files.HeaderName, ways))
	if err != nil {
		return nil, err
	}
	p := &Proof{Compiler: filepath.Base(compiler), Flags: Flags()}
	for i, w := range ways {
		for _, s := range signals {
			words := wordsOf(w.Program, s.Samples)
			got, err := feed(ctx, exe, i, words)
			if err != nil {
				return nil, err
			}
			p.Runs = append(p.Runs, compare(w, s.Name, words, got))
		}
	}
	return p, nil
}

// Compiler returns the file of the system's C compiler.
func Compiler() (string, error) {
	for _, name := range []string{"cc", "gcc", "clang"} {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", ErrNoCompiler
}

// compare runs the library over the words and counts.
func compare(w ccode.Way, signal string, words, got []int64) Run {
	want := library(w.Program, words)
	r := Run{Way: w.Name, Signal: signal, Samples: len(words), First: -1, Output: values(w.Program, got)}
	f := w.Program.Arithmetic.Signal
	for k := range want {
		switch {
		case got[k] == want[k]:
			r.Equal++
		case r.First < 0:
			r.First = k
		}
		if f.Number == dsp.FixedPoint {
			if hi := int64(1) << (f.M + f.N); got[k] == hi-1 || got[k] == -hi {
				r.Clipped++
			}
		}
	}
	return r
}

// library is what the library makes of the words.
func library(p *dsp.Program, words []int64) []int64 {
	if p.Arithmetic.Signal.Number == dsp.FixedPoint {
		return p.NewRunner().ProcessWords(nil, words)
	}
	var out []int64
	for _, v := range p.NewRunner().Process(nil, values(p, words)) {
		out = append(out, int64(math.Float64bits(v)))
	}
	return out
}
