package signal

import (
	"fmt"
	"math"
)

// Sweep is a sine whose frequency rises exponentially from From to To:
//
//	x(t) = A·sin(2π·From·L·(e^{t/L} − 1)),   L = T/ln(To/From),   0 ≤ t < T
//
// (A. Farina, "Simultaneous measurement of impulse response and distortion with a
// swept-sine technique", 108th AES Convention, 2000). The sweep at
// m times the frequency is the same sweep, L·ln m earlier: behind a deconvolution
// harmonic m stands as a response of its own L·ln m before the linear one.
//
// Unless it is as it stands (Exact), the sweep is synchronised: T is moved to the
// nearest value that makes From·L a whole number. Then all harmonics begin in phase
// with their image in the sweep, and the phases of the distortion products mean
// something (A. Novak, P. Lotton, L. Simon, "Synchronized swept-sine: theory,
// application, and implementation", J. Audio Eng. Soc. 63, 2015).
type Sweep struct {
	setup  SweepSetup
	length float64 // L, s
}

// SweepSetup says how a sweep is made.
type SweepSetup struct {
	SampleRate float64 // Hz
	From, To   float64 // Hz, To at most half the sample rate
	Duration   float64 // s; of a synchronised sweep the nearest that can be
	Amplitude  float64 // peak, relative to full scale; 0: 0.5
	FadeIn     float64 // s of half a cosine at the beginning, within the duration
	FadeOut    float64 // s at the end
	Exact      bool    // the duration as it stands, not synchronised
}

// maxSweep is the most samples of a sweep.
const maxSweep = DefaultMaxSamples

// NewSweep returns the sweep. Loudspeakers are hurt by long sweeps at high level:
// a tweeter by what is below its range, a woofer in a vented box below the tuning.
// Begin 20 dB lower than you mean to measure.
func NewSweep(s SweepSetup) (*Sweep, error) {
	for _, v := range [...]float64{s.SampleRate, s.From, s.To, s.Duration, s.Amplitude, s.FadeIn, s.FadeOut} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("signal: sweep %+v, want finite values", s)
		}
	}
	if !(s.SampleRate > 0) || !(s.From > 0) || !(s.To > s.From) || s.To > s.SampleRate/2 {
		return nil, fmt.Errorf("signal: sweep from %g to %g Hz at %g Hz, want 0 < from < to ≤ half the sample rate", s.From, s.To, s.SampleRate)
	}
	if s.Amplitude == 0 {
		s.Amplitude = 0.5
	}
	if !(s.Amplitude > 0) {
		return nil, fmt.Errorf("signal: amplitude of a sweep is %g, want > 0", s.Amplitude)
	}
	octaves := math.Log(s.To / s.From)
	if !(s.Duration > 0) || s.Duration*s.SampleRate > maxSweep || s.Duration*s.SampleRate < 2 {
		return nil, fmt.Errorf("signal: sweep of %g s at %g Hz, want 2 … %d samples", s.Duration, s.SampleRate, maxSweep)
	}
	l := s.Duration / octaves
	if !s.Exact {
		turns := math.Round(s.From * l)
		if turns < 1 {
			return nil, fmt.Errorf("signal: synchronised sweep from %g to %g Hz in %g s, want at least %.3g s", s.From, s.To, s.Duration, octaves/s.From/2)
		}
		l = turns / s.From
		s.Duration = l * octaves
	}
	if s.FadeIn < 0 || s.FadeOut < 0 || s.FadeIn+s.FadeOut > s.Duration {
		return nil, fmt.Errorf("signal: fades of %g and %g s of a sweep of %g s, want ≥ 0 and together no longer", s.FadeIn, s.FadeOut, s.Duration)
	}
	return &Sweep{setup: s, length: l}, nil
}

// Setup returns how the sweep is made, with the duration and amplitude that it has.
func (s *Sweep) Setup() SweepSetup { return s.setup }

// L returns the time in seconds in which the frequency rises by the factor e.
func (s *Sweep) L() float64 { return s.length }

// Lead returns how much earlier than the linear response harmonic m stands behind
// a deconvolution, L·ln m, in seconds.
func (s *Sweep) Lead(m int) float64 {
	if m < 1 {
		panic("signal: order of a harmonic is less than 1")
	}
	return s.length * math.Log(float64(m))
}

// HzAt returns the instantaneous frequency at t seconds, From·e^{t/L}.
func (s *Sweep) HzAt(t float64) float64 { return s.setup.From * math.Exp(t/s.length) }

// Samples returns the samples n/fs < T.
func (s *Sweep) Samples() []float64 {
	n := int(math.Ceil(s.setup.Duration * s.setup.SampleRate))
	x := make([]float64, n)
	turns := s.setup.From * s.length
	for i := range x {
		t := float64(i) / s.setup.SampleRate
		// Expm1 keeps the phase at the start; whole turns are taken off before the
		// sine, which then has few to reduce.
		_, phase := math.Modf(turns * math.Expm1(t/s.length))
		x[i] = s.setup.Amplitude * math.Sin(2*math.Pi*phase)
		if t < s.setup.FadeIn {
			x[i] *= 0.5 - 0.5*math.Cos(math.Pi*t/s.setup.FadeIn)
		}
		if left := s.setup.Duration - t; left < s.setup.FadeOut {
			x[i] *= 0.5 - 0.5*math.Cos(math.Pi*left/s.setup.FadeOut)
		}
	}
	return x
}

// Clip returns the samples as a clip of one channel.
func (s *Sweep) Clip() *Clip {
	return &Clip{sampleRate: s.setup.SampleRate, channels: [][]float64{s.Samples()}}
}
