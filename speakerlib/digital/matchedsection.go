package digital

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// Matched is a section of the cookbook or of first order with the magnitude of
// its prototype in s up to near half the sample rate, instead of that which the
// bilinear transform compresses: see [MatchedMagnitude]. It takes low-pass,
// high-pass, band-pass, notch, peak and shelf sections; an all-pass has no
// magnitude to match.
type Matched struct{ Of Section }

// prototyped is a section that has a prototype in s.
type prototyped interface {
	// prototype returns the corner in hertz and H(s), s normalised to it.
	prototype() (f0 float64, s analog.Section)
}

func (s Lowpass) prototype() (float64, analog.Section) {
	return s.F0, analog.Section{N0: 1, D2: 1, D1: 1 / s.Q, D0: 1}
}

func (s Highpass) prototype() (float64, analog.Section) {
	return s.F0, analog.Section{N2: 1, D2: 1, D1: 1 / s.Q, D0: 1}
}

func (s Bandpass) prototype() (float64, analog.Section) {
	return s.F0, analog.Section{N1: 1 / s.Q, D2: 1, D1: 1 / s.Q, D0: 1}
}

func (s BandpassSkirt) prototype() (float64, analog.Section) {
	return s.F0, analog.Section{N1: 1, D2: 1, D1: 1 / s.Q, D0: 1}
}

func (s Notch) prototype() (float64, analog.Section) {
	return s.F0, analog.Section{N2: 1, N0: 1, D2: 1, D1: 1 / s.Q, D0: 1}
}

func (s Peak) prototype() (float64, analog.Section) {
	a := math.Sqrt(s.Gain)
	return s.F0, analog.Section{N2: 1, N1: a / s.Q, N0: 1, D2: 1, D1: 1 / (a * s.Q), D0: 1}
}

func (s LowShelf) prototype() (float64, analog.Section) {
	a := math.Sqrt(s.Gain)
	r := math.Sqrt(a) / s.Q
	return s.F0, analog.Section{N2: a, N1: a * r, N0: a * a, D2: a, D1: r, D0: 1}
}

func (s HighShelf) prototype() (float64, analog.Section) {
	a := math.Sqrt(s.Gain)
	r := math.Sqrt(a) / s.Q
	return s.F0, analog.Section{N2: a * a, N1: a * r, N0: a, D2: 1, D1: r, D0: a}
}

func (s FirstLowpass) prototype() (float64, analog.Section) {
	return s.F0, analog.Section{N0: 1, D1: 1, D0: 1}
}

func (s FirstHighpass) prototype() (float64, analog.Section) {
	return s.F0, analog.Section{N1: 1, D1: 1, D0: 1}
}

func (s FirstLowShelf) prototype() (float64, analog.Section) {
	g := math.Sqrt(s.Gain)
	return s.F0, analog.Section{N1: 1, N0: g, D1: 1, D0: 1 / g}
}

func (s FirstHighShelf) prototype() (float64, analog.Section) {
	g := math.Sqrt(s.Gain)
	return s.F0, analog.Section{N1: g, N0: 1, D1: 1 / g, D0: 1}
}

// Biquad implements [Section].
func (m Matched) Biquad(sampleRate float64) (Biquad, error) {
	p, ok := m.Of.(prototyped)
	if !ok {
		return Biquad{}, fmt.Errorf("digital: matched magnitude of %v, want a low-pass, high-pass, band-pass, notch, peak or shelf", m.Of)
	}
	if _, err := m.Of.Biquad(sampleRate); err != nil {
		return Biquad{}, err
	}
	f0, s := p.prototype()
	w := 2 * math.Pi * f0
	if s.D2 == 0 {
		return matchMagnitude(analog.Section{N1: s.N1, N0: s.N0 * w, D1: s.D1, D0: s.D0 * w}, sampleRate)
	}
	return matchMagnitude(analog.Section{N2: s.N2, N1: s.N1 * w, N0: s.N0 * w * w, D2: s.D2, D1: s.D1 * w, D0: s.D0 * w * w}, sampleRate)
}

// String says what it is of.
func (m Matched) String() string { return fmt.Sprintf("%v, matched magnitude", m.Of) }
