package dsp

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// The response of rounded coefficients, against the table of 50-digit arithmetic.
// Its rows round b0, b1 and b2 each by itself. With the double zero at direct current
// kept, as Realise does, what is lost at 10 Hz where their sum is not 0 must go.
func TestResponseOfRoundedCoefficients(t *testing.T) {
	g, err := freq.NewGrid([]float64{10, 20, 30, 50, 100, 1000})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range testtable.Read(t, "testdata/quantisation.csv") {
		fs := r.Number(t, "fs")
		word, n := int(r.Number(t, "word_bits")), int(r.Number(t, "fraction_bits"))
		a := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(word-1-n, n), Accumulator: 64, Exponent: 1}
		b, err := digital.Highpass{F0: r.Number(t, "f0"), Q: math.Sqrt(0.5)}.Biquad(fs)
		if err != nil {
			t.Fatal(err)
		}
		exact, err := digital.NewCascade(fs, digital.Given{SampleRate: fs, Coefficients: b})
		if err != nil {
			t.Fatal(err)
		}
		s := Section{Structure: DirectI}
		for i, v := range []float64{b.B0, b.B1, b.B2, b.A1, b.A2} {
			shift := n
			if i == 3 && a.Coefficient.M == 0 {
				shift-- // a1 is held halved
			}
			// b1 of a word without integer bits comes from b0, or it would not fit.
			if i == 1 && a.Coefficient.M == 0 {
				shift--
			}
			s.Coefficients = append(s.Coefficients, Coefficient{Word: int64(math.Round(math.Ldexp(v, shift))), Shift: shift})
		}
		p := &Program{SampleRate: fs, Arithmetic: a, Sections: []Section{s}}
		if r["f0_q"] == "real" {
			// Both words round to a pole at 1: refused, not computed.
			if err := p.Validate(); err == nil || !strings.Contains(err.Error(), "largest pole radius is 1 ") {
				t.Errorf("%g Hz, %d bits: %v, want an error that states the pole radius", fs, word, err)
			}
			continue
		}
		compare := func(p *Program) []float64 {
			tr, err := p.Transfer()
			if err != nil {
				t.Fatal(err)
			}
			got, want := level.OfComplex(nil, tr.ResponseTo(nil, g)), level.OfComplex(nil, exact.ResponseTo(nil, g))
			for i := range got {
				got[i] -= want[i]
			}
			return got
		}
		diff := compare(p)
		for i, c := range []string{"dB_err_10Hz", "dB_err_20Hz", "dB_err_30Hz", "dB_err_50Hz", "dB_err_100Hz", "dB_err_1kHz"} {
			if w := r.Number(t, c); math.Abs(diff[i]-w) > 2e-6*math.Max(1, math.Abs(w)) {
				t.Errorf("%g Hz, %d bits, %d of fraction: error at %g Hz is %.9f dB, table %.9f", fs, word, n, g.At(i), diff[i], w)
			}
		}
		kept, err := newSection(b, "", DirectI, a, false, 0, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		if q := kept.Biquad(); q.B0+q.B1+q.B2 != 0 || q.B0 != q.B2 {
			t.Errorf("%g Hz, %d bits: numerator %g, %g, %g has no double zero at direct current", fs, word, q.B0, q.B1, q.B2)
		}
		p.Sections[0] = kept
		if d := compare(p); r.Number(t, "sum_bq_(should_be_0)") != 0 && math.Abs(d[0]) > math.Abs(diff[0])/3 && math.Abs(d[0]) > 0.02 {
			t.Errorf("%g Hz, %d bits, %d of fraction: error at 10 Hz is %.4f dB with the zero kept, %.4f without", fs, word, n, d[0], diff[0])
		}
	}
}

// The noise of direct form I, against the closed form of its table: one rounding that
// goes through 1/A. Split coefficients are near enough to the unrounded ones for it.
func TestRoundoffNoise(t *testing.T) {
	for _, r := range testtable.Read(t, "testdata/roundoff_noise.csv") {
		fs, bits := r.Number(t, "fs"), int(r.Number(t, "word_bits_B"))
		b, err := digital.Highpass{F0: r.Number(t, "f0_hpf_Q0.707"), Q: math.Sqrt(0.5)}.Biquad(fs)
		if err != nil {
			t.Fatal(err)
		}
		a := Arithmetic{Signal: Fixed(0, bits-1), Coefficient: Fixed(1, 30), Accumulator: 112}
		s, err := newSection(b, "", DirectI, a, true, 0, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		p := &Program{SampleRate: fs, Arithmetic: a, Sections: []Section{s}}
		n, err := p.Noise(0)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := n.Power/n.Sources[0].Variance, r.Number(t, "sum_h2_of_1_over_A"); math.Abs(got/want-1) > 1e-6 {
			t.Errorf("%g Hz, %s Hz: noise gain %.9g, table %.9g", fs, r["f0_hpf_Q0.707"], got, want)
		}
		if got, want := level.PowerDB(n.Power/0.5), r.Number(t, "DF1_roundoff_noise_db_re_fullscale_sine"); math.Abs(got-want) > 2e-4 {
			t.Errorf("%g Hz, %d bits: noise %.4f dB re a sine of full scale, table %.4f", fs, bits, got, want)
		}
	}
}
