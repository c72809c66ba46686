package signal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// FastLength returns the next even number of at least n, and at least 2, whose
// prime factors are 2, 3 and 5: a length of which a Fourier transform is fast. That
// of a large prime takes the square of its length in time. It panics above 2^40.
func FastLength(n int) int {
	if n > 1<<40 {
		panic("signal: length of a transform is above 2^40")
	}
	best := 2
	for best < n {
		best *= 2
	}
	for five := 2; five < best; five *= 5 {
		for three := five; three < best; three *= 3 {
			two := three
			for two < n {
				two *= 2
			}
			best = min(best, two)
		}
	}
	return best
}

// Spectrum is how the mean power of a signal is spread over frequency.
type Spectrum struct {
	resolution float64   // Hz between lines
	power      []float64 // of a line; they add up to the mean square
}

// SpectrumOf returns the spectrum of a channel of a clip, from 0. All of the clip
// goes into one transform, without a window, and nothing is taken away: the lines
// add up to the mean square of the samples (Parseval). A clip is filled up with
// silence to [FastLength] samples, and its mean square is that of the samples that
// it has. Lines are as near as the clip is long, at most that; of a clip that is
// not periodic each leaks to its neighbours, by the square of their distance in
// power, so that bands that are steep or narrow against 1/duration are not resolved.
func SpectrumOf(c *Clip, channel int) (*Spectrum, error) {
	x, err := c.Channel(channel)
	if err != nil {
		return nil, err
	}
	n := FastLength(len(x))
	s := &Spectrum{resolution: c.sampleRate / float64(n), power: make([]float64, n/2+1)}
	padded := make([]float64, n)
	copy(padded, x)
	scale := 1 / (float64(n) * float64(len(x)))
	for k, z := range fourier.NewFFT(n).Coefficients(nil, padded) {
		p := (real(z)*real(z) + imag(z)*imag(z)) * scale
		if k != 0 && k != n/2 {
			p *= 2
		}
		s.power[k] = p
	}
	return s, nil
}

// Resolution returns the distance of the lines in hertz; line 0 is at 0 Hz.
func (s *Spectrum) Resolution() float64 { return s.resolution }

// Len returns the number of lines.
func (s *Spectrum) Len() int { return len(s.power) }

// At returns the mean square of line k.
func (s *Spectrum) At(k int) float64 { return s.power[k] }

// Power returns the mean square within lo … hi hertz. A line counts for the band
// of one resolution around it, the first and the last one for the half of it within
// 0 Hz … half the sample rate, so that the parts add up to the whole.
func (s *Spectrum) Power(lo, hi float64) float64 {
	top := s.top()
	var sum float64
	for k := max(0, int(math.Floor(lo/s.resolution+0.5))); k < len(s.power); k++ {
		from, to := max(0, (float64(k)-0.5)*s.resolution), min(top, (float64(k)+0.5)*s.resolution)
		a, b := max(lo, from), min(hi, to)
		if b <= a {
			break
		}
		sum += s.power[k] * (b - a) / (to - from)
	}
	return sum
}

// top returns half the sample rate in hertz.
func (s *Spectrum) top() float64 { return s.resolution * float64(len(s.power)-1) }

// Band is the mean power in one band.
type Band struct {
	Hz    float64 `col:"band" unit:"Hz" fmt:"%.0f"` // the exact mid-band frequency
	Power float64 // mean square
}

// ThirdOctaves returns the power in the third-octave bands whose mid-band
// frequencies lie within lo … hi hertz:
//
//	fₓ = 1000·G^(x/3),  from fₓ·G^(−1/6) to fₓ·G^(1/6),  G = 10^(3/10)
//
// (IEC 61260-1, the base-ten frequencies), cut off as ideal filters do. The nominal
// frequencies 20, 31.5 … stand for the exact ones, 19.95, 31.62 …. Bands that
// are narrower than three lines, or go above half the sample rate, are refused.
func (s *Spectrum) ThirdOctaves(lo, hi float64) ([]Band, error) {
	third := math.Exp(math.Ln10 / 10) // G^(1/3)
	edge := math.Sqrt(third)
	var out []Band
	if !(lo > 0) || !(hi >= lo) || math.IsInf(hi, 0) {
		return nil, fmt.Errorf("signal: third octaves from %g to %g Hz, want 0 < from ≤ to", lo, hi)
	}
	const near = 0.1 // of a band: 20 Hz is the nominal name of 19.95 Hz, 12.5 kHz of 12.59
	for x := math.Ceil(math.Log(lo/1000)/math.Log(third) - near); x <= math.Log(hi/1000)/math.Log(third)+near; x++ {
		f := 1000 * math.Exp(x*math.Ln10/10)
		if f*(edge-1/edge) < 3*s.resolution {
			return nil, fmt.Errorf("signal: third octave at %.4g Hz, lines %.3g Hz apart: want at least 3 in it (a longer clip, or higher bands)", f, s.resolution)
		}
		if f*edge > s.top() {
			return nil, fmt.Errorf("signal: third octave at %.4g Hz goes up to %.5g Hz, and the spectrum to %.5g Hz", f, f*edge, s.top())
		}
		out = append(out, Band{Hz: f, Power: s.Power(f/edge, f*edge)})
	}
	return out, nil
}
