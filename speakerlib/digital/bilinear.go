package digital

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// Bilinear is the mapping s = c·(1 − z⁻¹)/(1 + z⁻¹) with c chosen so that the
// analogue response at the frequency Match, in hertz, is that of the digital
// filter at the same frequency: c = 2π·Match/tan(π·Match/fs). At other
// frequencies f the digital filter has the analogue response of
// tan(π·f/fs)/tan(π·Match/fs)·Match. Match 0 stands for the corner of the filter,
// the centre of a band-pass or band-stop; where both edges are to hold, see
// [Prewarped].
type Bilinear struct{ Match float64 }

func (m Bilinear) match(f *analog.Filter) float64 {
	if m.Match == 0 {
		return f.Corner()
	}
	return m.Match
}

func (m Bilinear) check(f *analog.Filter, sampleRate float64) error {
	return checkF0("matching", m.match(f), sampleRate)
}

func (m Bilinear) section(s analog.Section, f *analog.Filter, sampleRate float64) (Biquad, error) {
	match := m.match(f)
	return bilinear(s, 2*math.Pi*match/math.Tan(math.Pi*match/sampleRate))
}

func (m Bilinear) remark(f *analog.Filter) string {
	if match := m.match(f); match != f.Corner() {
		return fmt.Sprintf(", matched at %.6g Hz", match)
	}
	return ""
}

// bilinear maps a section with s = c·(1 − z⁻¹)/(1 + z⁻¹).
func bilinear(s analog.Section, c float64) (Biquad, error) {
	if s.N2 == 0 && s.D2 == 0 {
		return over(s.D1*c+s.D0, s.N1*c+s.N0, s.N0-s.N1*c, 0, s.D0-s.D1*c, 0)
	}
	n, d := s.N2*c*c, s.D2*c*c
	return over(d+s.D1*c+s.D0, n+s.N1*c+s.N0, 2*(s.N0-n), n-s.N1*c+s.N0, 2*(s.D0-d), d-s.D1*c+s.D0)
}

// Prewarped designs the analogue filter at prewarped edges, f′ = fs/π·tan(π·f/fs),
// and maps it with s = 2·fs·(1 − z⁻¹)/(1 + z⁻¹), so that all edges of the digital
// filter are where the band says, both those of a band-pass or band-stop
// included. For a low-pass or high-pass it is the same as [Bilinear] at the
// corner. Ripple and loss are kept exactly.
func Prewarped(b analog.Band, p analog.Prototype, sampleRate float64) ([]Section, error) {
	if err := checkBand(b, sampleRate); err != nil {
		return nil, err
	}
	wanted, err := analog.Design(b, p)
	if err != nil {
		return nil, err
	}
	f, err := analog.Design(moved(b, warper(sampleRate)), p)
	if err != nil {
		return nil, err
	}
	sections := f.Sections()
	out := make([]Section, len(sections))
	for i, s := range sections {
		c, err := bilinear(s, 2*sampleRate)
		if err != nil {
			return nil, fmt.Errorf("digital: section %d of %d of %v: %w", i+1, len(sections), wanted, err)
		}
		out[i] = Given{SampleRate: sampleRate, Coefficients: c, Design: designOf(wanted, i, len(sections))}
	}
	return out, nil
}

// warper returns the mapping of a digital frequency to that in s.
func warper(sampleRate float64) func(hz float64) float64 {
	return func(hz float64) float64 { return sampleRate / math.Pi * math.Tan(math.Pi*hz/sampleRate) }
}

// moved returns the band with other edges.
func moved(b analog.Band, to func(hz float64) float64) analog.Band {
	switch b := b.(type) {
	case analog.Lowpass:
		return analog.Lowpass{Fc: to(b.Fc)}
	case analog.Highpass:
		return analog.Highpass{Fc: to(b.Fc)}
	case analog.Bandpass:
		return analog.Bandpass{Lo: to(b.Lo), Hi: to(b.Hi)}
	case analog.Bandstop:
		return analog.Bandstop{Lo: to(b.Lo), Hi: to(b.Hi)}
	}
	return b
}

// LowestOrder returns the digital filter of the lowest order that does what a mask
// asks, of a family that one of its methods names:
//
//	s, err := digital.LowestOrder(mask, analog.Mask.Elliptic, 48000)
//
// The mask is prewarped, which stretches the gap between its edges, so that near half
// the sample rate the order is lower than that of the analogue filter.
func LowestOrder(m analog.Mask, family func(analog.Mask) (*analog.Filter, error), sampleRate float64) ([]Section, error) {
	for _, b := range []analog.Band{m.Pass, m.Outside} {
		if err := checkBand(b, sampleRate); err != nil {
			return nil, err
		}
	}
	warp := warper(sampleRate)
	m.Pass, m.Outside = moved(m.Pass, warp), moved(m.Outside, warp)
	f, err := family(m)
	if err != nil {
		return nil, err
	}
	back := moved(f.Band(), func(hz float64) float64 { return sampleRate / math.Pi * math.Atan(math.Pi*hz/sampleRate) })
	return Prewarped(back, f.Prototype(), sampleRate)
}
