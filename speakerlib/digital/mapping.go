package digital

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/analog"
)

// Mapping takes an analogue filter to z: [Bilinear], [MatchedZ] or
// [MatchedMagnitude].
type Mapping interface {
	// check reports a filter that it cannot map at the sample rate.
	check(f *analog.Filter, sampleRate float64) error
	// section maps one section of f.
	section(s analog.Section, f *analog.Filter, sampleRate float64) (Biquad, error)
	// remark is what the design says of the mapping, with a comma before it.
	remark(f *analog.Filter) string
}

// FromAnalog maps a filter section by section. All sections share the mapping,
// so that low-pass and high-pass of one corner keep their sum under [Bilinear].
func FromAnalog(f *analog.Filter, sampleRate float64, m Mapping) (*Cascade, error) {
	s, err := AnalogSections(f, sampleRate, m)
	if err != nil {
		return nil, err
	}
	return NewCascade(sampleRate, s...)
}

// AnalogSections returns the sections of [FromAnalog], for a cascade that has
// others too.
func AnalogSections(f *analog.Filter, sampleRate float64, m Mapping) ([]Section, error) {
	if f == nil {
		return nil, fmt.Errorf("digital: analogue filter is nil")
	}
	if m == nil {
		return nil, fmt.Errorf("digital: mapping of %v is nil, want Bilinear, MatchedZ or MatchedMagnitude", f)
	}
	if err := checkBand(f.Band(), sampleRate); err != nil {
		return nil, err
	}
	if err := m.check(f, sampleRate); err != nil {
		return nil, err
	}
	sections := f.Sections()
	out := make([]Section, len(sections))
	for i, s := range sections {
		b, err := m.section(s, f, sampleRate)
		if err != nil {
			return nil, fmt.Errorf("digital: section %d of %d of %v: %w", i+1, len(sections), f, err)
		}
		out[i] = Given{SampleRate: sampleRate, Coefficients: b, Design: designOf(f, i, len(sections)) + m.remark(f)}
	}
	return out, nil
}

// designOf says which section of a filter section i of n is.
func designOf(f *analog.Filter, i, n int) string {
	if n == 1 {
		return f.String()
	}
	return fmt.Sprintf("%v, section %d of %d", f, i+1, n)
}

// checkBand requires all edges below half the sample rate.
func checkBand(b analog.Band, sampleRate float64) error {
	switch b := b.(type) {
	case analog.Lowpass:
		return checkF0("corner", b.Fc, sampleRate)
	case analog.Highpass:
		return checkF0("corner", b.Fc, sampleRate)
	case analog.Bandpass:
		return checkF0("upper edge", b.Hi, sampleRate)
	case analog.Bandstop:
		return checkF0("upper edge", b.Hi, sampleRate)
	}
	return fmt.Errorf("digital: band is %v, want low-pass, high-pass, band-pass or band-stop", b)
}
