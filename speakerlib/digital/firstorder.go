package digital

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
)

// First-order sections by the bilinear transform, prewarped to F0 with
// K = tan(π·F0/fs): s normalised to ω0 becomes (1/K)·(1 − z⁻¹)/(1 + z⁻¹).

// FirstLowpass is 1/(s + 1).
type FirstLowpass struct{ F0 float64 }

// FirstHighpass is s/(s + 1).
type FirstHighpass struct{ F0 float64 }

// FirstAllpass is (1 − s)/(1 + s): −90° at F0.
type FirstAllpass struct{ F0 float64 }

// FirstLowShelf is (s + √G)/(s + 1/√G): Gain G at direct current, √G at F0,
// unity at high frequencies.
type FirstLowShelf struct{ F0, Gain float64 }

// FirstHighShelf is (√G·s + 1)/(s/√G + 1): unity at direct current, √G at F0,
// Gain G at high frequencies.
type FirstHighShelf struct{ F0, Gain float64 }

// first returns the section (n1·s + n0)/(d1·s + d0).
func first(k, n1, n0, d1, d0 float64) (Biquad, error) {
	a0 := d1 + d0*k
	b := Biquad{B0: (n1 + n0*k) / a0, B1: (n0*k - n1) / a0, A1: (d0*k - d1) / a0}
	return b, b.Check()
}

func tangent(what string, f0, sampleRate float64) (float64, error) {
	if err := checkF0(what, f0, sampleRate); err != nil {
		return 0, err
	}
	return math.Tan(math.Pi * f0 / sampleRate), nil
}

// Biquad implements [Section].
func (s FirstLowpass) Biquad(sampleRate float64) (Biquad, error) {
	k, err := tangent("low-pass", s.F0, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return first(k, 0, 1, 1, 1)
}

// Biquad implements [Section].
func (s FirstHighpass) Biquad(sampleRate float64) (Biquad, error) {
	k, err := tangent("high-pass", s.F0, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return first(k, 1, 0, 1, 1)
}

// Biquad implements [Section].
func (s FirstAllpass) Biquad(sampleRate float64) (Biquad, error) {
	k, err := tangent("all-pass", s.F0, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	return first(k, -1, 1, 1, 1)
}

// Biquad implements [Section].
func (s FirstLowShelf) Biquad(sampleRate float64) (Biquad, error) {
	k, err := tangent("low shelf", s.F0, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	if err := checkPositive("low shelf", "gain ratio", s.Gain); err != nil {
		return Biquad{}, err
	}
	g := math.Sqrt(s.Gain)
	return first(k, 1, g, 1, 1/g)
}

// Biquad implements [Section].
func (s FirstHighShelf) Biquad(sampleRate float64) (Biquad, error) {
	k, err := tangent("high shelf", s.F0, sampleRate)
	if err != nil {
		return Biquad{}, err
	}
	if err := checkPositive("high shelf", "gain ratio", s.Gain); err != nil {
		return Biquad{}, err
	}
	g := math.Sqrt(s.Gain)
	return first(k, g, 1, 1/g, 1)
}

func (s FirstLowpass) String() string  { return fmt.Sprintf("first-order low-pass %.6g Hz", s.F0) }
func (s FirstHighpass) String() string { return fmt.Sprintf("first-order high-pass %.6g Hz", s.F0) }
func (s FirstAllpass) String() string  { return fmt.Sprintf("first-order all-pass %.6g Hz", s.F0) }
func (s FirstLowShelf) String() string {
	return fmt.Sprintf("first-order low shelf %.6g Hz, %+.3f dB", s.F0, level.DB(s.Gain))
}
func (s FirstHighShelf) String() string {
	return fmt.Sprintf("first-order high shelf %.6g Hz, %+.3f dB", s.F0, level.DB(s.Gain))
}
