package activerc

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// Sections in s. f0 is in hertz and ω0 = 2π·f0; gains are amplitude ratios. The functions
// write the formula down; [Realise] refuses what it does not make sense of.

// FirstLowpass is gain·ω0/(s + ω0).
func FirstLowpass(f0, gain float64) analog.Section {
	w := 2 * math.Pi * f0
	return analog.Section{N0: gain * w, D1: 1, D0: w}
}

// FirstHighpass is gain·s/(s + ω0).
func FirstHighpass(f0, gain float64) analog.Section {
	return analog.Section{N1: gain, D1: 1, D0: 2 * math.Pi * f0}
}

// FirstAllpass is (ω0 − s)/(ω0 + s): from 0° down to −180°, −90° at f0. Its delay is
// 2/ω0/(1 + (f/f0)²).
func FirstAllpass(f0 float64) analog.Section {
	w := 2 * math.Pi * f0
	return analog.Section{N1: -1, N0: w, D1: 1, D0: w}
}

// FirstShelf is gain·(s + ω_z)/(s + ω_p), with gain at high frequencies and gain·zero/pole at
// low ones.
func FirstShelf(zero, pole, gain float64) analog.Section {
	return analog.Section{N1: gain, N0: gain * 2 * math.Pi * zero, D1: 1, D0: 2 * math.Pi * pole}
}

func second(f0, q float64) analog.Section {
	w := 2 * math.Pi * f0
	return analog.Section{D2: 1, D1: w / q, D0: w * w}
}

// Lowpass is gain·ω0²/(s² + s·ω0/q + ω0²).
func Lowpass(f0, q, gain float64) analog.Section {
	s := second(f0, q)
	s.N0 = gain * s.D0
	return s
}

// Highpass is gain·s²/(s² + s·ω0/q + ω0²).
func Highpass(f0, q, gain float64) analog.Section {
	s := second(f0, q)
	s.N2 = gain
	return s
}

// Bandpass is gain·s·ω0/q/(s² + s·ω0/q + ω0²), with its gain at f0.
func Bandpass(f0, q, gain float64) analog.Section {
	s := second(f0, q)
	s.N1 = gain * s.D1
	return s
}

// Notch is (s² + ω0²)/(s² + s·ω0/q + ω0²).
func Notch(f0, q float64) analog.Section {
	s := second(f0, q)
	s.N2, s.N0 = 1, s.D0
	return s
}

// Allpass is (s² − s·ω0/q + ω0²)/(s² + s·ω0/q + ω0²).
func Allpass(f0, q float64) analog.Section {
	s := second(f0, q)
	s.N2, s.N1, s.N0 = 1, -s.D1, s.D0
	return s
}

// Peak is (s² + s·A·ω0/q + ω0²)/(s² + s·ω0/(A·q) + ω0²) with A = √gain: gain at f0, unity far
// from it.
func Peak(f0, gain, q float64) analog.Section {
	a := math.Sqrt(gain)
	s := second(f0, q*a)
	s.N2, s.N1, s.N0 = 1, s.D1*gain, s.D0
	return s
}

// LowShelf is A·(s² + s·ω0·√A/q + A·ω0²)/(A·s² + s·ω0·√A/q + ω0²) with A = √gain: gain at low
// frequencies, √gain at f0, unity at high ones.
func LowShelf(f0, gain, q float64) analog.Section {
	w, a := 2*math.Pi*f0, math.Sqrt(gain)
	r := w * math.Sqrt(a) / q
	return analog.Section{N2: 1, N1: r, N0: a * w * w, D2: 1, D1: r / a, D0: w * w / a}
}

// HighShelf is A·(A·s² + s·ω0·√A/q + ω0²)/(s² + s·ω0·√A/q + A·ω0²) with A = √gain: gain at high
// frequencies, √gain at f0, unity at low ones.
func HighShelf(f0, gain, q float64) analog.Section {
	w, a := 2*math.Pi*f0, math.Sqrt(gain)
	r := w * math.Sqrt(a) / q
	return analog.Section{N2: a * a, N1: a * r, N0: a * w * w, D2: 1, D1: r, D0: a * w * w}
}

// Relocate replaces the resonance of a closed box, fromHz and fromQ, by another,
//
//	(s² + s·ω₀/Q₀ + ω₀²)/(s² + s·ω₁/Q₁ + ω₁²)
//
// with unity gain at high frequencies and (f₀/f₁)² at direct current: an octave down costs
// 12 dB of voltage and four times the excursion below the resonance. Nothing limits it there:
// check excursion, amplifier and heat, and put a high-pass before it.
func Relocate(fromHz, fromQ, toHz, toQ float64) analog.Section {
	n, s := second(fromHz, fromQ), second(toHz, toQ)
	s.N2, s.N1, s.N0 = 1, n.D1, n.D0
	return s
}

// sane reports a section that no circuit can have.
func sane(s analog.Section) error {
	for _, v := range []float64{s.N2, s.N1, s.N0, s.D2, s.D1, s.D0} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("activerc: section is %+v, want finite coefficients", s)
		}
	}
	if s.N2 == 0 && s.N1 == 0 && s.N0 == 0 {
		return fmt.Errorf("activerc: numerator of the section is 0, want a section that passes something")
	}
	const most = 1e4
	for _, c := range [][2]float64{{s.N2, s.D2}, {s.N1, s.D1}, {s.N0, s.D0}} {
		if c[1] != 0 && !(math.Abs(c[0]/c[1]) <= most) {
			return fmt.Errorf("activerc: a coefficient of the numerator is %.4g times that of the denominator, want a gain of at most %g", c[0]/c[1], most)
		}
	}
	if s.D2 == 0 {
		if s.N2 != 0 {
			return fmt.Errorf("activerc: numerator is of degree 2 and denominator of degree 1, want one not above the other")
		}
		if !(s.D1*s.D0 > 0) {
			return fmt.Errorf("activerc: section has its pole at %.4g rad/s, want one left of 0", -s.D0/s.D1)
		}
		return nil
	}
	if !(s.D1/s.D2 > 0 && s.D0/s.D2 > 0) {
		return fmt.Errorf("activerc: denominator is s² + %.4g·s + %.4g, want both above 0: the section is unstable", s.D1/s.D2, s.D0/s.D2)
	}
	return nil
}

// resonance returns f0 in hertz and Q of a quadratic c2·s² + c1·s + c0; of a first-order one
// the Q is 0.
func resonance(c2, c1, c0 float64) (f0, q float64) {
	if c2 == 0 {
		return math.Abs(c0/c1) / (2 * math.Pi), 0
	}
	w := math.Sqrt(math.Abs(c0 / c2))
	return w / (2 * math.Pi), w * c2 / c1
}
