package digital

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// MatchedZ is the mapping z = e^{s/fs} of the poles and of the finite zeros;
// zeros at infinity are left out. The gain is that of the analogue section at
// direct current (low-pass, band-stop), at the centre (band-pass) or at half the
// sample rate (high-pass). Poles ring as in s, at the frequency and with the decay
// that they have there; the magnitude drifts towards half the sample rate: see
// [MatchedMagnitude]. Low-pass and high-pass of one corner do not keep their sum.
type MatchedZ struct{}

// MatchedMagnitude is a mapping that holds the analogue magnitude up to near half
// the sample rate. Poles go to z = e^{s/fs}; the numerator is found from the
// magnitude in the form
//
//	|H|² = (B₀φ₀ + B₁φ₁ + B₂φ₂)/(A₀φ₀ + A₁φ₁ + A₂φ₂)
//	φ₀ = cos²(Ω/2), φ₁ = sin²(Ω/2), φ₂ = 4·φ₀φ₁
//
// which is met exactly at three frequencies: direct current, half the sample rate,
// and the natural frequency of the section (the middle of a shelf), or 0.42 of
// the sample rate if that is lower. The numerator of a double zero at 0 is
// 1 − 2z⁻¹ + z⁻² and is met at the natural frequency only; zeros on the imaginary
// axis below half the sample rate stay at their frequency. (M. Vicanek, "Matched
// Second Order Digital Filters", 2016, eq. for low-pass, high-pass and band-pass,
// from memory; the three frequencies for all other sections are our choice.)
//
// What is left up to 0.45 of the sample rate, measured at 48 kHz where the section
// is above −40 dB: 0.7 dB for peaks and shelves up to 10 kHz and 1.1 dB at 16 kHz
// (±6 dB, peaks of Q 2, shelves of Q 0.7), 1.2 dB for low-passes, 2 dB for band-passes; a Linkwitz–Riley
// low-pass of order 4 at 8 kHz is off by 1.8 dB at −30 dB, where the bilinear
// transform is off by 24 dB.
//
// It takes sections of minimum phase only. Phase is that of the minimum, not
// that of the analogue section: low-pass and high-pass of one corner do not keep
// their sum, which is what [Bilinear] is for.
type MatchedMagnitude struct{}

func (MatchedZ) remark(*analog.Filter) string         { return ", matched z" }
func (MatchedMagnitude) remark(*analog.Filter) string { return ", matched magnitude" }

func (MatchedZ) check(f *analog.Filter, sampleRate float64) error {
	for _, z := range append(f.Poles(), f.Zeros()...) {
		if hz := math.Abs(imag(z)) / (2 * math.Pi); !(hz < sampleRate/2) {
			return fmt.Errorf("digital: %v has a pole or zero at %.6g Hz, which matched z would fold back: want < %g Hz, half the sample rate", f, hz, sampleRate/2)
		}
	}
	return nil
}

func (MatchedMagnitude) check(f *analog.Filter, sampleRate float64) error {
	for _, z := range f.Poles() {
		if hz := math.Abs(imag(z)) / (2 * math.Pi); !(hz < sampleRate/2) {
			return fmt.Errorf("digital: %v has a pole at %.6g Hz, want < %g Hz, half the sample rate", f, hz, sampleRate/2)
		}
	}
	return nil
}

func (MatchedZ) section(s analog.Section, f *analog.Filter, sampleRate float64) (Biquad, error) {
	b := poles(s, sampleRate)
	switch {
	case s.N2 != 0:
		b.B0 = 1
		b.B1, b.B2 = roots(s.N1/s.N2, s.N0/s.N2, sampleRate)
	case s.N1 != 0:
		b.B0, b.B1 = 1, -math.Exp(-s.N0/s.N1/sampleRate)
	default:
		b.B0 = 1
	}
	at := 0.0
	switch f.Band().(type) {
	case analog.Highpass:
		at = sampleRate / 2
	case analog.Bandpass:
		at = f.Corner()
	}
	k := math.Sqrt(power(s, at) / b.power(at, sampleRate))
	if s.N2 < 0 || s.N2 == 0 && (s.N1 < 0 || s.N1 == 0 && s.N0 < 0) {
		k = -k
	}
	b.B0, b.B1, b.B2 = k*b.B0, k*b.B1, k*b.B2
	return b, b.Check()
}

func (MatchedMagnitude) section(s analog.Section, _ *analog.Filter, sampleRate float64) (Biquad, error) {
	return matchMagnitude(s, sampleRate)
}

// matchMagnitude is the mapping of one section, s in rad/s.
func matchMagnitude(s analog.Section, sampleRate float64) (Biquad, error) {
	if s.N2 < 0 || s.N1 < 0 || s.N0 < 0 {
		return Biquad{}, fmt.Errorf("digital: matched magnitude of a section with the numerator %g·s² + %g·s + %g, want no coefficient < 0: minimum phase", s.N2, s.N1, s.N0)
	}
	b := poles(s, sampleRate)
	half := sampleRate / 2
	lead := s.D2
	if lead == 0 {
		lead = s.D1
	}
	natural := math.Sqrt(s.D0/lead) / (2 * math.Pi)
	switch zero := math.Sqrt(s.N0/s.N2) / (2 * math.Pi); {
	case s.N2 > 0 && s.N1 == 0 && s.N0 == 0:
		b.B0, b.B1, b.B2 = 1, -2, 1
		return b.scaled(s, math.Min(natural, 0.42*sampleRate), sampleRate)
	case s.N2 > 0 && s.N1 == 0 && zero < half:
		sin := math.Sin(math.Pi * zero / sampleRate)
		b.B0, b.B1, b.B2 = 1, 4*sin*sin-2, 1
		if power(s, 0) > power(s, half) {
			return b.scaled(s, 0, sampleRate)
		}
		return b.scaled(s, half, sampleRate)
	}
	a0, a1, a2 := 1+b.A1+b.A2, 1-b.A1+b.A2, -4*b.A2
	r0, r1 := a0*math.Sqrt(power(s, 0)), a1*math.Sqrt(power(s, half)) // √B₀, √B₁
	w := (r0 + r1) / 2
	if s.D2 == 0 {
		b.B0, b.B1 = w, (r0-r1)/2
		return b, b.Check()
	}
	if s.N2 > 0 && s.N0 > 0 {
		natural = math.Sqrt(natural * math.Sqrt(s.N0/s.N2) / (2 * math.Pi))
	}
	at := math.Min(natural, 0.42*sampleRate)
	sin, cos := math.Sincos(math.Pi * at / sampleRate)
	p0, p1 := cos*cos, sin*sin
	p2 := 4 * p0 * p1
	b2 := (power(s, at)*(a0*a0*p0+a1*a1*p1+a2*p2) - r0*r0*p0 - r1*r1*p1) / p2
	d := w*w + b2
	if !(d >= 0) {
		return Biquad{}, fmt.Errorf("digital: no second-order numerator has the magnitude of a section with its resonance at %.6g Hz at 0, %.6g and %g Hz: B₂ is %.3g, want at least %.3g", natural, at, half, b2, -w*w)
	}
	b.B0 = (w + math.Sqrt(d)) / 2
	b.B1 = (r0 - r1) / 2
	b.B2 = -b2 / (4 * b.B0)
	return b, b.Check()
}

// scaled scales the numerator to the magnitude of s at a frequency.
func (b Biquad) scaled(s analog.Section, at, sampleRate float64) (Biquad, error) {
	k := math.Sqrt(power(s, at) / b.power(at, sampleRate))
	b.B0, b.B1, b.B2 = k*b.B0, k*b.B1, k*b.B2
	return b, b.Check()
}

// poles returns a section with the poles of s at z = e^{s/fs} and no zeros.
func poles(s analog.Section, sampleRate float64) Biquad {
	if s.D2 == 0 {
		return Biquad{A1: -math.Exp(-s.D0 / s.D1 / sampleRate)}
	}
	a1, a2 := roots(s.D1/s.D2, s.D0/s.D2, sampleRate)
	return Biquad{A1: a1, A2: a2}
}

// roots returns −(z₁ + z₂) and z₁z₂ for z = e^{s/fs} of the roots of s² + c1·s + c0.
func roots(c1, c0, sampleRate float64) (z1, z0 float64) {
	h := c1 / 2 / sampleRate
	d := c0/(sampleRate*sampleRate) - h*h
	if d >= 0 {
		return -2 * math.Exp(-h) * math.Cos(math.Sqrt(d)), math.Exp(-2 * h)
	}
	q := math.Sqrt(-d)
	return -math.Exp(-h+q) - math.Exp(-h-q), math.Exp(-2 * h)
}

// power returns |H|² of a section in s at a frequency in hertz.
func power(s analog.Section, hz float64) float64 {
	w := 2 * math.Pi * hz
	n, d := s.N0-s.N2*w*w, s.D0-s.D2*w*w
	return (n*n + s.N1*s.N1*w*w) / (d*d + s.D1*s.D1*w*w)
}

// power returns |H|² of a section in z.
func (b Biquad) power(hz, sampleRate float64) float64 {
	h := b.At(hz, sampleRate)
	return real(h)*real(h) + imag(h)*imag(h)
}
