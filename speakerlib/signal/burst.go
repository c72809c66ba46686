package signal

import (
	"fmt"
	"math"
)

// Burst is a tone burst under a raised cosine:
//
//	x(t) = A·sin(2π·Hz·t)·(1 − cos(2π·t/T))/2,  T = Cycles/Hz,  0 ≤ t ≤ T
//
// With 6.5 cycles the highest half wave stands in the middle and reaches A, and the
// spectrum is about a third octave wide: the burst with which the peak output of
// subwoofers is measured (D. B. Keele, "Development of Test Signals for the
// EIA-426-B Loudspeaker Power-Rating Compact Disk", 111th AES Convention, 2001, and
// CTA-2010; both from memory). It loads a driver like a drum does: excursion and
// volts as of a sine, hardly any heat.
type Burst struct {
	SampleRate float64 // Hz
	Hz         float64 // of the tone, below half the sample rate
	Cycles     float64 // 0: 6.5
	Amplitude  float64 // A; 0: 1
	Before     float64 // s of silence
	After      float64 // s of silence, in which a loudspeaker rings down
}

// Clip returns the samples.
func (b Burst) Clip() (*Clip, error) {
	if b.Cycles == 0 {
		b.Cycles = 6.5
	}
	if b.Amplitude == 0 {
		b.Amplitude = 1
	}
	finite := func(v float64) bool { return v > 0 && !math.IsInf(v, 0) }
	switch {
	case !finite(b.SampleRate):
		return nil, fmt.Errorf("signal: sample rate of a burst is %g Hz, want a finite value > 0", b.SampleRate)
	case !(b.Hz > 0) || !(b.Hz < b.SampleRate/2):
		return nil, fmt.Errorf("signal: burst of %g Hz at %g Hz, want > 0 and below half the sample rate", b.Hz, b.SampleRate)
	case !(b.Cycles >= 1) || !finite(b.Cycles):
		return nil, fmt.Errorf("signal: burst of %g cycles, want a finite number of at least 1", b.Cycles)
	case !finite(math.Abs(b.Amplitude)):
		return nil, fmt.Errorf("signal: amplitude of a burst is %g, want a finite value", b.Amplitude)
	case !(b.Before >= 0) || !(b.After >= 0):
		return nil, fmt.Errorf("signal: silence of %g s before a burst and %g s after it, want ≥ 0", b.Before, b.After)
	}
	length := b.Cycles / b.Hz
	samples := (b.Before+length+b.After)*b.SampleRate + 1
	if !(samples <= DefaultMaxSamples) {
		return nil, fmt.Errorf("signal: burst of %g samples, want at most %d", samples, DefaultMaxSamples)
	}
	x := make([]float64, int(samples))
	for i := range x {
		if t := float64(i)/b.SampleRate - b.Before; t > 0 && t < length {
			s := math.Sin(math.Pi * t / length)
			x[i] = b.Amplitude * s * s * math.Sin(2*math.Pi*b.Hz*t)
		}
	}
	return NewClip(b.SampleRate, x)
}
