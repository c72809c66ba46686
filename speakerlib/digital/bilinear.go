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
// tan(π·f/fs)/tan(π·Match/fs)·Match. Match 0 stands for the corner of the filter.
type Bilinear struct{ Match float64 }

// FromAnalog maps a filter section by section. All sections share the mapping,
// so that low-pass and high-pass of one corner keep their sum.
func FromAnalog(f *analog.Filter, sampleRate float64, m Bilinear) (*Cascade, error) {
	s, err := AnalogSections(f, sampleRate, m)
	if err != nil {
		return nil, err
	}
	return NewCascade(sampleRate, s...)
}

// AnalogSections returns the sections of [FromAnalog], for a cascade that has
// others too.
func AnalogSections(f *analog.Filter, sampleRate float64, m Bilinear) ([]Section, error) {
	if f == nil {
		return nil, fmt.Errorf("digital: analogue filter is nil")
	}
	match := m.Match
	if match == 0 {
		match = f.Corner()
	}
	if err := checkF0("corner", f.Corner(), sampleRate); err != nil {
		return nil, err
	}
	if err := checkF0("matching", match, sampleRate); err != nil {
		return nil, err
	}
	c := 2 * math.Pi * match / math.Tan(math.Pi*match/sampleRate)
	sections := f.Sections()
	out := make([]Section, len(sections))
	for i, s := range sections {
		var b Biquad
		var err error
		if s.N2 == 0 && s.D2 == 0 {
			b, err = over(s.D1*c+s.D0, s.N1*c+s.N0, s.N0-s.N1*c, 0, s.D0-s.D1*c, 0)
		} else {
			n, d := s.N2*c*c, s.D2*c*c
			b, err = over(d+s.D1*c+s.D0, n+s.N1*c+s.N0, 2*(s.N0-n), n-s.N1*c+s.N0, 2*(s.D0-d), d-s.D1*c+s.D0)
		}
		if err != nil {
			return nil, err
		}
		design := f.String()
		if len(sections) > 1 {
			design = fmt.Sprintf("%v, section %d of %d", f, i+1, len(sections))
		}
		if match != f.Corner() {
			design += fmt.Sprintf(", matched at %.6g Hz", match)
		}
		out[i] = Given{SampleRate: sampleRate, Coefficients: b, Design: design}
	}
	return out, nil
}
