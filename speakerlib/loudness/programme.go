package loudness

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/signal"
)

// MinLines is the least length of an impulse response that [Lines] stands for.
const MinLines = 256

// Lines returns the frequencies on which [Match] knows a loudspeaker: k·rate/n for k =
// 1 … n/2, the lines of a Fourier transform of n samples, which must be even. The
// impulse response must have died away within n samples, or its tail folds back:
// rate/n is the resolution of the bass, and 16384 at 48 kHz (3 Hz, 0.34 s) is plenty
// for a loudspeaker without its room. A measured response is brought to these
// frequencies by package measure, which is where interpolation is.
func Lines(sampleRate float64, n int) (*freq.Grid, error) {
	if n < MinLines || n%2 != 0 || n > freq.MaxPoints {
		return nil, fmt.Errorf("loudness: lines of %d samples, want an even number of %d to %d", n, MinLines, freq.MaxPoints)
	}
	if !(sampleRate >= lowestRate) {
		return nil, fmt.Errorf("loudness: lines at a sample rate of %g Hz, want at least %d Hz", sampleRate, lowestRate)
	}
	return freq.LinearGrid(sampleRate/float64(n), sampleRate/2, n/2)
}

// Programme is what variants are compared with.
type Programme struct {
	clip      *signal.Clip
	positions []Position
	// power returns the mean square within lo … hi hertz, weighted by position and
	// summed over the channels.
	power func(lo, hi float64) float64
	own   Loudness
}

// FromClip returns the programme of a clip, each channel of which is played by a
// loudspeaker of its own, all alike. Positions are as in [Of].
func FromClip(c *signal.Clip, positions ...Position) (*Programme, error) {
	own, err := Of(c, positions...)
	if err != nil {
		return nil, err
	}
	if own.Passed == 0 {
		return nil, fmt.Errorf("loudness: programme never rises above %d LKFS, want one that is heard", absoluteGate)
	}
	var spectra []*signal.Spectrum
	var weights []float64
	for i := range c.Channels() {
		s, err := signal.SpectrumOf(c, i)
		if err != nil {
			return nil, err
		}
		var p Position
		if len(positions) > 0 {
			p = positions[i]
		}
		w, err := p.weight()
		if err != nil {
			return nil, err
		}
		spectra, weights = append(spectra, s), append(weights, w)
	}
	return &Programme{clip: c, positions: positions, own: own, power: func(lo, hi float64) float64 {
		var sum float64
		for i, s := range spectra {
			sum += weights[i] * s.Power(lo, hi)
		}
		return sum
	}}, nil
}

// FromShape returns the programme of a spectrum: for the spectrum's route the shape
// itself, for that through time a noise of it ([signal.NewNoise]).
func FromShape(s signal.NoiseSetup) (*Programme, error) {
	n, err := signal.NewNoise(s)
	if err != nil {
		return nil, err
	}
	p, err := FromClip(n.Clip)
	if err != nil {
		return nil, err
	}
	const steps = 8 // of Simpson's rule within a line
	density := func(lo, hi float64) float64 {
		lo, hi = max(lo, s.From), min(hi, s.To)
		if !(hi > lo) {
			return 0
		}
		var sum float64
		for k := range steps + 1 {
			a := s.Shape.Amplitude(lo + (hi-lo)*float64(k)/steps)
			w := 2.0
			switch {
			case k == 0 || k == steps:
				w = 1
			case k%2 == 1:
				w = 4
			}
			sum += w * a * a
		}
		return sum * (hi - lo) / (3 * steps)
	}
	// The level of a shape is that of the noise.
	var whole float64
	g, err := Lines(s.SampleRate, MinLines*64)
	if err != nil {
		return nil, err
	}
	half := g.First() / 2
	for k := range g.Len() {
		whole += density(g.At(k)-half, g.At(k)+half)
	}
	scale := n.RMS * n.RMS / whole
	p.power = func(lo, hi float64) float64 { return scale * density(lo, hi) }
	return p, nil
}

// Loudness returns what the programme itself reads.
func (p *Programme) Loudness() Loudness { return p.own }

// SampleRate returns the sample rate in hertz.
func (p *Programme) SampleRate() float64 { return p.clip.SampleRate() }
