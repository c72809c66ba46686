package digital_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// Values that nobody means, next to some that somebody may.
var absurd = []float64{0, math.Copysign(0, -1), -1, math.NaN(), math.Inf(1), math.Inf(-1), 5e-324, 1e-300, 1e-9, 1, 1000, 23999.999999, 24000, 24000.1, 1e9, 1e300, math.MaxFloat64}

// judge is what must hold whatever went in: an error that names the package and formats
// what it had, or coefficients that are finite, stable, and have a finite response.
func judge(t *testing.T, what string, fs float64, sections []digital.Section, err error) {
	t.Helper()
	var c *digital.Cascade
	if err == nil {
		c, err = digital.NewCascade(fs, sections...)
	}
	if err != nil {
		if s := err.Error(); !strings.HasPrefix(s, "digital: ") && !strings.HasPrefix(s, "analog: ") || strings.Contains(s, "%!") || !strings.Contains(s, "want") {
			t.Errorf("%s: error %q, want one that says what is wanted", what, s)
		}
		return
	}
	for i := range c.Len() {
		b := c.At(i)
		for _, v := range []float64{b.B0, b.B1, b.B2, b.A1, b.A2} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%s: section %d is %+v", what, i, b)
			}
		}
		if r := b.PoleRadius(); !(r < 1) {
			t.Errorf("%s: section %d has the pole radius %.17g", what, i, r)
		}
		if strings.Contains(c.Design(i), "%!") {
			t.Errorf("%s: described as %q", what, c.Design(i))
		}
	}
	g, err := freq.NewGrid([]float64{fs * 1e-6, fs * 1e-3, fs / 5, fs * 0.4999})
	if err != nil {
		return // a sample rate beyond any grid
	}
	for i, h := range c.ResponseTo(nil, g) {
		if cmplx.IsNaN(h) || cmplx.IsInf(h) {
			t.Errorf("%s: %v at %g Hz", what, h, g.At(i))
		}
	}
}

// Every kind of section with every absurd frequency, gain and Q at absurd rates.
func TestSectionsOfAbsurdValues(t *testing.T) {
	for _, fs := range []float64{48000, 1, 0, -48000, math.NaN(), math.Inf(1), 1e300} {
		for _, f0 := range absurd {
			for _, q := range absurd {
				of := func(s ...digital.Section) {
					for _, s := range s {
						judge(t, fmt.Sprintf("%#v at %g Hz", s, fs), fs, []digital.Section{s}, nil)
						judge(t, fmt.Sprintf("%#v matched at %g Hz", s, fs), fs, []digital.Section{digital.Matched{Of: s}}, nil)
					}
				}
				of(digital.Lowpass{F0: f0, Q: q}, digital.Highpass{F0: f0, Q: q}, digital.Bandpass{F0: f0, Q: q}, digital.BandpassSkirt{F0: f0, Q: q},
					digital.Notch{F0: f0, Q: q}, digital.Allpass{F0: f0, Q: q}, digital.FirstLowShelf{F0: f0, Gain: q}, digital.FirstHighShelf{F0: f0, Gain: q},
					digital.Relocate{From: digital.Resonance{F: f0, Q: q}, To: digital.Resonance{F: 40, Q: 0.7}},
					digital.Relocate{From: digital.Resonance{F: 40, Q: 0.7}, To: digital.Resonance{F: f0, Q: q}})
				for _, gain := range absurd {
					of(digital.Peak{F0: f0, Gain: gain, Q: q}, digital.LowShelf{F0: f0, Gain: gain, Q: q}, digital.HighShelf{F0: f0, Gain: gain, Q: q},
						digital.LowShelfSlope{F0: f0, Gain: gain, Slope: q}, digital.HighShelfSlope{F0: f0, Gain: gain, Slope: q}, digital.NyquistPeak{F0: f0, Gain: gain, Q: q})
				}
			}
			judge(t, fmt.Sprintf("first order at %g of %g Hz", f0, fs), fs, []digital.Section{digital.FirstLowpass{F0: f0}, digital.FirstHighpass{F0: f0}, digital.FirstAllpass{F0: f0}}, nil)
			for _, order := range []int{-1, 0, 1, 5, 12, 13, math.MaxInt} {
				s, err := digital.Thiran(fs, f0, order)
				judge(t, fmt.Sprintf("Thiran of order %d by %g samples", order, f0), fs, s, err)
			}
		}
	}
}

// Filters in s at absurd edges, through all mappings.
func TestMappingsOfAbsurdEdges(t *testing.T) {
	for _, lo := range absurd {
		for _, hi := range absurd {
			for _, b := range []analog.Band{analog.Lowpass{Fc: lo}, analog.Highpass{Fc: lo}, analog.Bandpass{Lo: lo, Hi: hi}, analog.Bandstop{Lo: lo, Hi: hi}} {
				for _, p := range []analog.Prototype{analog.Butterworth(4), analog.LinkwitzRiley(8), analog.Elliptic{Order: 7, Ripple: 1.01, Stop: 1e4}} {
					what := fmt.Sprintf("%#v, %v", b, p)
					s, err := digital.Prewarped(b, p, 48000)
					judge(t, what+" prewarped", 48000, s, err)
					f, err := analog.Design(b, p)
					if err != nil {
						judge(t, what, 48000, nil, err)
						continue
					}
					for _, m := range []digital.Mapping{digital.Bilinear{}, digital.Bilinear{Match: hi}, digital.MatchedZ{}, digital.MatchedMagnitude{}} {
						s, err := digital.AnalogSections(f, 48000, m)
						judge(t, fmt.Sprintf("%s by %#v", what, m), 48000, s, err)
					}
				}
			}
		}
	}
}
