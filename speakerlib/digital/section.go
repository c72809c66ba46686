package digital

import (
	"fmt"
	"math"
)

// Section is a second- or first-order filter that becomes coefficients once the
// sample rate is known. String says in words what it was designed as; it goes
// into exported documents.
type Section interface {
	fmt.Stringer
	Biquad(sampleRate float64) (Biquad, error)
}

// Given is a section by its coefficients, which hold for one sample rate only.
type Given struct {
	SampleRate   float64 // Hz
	Coefficients Biquad
	Design       string // what it was designed as; may be empty
}

// Biquad returns the coefficients, or an error at another sample rate.
func (s Given) Biquad(sampleRate float64) (Biquad, error) {
	if sampleRate != s.SampleRate {
		return Biquad{}, fmt.Errorf("digital: section %q has coefficients for %g Hz, want %g Hz", s.Design, s.SampleRate, sampleRate)
	}
	return s.Coefficients, s.Coefficients.Check()
}

// String returns the design.
func (s Given) String() string { return s.Design }

func positive(v float64) bool { return v > 0 && !math.IsInf(v, 0) }

func checkRate(sampleRate float64) error {
	if !positive(sampleRate) {
		return fmt.Errorf("digital: sample rate is %g Hz, want a finite value > 0", sampleRate)
	}
	return nil
}

// checkF0 requires 0 < f0 < sampleRate/2.
func checkF0(what string, f0, sampleRate float64) error {
	if err := checkRate(sampleRate); err != nil {
		return err
	}
	if !(f0 > 0) || !(f0 < sampleRate/2) {
		return fmt.Errorf("digital: %s frequency is %g Hz, want > 0 and < %g Hz, half the sample rate", what, f0, sampleRate/2)
	}
	return nil
}

func checkPositive(what, name string, v float64) error {
	if !positive(v) {
		return fmt.Errorf("digital: %s of %s is %g, want a finite value > 0", name, what, v)
	}
	return nil
}
