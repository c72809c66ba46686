package digital

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
)

// The second-order sections of R. Bristow-Johnson, "Audio EQ Cookbook", W3C
// Working Group Note, 8 June 2021, each the bilinear transform of an analogue
// prototype H(s), s normalised to ω0, prewarped to F0:
//
//	ω0 = 2π·F0/fs,  α = sin ω0/(2·Q),  A = √Gain
//
// Gain is an amplitude ratio, so that A here is the 10^(dB/40) of the note.

// Lowpass is 1/(s² + s/Q + 1).
type Lowpass struct{ F0, Q float64 }

// Highpass is s²/(s² + s/Q + 1).
type Highpass struct{ F0, Q float64 }

// Bandpass is (s/Q)/(s² + s/Q + 1): unity at F0.
type Bandpass struct{ F0, Q float64 }

// BandpassSkirt is s/(s² + s/Q + 1): constant skirts, Q at F0.
type BandpassSkirt struct{ F0, Q float64 }

// Notch is (s² + 1)/(s² + s/Q + 1).
type Notch struct{ F0, Q float64 }

// Allpass is (s² − s/Q + 1)/(s² + s/Q + 1).
type Allpass struct{ F0, Q float64 }

// Peak is (s² + s·A/Q + 1)/(s² + s/(A·Q) + 1): Gain at F0, unity far from it.
type Peak struct{ F0, Gain, Q float64 }

// LowShelf is A·(s² + s·√A/Q + A)/(A·s² + s·√A/Q + 1): Gain at direct current,
// √Gain at F0, unity at high frequencies.
type LowShelf struct{ F0, Gain, Q float64 }

// HighShelf is A·(A·s² + s·√A/Q + 1)/(s² + s·√A/Q + A): unity at direct
// current, √Gain at F0, Gain at high frequencies.
type HighShelf struct{ F0, Gain, Q float64 }

// LowShelfSlope is a [LowShelf] by the shelf slope S of the note instead of Q.
type LowShelfSlope struct{ F0, Gain, Slope float64 }

// HighShelfSlope is a [HighShelf] by the shelf slope S of the note instead of Q.
type HighShelfSlope struct{ F0, Gain, Slope float64 }

// ShelfQ returns the Q of a shelf of slope S: 1/Q² = (A + 1/A)·(1/S − 1) + 2
// with A = √gain. S = 1 is the steepest slope without overshoot. It is an error
// if the right side is not positive, which happens at S > 1 with much gain.
func ShelfQ(gain, slope float64) (float64, error) {
	if !positive(gain) || !positive(slope) {
		return 0, fmt.Errorf("digital: shelf of gain %g and slope %g, want both finite and > 0", gain, slope)
	}
	a := math.Sqrt(gain)
	r := (a+1/a)*(1/slope-1) + 2
	if !(r > 0) {
		k := a + 1/a
		return 0, fmt.Errorf("digital: slope of a shelf of gain %g is %g, want < %g", gain, slope, k/(k-2))
	}
	q := 1 / math.Sqrt(r)
	if !positive(q) {
		return 0, fmt.Errorf("digital: shelf of gain %g and slope %g has a Q of %g, want a finite value > 0", gain, slope, q)
	}
	return q, nil
}

// BandwidthQ returns the Q of a band-pass, notch or peak of a bandwidth in
// octaves: 1/Q = 2·sinh(ln 2/2 · octaves · ω0/sin ω0), between the −3 dB
// frequencies of a band-pass or notch and between the points of half the gain in
// decibels of a peak. It holds the bandwidth exactly only to first order of the
// warping, as the note says.
func BandwidthQ(f0, octaves, sampleRate float64) (float64, error) {
	if err := checkF0("bandwidth", f0, sampleRate); err != nil {
		return 0, err
	}
	if !positive(octaves) {
		return 0, fmt.Errorf("digital: bandwidth is %g octaves, want a finite value > 0", octaves)
	}
	w0 := 2 * math.Pi * f0 / sampleRate
	q := 1 / (2 * math.Sinh(math.Ln2/2*octaves*w0/math.Sin(w0)))
	if !positive(q) {
		return 0, fmt.Errorf("digital: bandwidth of %g octaves has a Q of %g, want a finite value > 0", octaves, q)
	}
	return q, nil
}

// corner holds what all the formulas share.
type corner struct {
	cos, alpha float64
	sin2, cos2 float64 // sin² and cos² of ω0/2: (1 ∓ cos ω0)/2 without cancellation
}

func cornerOf(what string, f0, q, sampleRate float64) (corner, error) {
	if err := checkF0(what, f0, sampleRate); err != nil {
		return corner{}, err
	}
	if err := checkPositive(what, "Q", q); err != nil {
		return corner{}, err
	}
	s, c := math.Sincos(math.Pi * f0 / sampleRate)
	return corner{cos: (c - s) * (c + s), alpha: s * c / q, sin2: s * s, cos2: c * c}, nil
}

// over divides by a0 and checks what comes out: an extreme Q can put a pole on
// the unit circle in floating point.
func over(a0 float64, b0, b1, b2, a1, a2 float64) (Biquad, error) {
	b := Biquad{b0 / a0, b1 / a0, b2 / a0, a1 / a0, a2 / a0}
	return b, b.Check()
}

// Biquad implements [Section].
func (s Lowpass) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("low-pass", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return over(1+k.alpha, k.sin2, 2*k.sin2, k.sin2, -2*k.cos, 1-k.alpha)
}

// Biquad implements [Section].
func (s Highpass) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("high-pass", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return over(1+k.alpha, k.cos2, -2*k.cos2, k.cos2, -2*k.cos, 1-k.alpha)
}

// Biquad implements [Section].
func (s Bandpass) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("band-pass", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return over(1+k.alpha, k.alpha, 0, -k.alpha, -2*k.cos, 1-k.alpha)
}

// Biquad implements [Section].
func (s BandpassSkirt) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("band-pass", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return over(1+k.alpha, s.Q*k.alpha, 0, -s.Q*k.alpha, -2*k.cos, 1-k.alpha)
}

// Biquad implements [Section].
func (s Notch) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("notch", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return over(1+k.alpha, 1, -2*k.cos, 1, -2*k.cos, 1-k.alpha)
}

// Biquad implements [Section].
func (s Allpass) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("all-pass", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return over(1+k.alpha, 1-k.alpha, -2*k.cos, 1+k.alpha, -2*k.cos, 1-k.alpha)
}

// Biquad implements [Section].
func (s Peak) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("peak", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	if err := checkPositive("peak", "gain ratio", s.Gain); err != nil {
		return Biquad{}, err
	}
	a := math.Sqrt(s.Gain)
	return over(1+k.alpha/a, 1+k.alpha*a, -2*k.cos, 1-k.alpha*a, -2*k.cos, 1-k.alpha/a)
}

// Biquad implements [Section].
func (s LowShelf) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("low shelf", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	if err := checkPositive("low shelf", "gain ratio", s.Gain); err != nil {
		return Biquad{}, err
	}
	a := math.Sqrt(s.Gain)
	r := 2 * math.Sqrt(a) * k.alpha
	p, m := a+1, a-1
	return over(p+m*k.cos+r,
		a*(p-m*k.cos+r), 2*a*(m-p*k.cos), a*(p-m*k.cos-r),
		-2*(m+p*k.cos), p+m*k.cos-r)
}

// Biquad implements [Section].
func (s HighShelf) Biquad(sampleRate float64) (Biquad, error) {
	k, err := cornerOf("high shelf", s.F0, s.Q, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	if err := checkPositive("high shelf", "gain ratio", s.Gain); err != nil {
		return Biquad{}, err
	}
	a := math.Sqrt(s.Gain)
	r := 2 * math.Sqrt(a) * k.alpha
	p, m := a+1, a-1
	return over(p-m*k.cos+r,
		a*(p+m*k.cos+r), -2*a*(m+p*k.cos), a*(p+m*k.cos-r),
		2*(m-p*k.cos), p-m*k.cos-r)
}

// Biquad implements [Section].
func (s LowShelfSlope) Biquad(sampleRate float64) (Biquad, error) {
	q, err := ShelfQ(s.Gain, s.Slope)
	if err != nil {
		return Biquad{}, err
	}
	return LowShelf{s.F0, s.Gain, q}.Biquad(sampleRate)
}

// Biquad implements [Section].
func (s HighShelfSlope) Biquad(sampleRate float64) (Biquad, error) {
	q, err := ShelfQ(s.Gain, s.Slope)
	if err != nil {
		return Biquad{}, err
	}
	return HighShelf{s.F0, s.Gain, q}.Biquad(sampleRate)
}

func (s Lowpass) String() string       { return describe("low-pass", s.F0, s.Q) }
func (s Highpass) String() string      { return describe("high-pass", s.F0, s.Q) }
func (s Bandpass) String() string      { return describe("band-pass, unity at its centre,", s.F0, s.Q) }
func (s BandpassSkirt) String() string { return describe("band-pass, constant skirts,", s.F0, s.Q) }
func (s Notch) String() string         { return describe("notch", s.F0, s.Q) }
func (s Allpass) String() string       { return describe("all-pass", s.F0, s.Q) }
func (s Peak) String() string          { return describeGain("peak", s.F0, s.Gain, "Q", s.Q) }
func (s LowShelf) String() string      { return describeGain("low shelf", s.F0, s.Gain, "Q", s.Q) }
func (s HighShelf) String() string     { return describeGain("high shelf", s.F0, s.Gain, "Q", s.Q) }
func (s LowShelfSlope) String() string {
	return describeGain("low shelf", s.F0, s.Gain, "S", s.Slope)
}
func (s HighShelfSlope) String() string {
	return describeGain("high shelf", s.F0, s.Gain, "S", s.Slope)
}

func describe(what string, f0, q float64) string {
	return fmt.Sprintf("%s %.4g Hz, Q %.3g", what, f0, q)
}

func describeGain(what string, f0, gain float64, name string, q float64) string {
	return fmt.Sprintf("%s %.4g Hz, %+.2f dB, %s %.3g", what, f0, level.DB(gain), name, q)
}
