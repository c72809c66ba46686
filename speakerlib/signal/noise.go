package signal

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Shape is the spectrum of a noise.
type Shape interface {
	// Amplitude returns the square root of the power density at a frequency in
	// hertz, in any unit: only ratios matter.
	Amplitude(hz float64) float64
}

// Pink is the shape of equal power per octave, 1/√f.
type Pink struct{}

// Amplitude implements Shape.
func (Pink) Amplitude(hz float64) float64 { return 1 / math.Sqrt(hz) }

// Programme is pink noise behind the filter of the simulated programme signal of
// IEC 60268-1, which stands for the long-term mean of speech and music of many
// kinds: it falls below 50 Hz and above 5 kHz. The standard gives third-octave
// levels and a passive network. Here it is
//
//	|W|² = k·Π 1/(1+(fₗ/f)²)·Π 1/(1+(f/fₕ)²),  fₗ = 13.3, 34.7, 34.7 Hz,  fₕ = 3894, 9354 Hz
//
// the five real poles that fit the table best (levels from memory, in the package's
// testdata): within 0.11 dB of it from 20 Hz to 20 kHz, where the standard allows
// deviations of about 0.5 dB and more (from memory). It is 0 dB at its highest.
type Programme struct{}

var (
	programmeLow  = [...]float64{13.34, 34.73, 34.73} // Hz
	programmeHigh = [...]float64{3893.8, 9353.5}
)

// programmeGain is the power at which the table has its 0 dB over that of the
// poles alone.
const programmeGain = 1.0447

// Amplitude implements Shape.
func (Programme) Amplitude(hz float64) float64 {
	p := programmeGain / hz
	for _, f := range programmeLow {
		p /= 1 + f/hz*(f/hz)
	}
	for _, f := range programmeHigh {
		p /= 1 + hz/f*(hz/f)
	}
	return math.Sqrt(p)
}

// NoiseSetup says how a noise is made.
type NoiseSetup struct {
	SampleRate float64 // Hz
	Duration   float64 // s; made a little longer where that makes the transform fast
	From, To   float64 // Hz, the band; To at most half the sample rate
	Shape      Shape
	Crest      float64 // wanted ratio of peak to rms, such as 2 (6 dB); 0: as it comes
	RMS        float64 // of the samples; 0: such that the peak of the waveform is 1
	Seed       uint64
}

// Noise is a noise as it was made.
type Noise struct {
	Clip  *Clip
	RMS   float64 // of its samples
	Crest float64 // peak over rms: what was reached
}

// NewNoise returns a periodic noise: lines at every multiple of 1/Duration within
// the band, of exactly the amplitude that the shape asks for and of random phase.
// Played again and again it has no seam, and the response of a linear system to it
// is exact by one transform. One seed gives one noise, to rounding.
//
// A wanted crest is approached by changing the phases only: the noise is clipped a
// little below the crest, its lines are given back their amplitudes, and so on
// (E. Van der Ouderaa, J. Schoukens, J. Renneboog, "Peak factor minimization using
// a time-frequency domain swapping algorithm", IEEE Trans. Instrum. Meas. 37, 1988;
// from memory). So the spectrum stays exact, as it does not where a noise is simply
// clipped, and Crest tells what was reached: at least the wanted one to within 1 %,
// or what 200 rounds gave. Ratios down to 1.6 (4 dB) can be had; left alone a noise
// of some seconds has about 4.8 (13.6 dB), and a crest above that is not made: what is
// returned is the noise as it comes. The crest is that of the waveform between the
// samples too, seen twice as fine as they are: finer there is another 0.4 dB at a crest
// of 2 and 0.7 dB at 1.6, because a noise that is driven low has its peaks everywhere.
//
// Behind a filter the crest goes back towards that of any noise: the excursion of a
// cone has peaks that its voltage has not. Test signals at high level damage drivers
// and hearing.
func NewNoise(s NoiseSetup) (*Noise, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	n := FastLength(int(math.Round(s.SampleRate * s.Duration)))
	lo := int(math.Ceil(s.From*float64(n)/s.SampleRate - 1e-9))
	hi := min(int(math.Floor(s.To*float64(n)/s.SampleRate+1e-9)), n/2-1)
	if lo < 1 || hi <= lo {
		return nil, fmt.Errorf("signal: noise of %g s has no lines from %g to %g Hz, want a longer one or a wider band", s.Duration, s.From, s.To)
	}
	random := rand.New(rand.NewPCG(s.Seed, 0x6e6f697365))
	amplitude := make([]float64, n/2+1)
	lines := make([]complex128, n/2+1)
	var power float64
	for k := lo; k <= hi; k++ {
		a := s.Shape.Amplitude(float64(k) * s.SampleRate / float64(n))
		if !(a >= 0) || math.IsInf(a, 0) {
			return nil, fmt.Errorf("signal: amplitude of the noise at %g Hz is %g, want a finite value ≥ 0", float64(k)*s.SampleRate/float64(n), a)
		}
		amplitude[k] = a
		power += 2 * a * a
		lines[k] = cmplx.Rect(a, 2*math.Pi*random.Float64())
	}
	if !(power > 0) || math.IsInf(power, 0) {
		return nil, fmt.Errorf("signal: power of the noise from %g to %g Hz is %g, want a finite value > 0", s.From, s.To, power)
	}
	scale := 1 / math.Sqrt(power) // rms 1
	for k := lo; k <= hi; k++ {
		amplitude[k] *= scale
		lines[k] *= complex(scale, 0)
	}
	// Twice as fine, so that peaks between the samples are seen.
	fine := make([]float64, 2*n)
	crest := swap(fourier.NewFFT(2*n), fine, append(lines, make([]complex128, n/2)...), amplitude, s.Crest)
	rms := s.RMS
	if rms == 0 {
		rms = 1 / crest
	}
	x := make([]float64, n)
	for i := range x {
		x[i] = fine[2*i] * rms
	}
	clip, err := NewClip(s.SampleRate, x)
	return &Noise{Clip: clip, RMS: rms, Crest: crest}, err
}

// swap writes the samples of the lines into x, with their phases changed until the
// peak is near the wanted one, and returns the peak.
func swap(fft *fourier.FFT, x []float64, lines []complex128, amplitude []float64, wanted float64) float64 {
	const rounds, margin, near = 200, 0.97, 1.01
	inverse := complex(1/float64(len(x)), 0)
	for round := 0; ; round++ {
		fft.Sequence(x, lines)
		var peak float64
		for _, v := range x {
			peak = max(peak, math.Abs(v))
		}
		if wanted == 0 || peak <= wanted*near || round == rounds {
			return peak
		}
		for i, v := range x {
			x[i] = max(-margin*wanted, min(margin*wanted, v))
		}
		fft.Coefficients(lines, x)
		for k, z := range lines {
			var a float64
			if k < len(amplitude) {
				a = amplitude[k]
			}
			z *= inverse
			switch m := cmplx.Abs(z); {
			case a == 0:
				lines[k] = 0
			case m > 0:
				lines[k] = z * complex(a/m, 0)
			default:
				lines[k] = complex(a, 0)
			}
		}
	}
}

func (s NoiseSetup) validate() error {
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	switch {
	case !(s.SampleRate > 0) || !finite(s.SampleRate):
		return fmt.Errorf("signal: sample rate of a noise is %g Hz, want a finite value > 0", s.SampleRate)
	case !(s.Duration > 0) || !finite(s.Duration):
		return fmt.Errorf("signal: duration of a noise is %g s, want a finite value > 0", s.Duration)
	case s.Duration*s.SampleRate > DefaultMaxSamples:
		return fmt.Errorf("signal: noise of %g samples, want at most %d", s.Duration*s.SampleRate, DefaultMaxSamples)
	case !(s.From > 0) || !(s.To > s.From) || s.To > s.SampleRate/2:
		return fmt.Errorf("signal: noise from %g to %g Hz at %g Hz, want 0 < from < to ≤ half the sample rate", s.From, s.To, s.SampleRate)
	case s.Shape == nil:
		return fmt.Errorf("signal: noise has no shape, want one such as Pink")
	case s.Crest != 0 && !(s.Crest >= 1.5) || !finite(s.Crest):
		return fmt.Errorf("signal: wanted crest is %g, want 0 or a finite ratio of at least 1.5", s.Crest)
	case !(s.RMS >= 0) || !finite(s.RMS):
		return fmt.Errorf("signal: rms of a noise is %g, want 0 or a finite value > 0", s.RMS)
	}
	return nil
}
