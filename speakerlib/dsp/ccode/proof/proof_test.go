package proof

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/ccode"
)

// made returns the proof, or skips without a compiler, but not where CI is set.
func made(t *testing.T, ways []ccode.Way, signals ...Signal) *Proof {
	t.Helper()
	p, err := Make(ccode.Info{Prefix: "chain", Title: "Proof", Notes: []string{"Invented data."}}, ways, signals)
	if errors.Is(err, ErrNoCompiler) && os.Getenv("CI") == "" {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func signals() []Signal {
	return []Signal{Impulse(0.5, 4000), Sweep(0.7, 20./96e3, 0.45, 8000), Noise(0.2, 4000, 1), Overload(4000, 2)}
}

// ways are a low-frequency chain in fixed and floating point.
func ways(t *testing.T) []ccode.Way {
	t.Helper()
	c, err := digital.NewCascade(96000, digital.Highpass{F0: 38, Q: 1.9}, digital.LowShelf{F0: 400, Gain: 3, Q: 0.6}, digital.Lowpass{F0: 2300, Q: 1})
	if err != nil {
		t.Fatal(err)
	}
	var out []ccode.Way
	for name, a := range map[string]dsp.Arithmetic{
		"fixed": {Signal: dsp.Fixed(1, 22), Coefficient: dsp.Fixed(1, 22), Accumulator: 56},
		"wide":  {Signal: dsp.Fixed(3, 28), Coefficient: dsp.Fixed(1, 30), Accumulator: 80, Rounding: dsp.HalfEven},
		"short": {Signal: dsp.Float32(), Coefficient: dsp.Float32()},
		"long":  {Signal: dsp.Float64(), Coefficient: dsp.Float64()},
	} {
		r, err := dsp.Realise(dsp.Chain{Sections: c}, a, dsp.Options{})
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, ccode.Way{Name: name, Program: r.Program})
	}
	return out
}

func TestProofHolds(t *testing.T) {
	p := made(t, ways(t), signals()...)
	if err := p.Err(); err != nil || !p.Holds() || len(p.Runs) != 16 {
		t.Errorf("%d runs, holds %v, error %v", len(p.Runs), p.Holds(), err)
	}
	r, err := p.Run("fixed", "overload")
	if err != nil || r.Clipped == 0 {
		t.Errorf("overload clips %d samples of the output, want some (%v)", r.Clipped, err)
	}
	if _, err := p.Run("fixed", "music"); err == nil {
		t.Error("a run that was not made is returned")
	}
	// The output is the impulse response, times the impulse: at direct current the sum of a
	// high-pass is 0.
	r, err = p.Run("long", "impulse")
	if err != nil {
		t.Fatal(err)
	}
	var sum, most float64
	for _, v := range r.Output {
		sum += v
		most = max(most, math.Abs(v))
	}
	if most < 0.001 || math.Abs(sum) > 1e-2*most*float64(len(r.Output)) {
		t.Errorf("impulse response: largest %g, sum %g", most, sum)
	}
}

// A program whose C was printed from other coefficients is found out, with the sample.
func TestProofFindsADifference(t *testing.T) {
	w := ways(t)[:1]
	p := made(t, w, signals()...)
	for i := range p.Runs {
		words := wordsOf(w[0].Program, signals()[i].Samples)
		got := library(w[0].Program, words)
		got[137] ^= 1
		r := compare(w[0], p.Runs[i].Signal, words, got)
		bad := &Proof{Runs: []Run{r}}
		if r.First != 137 || r.Equal != r.Samples-1 || bad.Holds() || bad.Err() == nil || !strings.Contains(bad.Err().Error(), "sample 137") {
			t.Errorf("%+v, error %v", r.First, bad.Err())
		}
	}
	if empty := (&Proof{}); empty.Holds() || empty.Err() == nil {
		t.Error("a proof of nothing holds")
	}
}

// What the compiler does not take is an error with its words, and a signal must be one.
func TestMakeRefuses(t *testing.T) {
	for name, s := range map[string][]Signal{
		"no signal": nil, "0 samples": {{Name: "impulse"}}, "sample 1": {{Name: "noise", Samples: []float64{0, math.NaN()}}},
		"1048577 samples": {Noise(1, MaxSamples+1, 1)}, "two signals": {Impulse(1, 9), Noise(1, 9, 1), Impulse(0.5, 9)},
	} {
		if _, err := Make(ccode.Info{Prefix: "chain"}, ways(t), s); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	t.Setenv("PATH", t.TempDir())
	if _, err := Make(ccode.Info{Prefix: "chain", Title: "Proof"}, ways(t), signals()); !errors.Is(err, ErrNoCompiler) {
		t.Errorf("without a compiler: %v", err)
	}
}
