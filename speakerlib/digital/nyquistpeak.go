package digital

import "math"

// NyquistPeak is a [Peak] whose gain at half the sample rate is that of the
// prototype in s there, instead of unity: its skirts are as wide near half the
// sample rate as they are anywhere. Gain at F0 is exact, and so is the bandwidth
// F0/Q between the points of √Gain, measured as a difference of digital
// frequencies.
//
// S. J. Orfanidis, "Digital Parametric Equalizer Design with Prescribed
// Nyquist-Frequency Gain", JAES 45 (1997) 444 (equations from memory, checked by
// the conditions that they were made for).
type NyquistPeak struct{ F0, Gain, Q float64 }

// Biquad implements [Section].
func (s NyquistPeak) Biquad(sampleRate float64) (Biquad, error) {
	if err := checkF0("peak", s.F0, sampleRate); err != nil {
		return Biquad{}, err
	}
	if err := checkPositive("peak", "Q", s.Q); err != nil {
		return Biquad{}, err
	}
	if err := checkPositive("peak", "gain ratio", s.Gain); err != nil {
		return Biquad{}, err
	}
	if err := checkF0("bandwidth of the peak as a", s.F0/s.Q, sampleRate); err != nil {
		return Biquad{}, err
	}
	if math.Abs(s.Gain-1) < 1e-9 {
		// All conditions fall together.
		return Biquad{B0: 1}, nil
	}
	w0 := 2 * math.Pi * s.F0 / sampleRate
	dw := w0 / s.Q
	g2, gb2 := s.Gain*s.Gain, s.Gain // G², G_B² with G_B = √G, and G₀ = 1
	f, g00, f00 := math.Abs(g2-gb2), math.Abs(g2-1), math.Abs(gb2-1)
	far := (w0 - math.Pi) * (w0 + math.Pi)
	skirt := f00 * math.Pi * math.Pi * dw * dw / f
	g1 := math.Sqrt((far*far + g2*skirt) / (far*far + skirt)) // the gain at half the sample rate
	g01, g11 := math.Abs(g2-g1), math.Abs(g2-g1*g1)
	f01, f11 := math.Abs(gb2-g1), math.Abs(gb2-g1*g1)
	t := math.Tan(w0 / 2)
	w2 := math.Sqrt(g11/g00) * t * t
	d := (1 + math.Sqrt(f00/f11)*w2) * math.Tan(dw/2)
	c := f11*d*d - 2*w2*(f01-math.Sqrt(f00*f11))
	e := 2 * w2 * (g01 - math.Sqrt(g00*g11))
	a, b := math.Sqrt((c+e)/f), math.Sqrt((g2*c+gb2*e)/f)
	return over(1+w2+a, g1+w2+b, -2*(g1-w2), g1-b+w2, -2*(1-w2), 1+w2-a)
}

func (s NyquistPeak) String() string {
	return describeGain("peak, gain kept at half the sample rate,", s.F0, s.Gain, "Q", s.Q)
}
