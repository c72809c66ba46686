package dsp

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// noisy is a chain whose noise has a shape: a low high-pass, a peak, a shelf.
func noisy(t testing.TB, a Arithmetic, s Structure, split bool, feedback int, withFIR bool) *Program {
	t.Helper()
	p := &Program{SampleRate: 48000, Arithmetic: a}
	for _, d := range []digital.Section{digital.Highpass{F0: 300, Q: 1.1}, digital.Peak{F0: 2000, Gain: 1.8, Q: 4}, digital.LowShelf{F0: 500, Gain: 0.5, Q: 0.7}} {
		b, err := d.Biquad(p.SampleRate)
		if err != nil {
			t.Fatal(err)
		}
		n, err := newSection(b, d.String(), s, a, split, 0, -1, feedback)
		if err != nil {
			t.Fatal(err)
		}
		p.Sections = append(p.Sections, n)
	}
	g, err := newGain(-0.71, a, split)
	if err != nil {
		t.Fatal(err)
	}
	p.Gain = &g
	if withFIR {
		f, err := fir.New(p.SampleRate, []float64{0.21, 0.52, 0.21, 0, -0.11}, 1, "five taps")
		if err != nil {
			t.Fatal(err)
		}
		x, err := newFIR(f, a, split)
		if err != nil {
			t.Fatal(err)
		}
		p.FIR = []FIR{x}
	}
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	return p
}

// ideal is the same program without rounding of signals: its rounded coefficients in
// float64, of which the error is 2⁻⁵³ and so nothing beside what is tested.
func ideal(t testing.TB, p *Program) *Program {
	t.Helper()
	a := Arithmetic{Signal: Float64(), Coefficient: Float64()}
	out := &Program{SampleRate: p.SampleRate, Arithmetic: a, Delay: p.Delay}
	for _, s := range p.Sections {
		n, err := newSection(s.Biquad(), s.Design, TransposedII, a, false, 0, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		out.Sections = append(out.Sections, n)
	}
	if p.Gain != nil {
		out.Gain = &Gain{Coefficient: Coefficient{Value: p.Gain.Float()}}
	}
	for _, f := range p.FIR {
		x := FIR{Design: f.Design, Delay: f.Delay}
		for _, v := range f.values() {
			x.Taps = append(x.Taps, Coefficient{Value: v})
		}
		out.FIR = append(out.FIR, x)
	}
	return out
}

// bands returns the mean power density of x in thirds of an octave from 20 Hz on, by
// averaged Hann-windowed periodograms.
func bands(x []float64, fs float64, edges []float64) []float64 {
	const n = 8192
	f := fourier.NewFFT(n)
	w, block := make([]float64, n), make([]float64, n)
	var norm float64
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/n)
		norm += w[i] * w[i]
	}
	psd := make([]float64, n/2+1)
	count := 0
	for at := 0; at+n <= len(x); at += n / 2 {
		for i := range block {
			block[i] = w[i] * x[at+i]
		}
		for k, c := range f.Coefficients(nil, block) {
			psd[k] += 2 * real(c*cmplx.Conj(c)) / (fs * norm)
		}
		count++
	}
	out := make([]float64, len(edges)-1)
	for b := range out {
		var sum float64
		var m int
		for k := range psd {
			if hz := float64(k) * fs / n; hz >= edges[b] && hz < edges[b+1] {
				sum += psd[k]
				m++
			}
		}
		out[b] = sum / float64(count) / float64(m)
	}
	return out
}

// The linear model of noise, against the error that the simulation really makes with
// noise as its signal. 2¹⁹ samples: the statistical error of a band is some 0.1 dB.
func TestNoiseIsWhatTheSimulationMakes(t *testing.T) {
	edges := []float64{60, 150, 300, 600, 1200, 1700, 2300, 3500, 7000, 12000, 20000}
	type arrangement struct {
		a         Arithmetic
		s         Structure
		split     bool
		feedback  int
		withFIR   bool
		tolerance float64 // dB
	}
	var list []arrangement
	for _, s := range Structures() {
		// Nine bits of headroom: the poles first make the states of some structures large.
		// In TransposedI and Lattice two roundings have nearly the same argument, and are
		// not quite independent.
		tolerance := 0.35
		switch s {
		case TransposedI:
			tolerance = 0.6
		case Lattice:
			tolerance = 1.5
		}
		list = append(list, arrangement{Arithmetic{Signal: Fixed(9, 15), Coefficient: Fixed(1, 22), Accumulator: 56}, s, false, 0, false, tolerance},
			arrangement{Arithmetic{Signal: Float32(), Coefficient: Float32()}, s, false, 0, false, 5.5})
	}
	list = append(list,
		arrangement{Arithmetic{Signal: Fixed(2, 15), Coefficient: Fixed(1, 22), Accumulator: 56, Rounding: HalfEven}, DirectI, false, 1, true, 0.35},
		arrangement{Arithmetic{Signal: Fixed(2, 15), Coefficient: Fixed(1, 22), Accumulator: 80}, DirectI, true, 2, true, 0.35},
		arrangement{Arithmetic{Signal: Fixed(4, 15), Coefficient: Fixed(1, 22), Accumulator: 56}, StateVariable, false, 1, false, 0.35},
		arrangement{Arithmetic{Signal: Fixed(9, 15), Coefficient: Fixed(1, 22), Accumulator: 56}, TransposedII, false, 2, false, 0.35},
		arrangement{Arithmetic{Signal: Fixed(9, 15), Coefficient: Fixed(1, 22), Accumulator: 56}, Coupled, false, 1, true, 0.35},
		arrangement{Arithmetic{Signal: Fixed(2, 15), Coefficient: Fixed(1, 22), Accumulator: 56, Rounding: Floor}, StateVariable, false, 0, true, 0.35},
		arrangement{Arithmetic{Signal: Fixed(2, 15), Coefficient: Fixed(1, 22), Accumulator: 56, Rounding: TowardZero}, TransposedII, false, 0, false, 4.5})
	const n = 1 << 19
	rng := rand.New(rand.NewPCG(5, 6))
	src := make([]float64, n)
	for i := range src {
		src[i] = math.Round(rng.NormFloat64()*0.2*(1<<15)) / (1 << 15)
	}
	for _, c := range list {
		t.Run(fmt.Sprintf("%v %v feedback %d", c.a, c.s, c.feedback), func(t *testing.T) {
			p := noisy(t, c.a, c.s, c.split, c.feedback, c.withFIR)
			x := p.NewRunner().Process(nil, src)
			y := ideal(t, p).NewRunner().Process(nil, src)
			var power, mean float64
			for i := range x {
				x[i] -= y[i]
				mean += x[i] / float64(n)
			}
			for _, v := range x {
				power += (v - mean) * (v - mean) / float64(n)
			}
			noise, err := p.Noise(0.04)
			if err != nil {
				t.Fatal(err)
			}
			if d := level.PowerDB(noise.Power / power); math.Abs(d) > c.tolerance/2 && c.tolerance < 1 || math.Abs(d) > c.tolerance {
				t.Errorf("power %.4g, simulated %.4g: %.2f dB apart", noise.Power, power, d)
			}
			if d := noise.Offset - mean; math.Abs(d) > 0.02*math.Abs(mean)+0.02*math.Sqrt(power) {
				t.Errorf("offset %.4g, simulated %.4g", noise.Offset, mean)
			}
			g, err := freq.LogGrid(50, 22000, 96)
			if err != nil {
				t.Fatal(err)
			}
			d, err := noise.Density(g, "noise")
			if err != nil {
				t.Fatal(err)
			}
			for i, m := range bands(x, p.SampleRate, edges) {
				var sum, width float64 // mean over hertz of a curve on a logarithmic grid
				lo, hi := g.Between(edges[i], edges[i+1])
				for k := lo; k < hi; k++ {
					sum += d.At(k) * g.At(k)
					width += g.At(k)
				}
				if e := level.PowerDB(sum / width / m); math.Abs(e) > c.tolerance {
					t.Errorf("%g … %g Hz: density %.4g, simulated %.4g FS²/Hz: %.2f dB apart", edges[i], edges[i+1], sum/width, m, e)
				}
			}
		})
	}
}

// Mean and variance of a rounding are those of all accumulators from −8 to 8 steps, counted.
func TestErrorOfARounding(t *testing.T) {
	for _, r := range []Rounding{HalfUp, HalfEven, Floor, TowardZero} {
		for k := 1; k <= 10; k++ {
			a := Arithmetic{Signal: Fixed(3, 12), Coefficient: Fixed(1, 14), Accumulator: 40, Rounding: r}
			q := quantiser{rounding: r}
			var sum, squares, n float64
			count := func(acc int64) {
				e := float64(q.round(acc, uint(k))) - math.Ldexp(float64(acc), -k)
				sum, squares, n = sum+e, squares+e*e, n+1
			}
			for acc := range int64(8) << k {
				count(acc)
				if r == TowardZero {
					count(-acc) // 0 of either sign: its own mean is not that of a row
				} else {
					count(acc - 8<<k)
				}
			}
			mean, variance := fixedError(Row{Variable: 1, Fraction: k, Terms: []Term{{Word: 1}}}, a)
			wantMean := sum / n * a.Signal.Step()
			wantVariance := squares/n*a.Signal.Step()*a.Signal.Step() - wantMean*wantMean
			if math.Abs(mean-wantMean) > 1e-12*a.Signal.Step() || math.Abs(variance/wantVariance-1) > 1e-12 {
				t.Errorf("%v of %d bits: mean %.6g and variance %.6g, counted %.6g and %.6g", r, k, mean, variance, wantMean, wantVariance)
			}
		}
	}
}

// The density integrates to the power, which comes by another way (Gramians).
func TestDensityIntegratesToPower(t *testing.T) {
	for _, c := range []struct {
		s        Structure
		feedback int
	}{{DirectI, 0}, {DirectI, 1}, {DirectI, 2}, {DirectII, 0}, {TransposedI, 0}, {TransposedII, 0}, {TransposedII, 1}, {Coupled, 0}, {Coupled, 2}, {StateVariable, 0}, {StateVariable, 1}, {StateVariable, 2}, {Lattice, 0}} {
		for _, withFIR := range []bool{false, true} {
			p := noisy(t, Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, c.s, false, c.feedback, withFIR)
			n, err := p.Noise(0)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := n.Density(nil, "none"); err == nil {
				t.Error("density without a grid: no error")
			}
			var sum float64 // the midpoint rule converges at once for what is periodic
			const m = 1 << 15
			for k := range m {
				sum += n.at((float64(k)+0.5)*24000/m) / m
			}
			if math.Abs(sum/n.Power-1) > 1e-9 {
				t.Errorf("%v, feedback %d, FIR %v: density integrates to %.12g, power is %.12g", c.s, c.feedback, withFIR, sum, n.Power)
			}
		}
	}
}

func TestHeadroom(t *testing.T) {
	a := Arithmetic{Signal: Fixed(1, 22), Coefficient: Fixed(1, 30), Accumulator: 64}
	one := func(s Structure, d digital.Section) []Node {
		t.Helper()
		b, err := d.Biquad(96000)
		if err != nil {
			t.Fatal(err)
		}
		n, err := newSection(b, "", s, a, false, 0, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		nodes, err := (&Program{SampleRate: 96000, Arithmetic: a, Sections: []Section{n}}).Headroom()
		if err != nil {
			t.Fatal(err)
		}
		return nodes
	}
	// The top of a second-order low-pass is Q/√(1 − 1/(4Q²)) (closed form in s, which
	// the bilinear transform keeps).
	for _, q := range []float64{1, 1.6} {
		want := q / math.Sqrt(1-1/(4*q*q))
		for _, s := range Structures() {
			nodes := one(s, digital.Lowpass{F0: 3000, Q: q})
			for _, n := range nodes {
				if n.Sum == "y" && math.Abs(n.LInf/want-1) > 1e-6 {
					t.Errorf("%v, Q %g: L∞ of the output is %.9g, want %.9g", s, q, n.LInf, want)
				}
				if n.L2 > n.LInf*(1+1e-9) || n.LInf > n.L1*(1+1e-9) || n.Limit != 2 || n.Headroom() != 2/n.LInf {
					t.Errorf("%v, sum %s: L2 %g, L∞ %g, L1 %g, limit %g, headroom %g", s, n.Sum, n.L2, n.LInf, n.L1, n.Limit, n.Headroom())
				}
			}
		}
	}
	// A first-order low-pass y = b0·(x + x₁) − a1·y₁ has a positive impulse response:
	// L1 is the gain at direct current, 1, and Σ h² = b0² + (b0·(1−a1))²/(1 − a1²).
	b, err := digital.FirstLowpass{F0: 2000}.Biquad(96000)
	if err != nil {
		t.Fatal(err)
	}
	n := one(DirectI, digital.FirstLowpass{F0: 2000})[0]
	l2 := math.Sqrt(b.B0*b.B0 + math.Pow(b.B0*(1-b.A1), 2)/(1-b.A1*b.A1))
	if math.Abs(n.L1-1) > 1e-7 || math.Abs(n.L2/l2-1) > 1e-7 || math.Abs(n.LInf-1) > 1e-7 || n.Peak > 1 {
		t.Errorf("first-order low-pass: L1 %.9g, L2 %.9g, L∞ %.9g at %g Hz, want 1, %.9g, 1 at 0 Hz", n.L1, n.L2, n.LInf, n.Peak, l2)
	}
	// Accumulator of 64 bits: signal Q1.22 times Q1.30 leaves 2¹¹.
	if n.Accumulator != 2048 {
		t.Errorf("accumulator holds %g, want 2048", n.Accumulator)
	}
}

// First-order limit cycles by hand: y = Q(α·y₁) in eighths, a half rounded up. α = ¾:
// 2 → 1.5 → 2 stands still, and so does −1 → −0.75 → −1, while −2 → −1.5 → −1.
// α = −¾: 1 → −0.75 → −1 → 0.75 → 1. Nothing exceeds the dead band ½/(1−|α|) = 2 of
// L. B. Jackson, "An analysis of limit cycles due to multiplication rounding in
// recursive digital filters", Allerton Conf. 1969 (from memory).
func TestLimitCyclesByHand(t *testing.T) {
	for alpha, want := range map[float64][]LimitCycle{0.75: {{0.25, 1}, {0.125, 1}}, -0.75: {{0.125, 2}}} {
		a := Arithmetic{Signal: Fixed(0, 3), Coefficient: Fixed(1, 3), Accumulator: 16, Rounding: HalfUp}
		s, err := newSection(digital.Biquad{B0: 1, A1: -alpha}, "", DirectI, a, false, 0, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		p := &Program{SampleRate: 48000, Arithmetic: a, Sections: []Section{s}, Delay: 5}
		got, err := p.LimitCycles(LimitCycleSearch{Trials: 200, Excite: 9, Settle: 200, Level: 1, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got.Bound-0.25) > 1e-9 || !slices.Equal(got.Found, want) || got.Undecided != 0 {
			t.Errorf("α = %g: %+v, want %v and the bound 1/4", alpha, got, want)
		}
		if alpha > 0 && (got.Silent == 0 || got.Silent > 50) {
			t.Errorf("α = %g: %d of 200 trials ended in silence, want those few that end at 0, not those at −1/8", alpha, got.Silent)
		}
	}
}

// Rounding of the magnitude downwards makes the coupled form passive: the state never
// grows (C. W. Barnes and A. T. Fam, IEEE Trans. Circuits Syst. 24, 1977; from memory).
// The same pole in direct form with rounding to the nearest does not fall silent.
func TestCoupledFormFallsSilent(t *testing.T) {
	b, err := digital.Lowpass{F0: 700, Q: 8}.Biquad(48000)
	if err != nil {
		t.Fatal(err)
	}
	run := func(s Structure, r Rounding) *LimitCycles {
		a := Arithmetic{Signal: Fixed(0, 15), Coefficient: Fixed(1, 14), Accumulator: 40, Rounding: r}
		n, err := newSection(b, "", s, a, false, -3, -4, 0)
		if err != nil {
			t.Fatal(err)
		}
		got, err := (&Program{SampleRate: 48000, Arithmetic: a, Sections: []Section{n}}).LimitCycles(LimitCycleSearch{Trials: 20, Excite: 500, Settle: 20000, Level: 0.5, Seed: 2})
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if c := run(Coupled, TowardZero); len(c.Found) != 0 || c.Silent != 20 {
		t.Errorf("coupled form, truncated towards 0: %+v, want silence", c)
	}
	c := run(DirectI, HalfUp)
	if len(c.Found) == 0 || c.Found[0].Amplitude > c.Bound {
		t.Errorf("direct form I, rounded: %+v, want limit cycles within the bound", c)
	}
}
