package limits

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/signal"
)

// WorstSetup says how finely and how long an impulse response is looked at.
type WorstSetup struct {
	SampleRate float64 // Hz; 0: 96 kHz. Nothing above half of it is seen: a lower one makes the result too low
	Duration   float64 // s, in which the response must die away; 0: 4 s
}

// Worst is the most that any signal can make of a transfer.
type Worst struct {
	PerVolt  float64 // the largest output per peak of the input, ∫|h|dt
	Sine     float64 // the same for a steady sine: the largest |H|
	Resolved float64 // ∫|h|dt as far as the sample rate resolves it: PerVolt is extrapolated from here
}

// WorstCase returns how large the output of a transfer can become for an input that
// never exceeds 1: with h the impulse response,
//
//	max |y(t)| = ∫|h(t)|dt  for any |u(t)| ≤ 1,
//
// reached by u(t) = sign h(−t), a square wave with edges where the worst has them.
// Of the admittance of a loudspeaker it is the largest current that it can draw from
// an amplifier of 1 V, which is more than 1/|Z|min, because the driver's own stored
// energy can be made to add to the source's (M. Otala and P. Huttunen, "Peak Current
// Requirement of Commercial Loudspeaker Systems", J. Audio Eng. Soc. 35, 1987; from
// memory). It cannot be less than Sine.
//
// The integral is that over h blurred by a normal distribution of a standard
// deviation of 1.3 samples (13 µs at 96 kHz), which is never negative: where h keeps
// its sign, an impulse at the start included, that changes nothing, where it changes
// its sign the result is low. Next to a jump what is missing grows with the blur, so
// that the step from twice the blur to this one is added once more. Without a coil
// inductance the result is then low by less than 1 %; where h is smooth it is right
// or a trifle high. A real source has such a blur of its own. At direct current the
// transfer is taken as it is at a thousandth of 1/Duration. A response that has not
// died away is refused.
func WorstCase(t freq.Transfer, s WorstSetup) (Worst, error) {
	if s.SampleRate == 0 {
		s.SampleRate = 96e3
	}
	if s.Duration == 0 {
		s.Duration = 4
	}
	samples := s.SampleRate * s.Duration
	if !(s.SampleRate > 0) || !(samples >= 16) || !(samples <= freq.MaxPoints) {
		return Worst{}, fmt.Errorf("limits: worst case over %g s at %g Hz, want 16 to %d samples", s.Duration, s.SampleRate, freq.MaxPoints)
	}
	n := signal.FastLength(int(samples))
	lines, err := linesOf(t, s.SampleRate, n)
	if err != nil {
		return Worst{}, err
	}
	step := s.SampleRate / float64(n)
	start, err := freq.NewGrid([]float64{step / 1000})
	if err != nil {
		return Worst{}, err
	}
	zero, err := freq.Evaluate(t, start, "direct current", freq.Basis{})
	if err != nil {
		return Worst{}, err
	}
	lines[0] = complex(real(zero.At(0)), 0)
	var w Worst
	for _, z := range lines {
		w.Sine = max(w.Sine, cmplx.Abs(z))
	}
	fft, h, blurred := fourier.NewFFT(n), make([]float64, n), make([]complex128, len(lines))
	integral := func(width float64) (sum, tail float64) { // width in Hz
		for k, z := range lines {
			x := float64(k) * step / width
			blurred[k] = z * complex(math.Exp(-x*x/2)/float64(n), 0)
		}
		fft.Sequence(h, blurred)
		for i, v := range h {
			sum += math.Abs(v)
			if i > n*17/20 && i < n*19/20 { // the blur of the start is at the very end
				tail += math.Abs(v)
			}
		}
		return sum, tail
	}
	coarse, _ := integral(s.SampleRate / 16)
	var tail float64
	if w.Resolved, tail = integral(s.SampleRate / 8); tail > 1e-3*w.Resolved {
		return Worst{}, fmt.Errorf("limits: response has not died away: %.2g of it is in the last tenth of %g s, want at most 0.001 (a longer duration)", tail/w.Resolved, s.Duration)
	}
	w.PerVolt = max(2*w.Resolved-coarse, w.Sine)
	return w, nil
}

// linesOf evaluates a transfer at the lines of a transform of n samples, but for
// direct current, which is left at 0.
func linesOf(t freq.Transfer, sampleRate float64, n int) ([]complex128, error) {
	g, err := freq.LinearGrid(sampleRate/float64(n), sampleRate/2, n/2)
	if err != nil {
		return nil, err
	}
	if err := freq.CheckGrid(t, g); err != nil {
		return nil, err
	}
	lines := make([]complex128, n/2+1)
	t.ResponseTo(lines[1:], g)
	for k, z := range lines {
		if cmplx.IsNaN(z) || cmplx.IsInf(z) {
			return nil, fmt.Errorf("limits: transfer is %v at %g Hz, want finite values", z, float64(k)*sampleRate/float64(n))
		}
	}
	return lines, nil
}
