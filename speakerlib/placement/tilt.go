package placement

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Tilt is a tone setting that turns the response about a pivot: so many decibels per octave,
// the same everywhere within a band.
type Tilt struct {
	PerOctave  float64 // dB per octave of rising frequency
	Pivot      float64 // Hz, where it does nothing
	From, To   float64 // the band of the slope, Hz; beyond, the response is flat
	SampleRate float64 // Hz
}

// Tilted is a tilt as it is realised.
type Tilted struct {
	Tilt     Tilt
	Cascade  *digital.Cascade
	Response freq.Curve // dB
	// Worst is the largest deviation from the straight line from half an octave inside the
	// band on, in dB, and WorstAt where; at the ends of the band the corners are round.
	Worst, WorstAt float64
	Least, Most    float64 // of the response, at 0 Hz and half the sample rate, dB: Most is what it takes of headroom
}

// maxTilt is the most shelves of a tilt: one an octave and a half over ten octaves.
const maxTilt = 7

// Filter returns the tilt as a chain of equal first-order shelves, evenly spaced over log
// frequency, each over at most an octave and a half, with the gain that makes it 0 dB at the
// pivot:
//
//	Π (1 + √G·s/ω_k)/(1 + s/(√G·ω_k))
//
// Poles and zeros that alternate at equal ratios follow a straight line with a ripple that
// falls quickly with their number (J. O. Smith and H. F. Smith, "Closed form fractional
// integration and differentiation via real exponentially spaced pole-zero pairs", 2016;
// from memory). The response is that of the digital filter, warping included.
func (t Tilt) Filter(g *freq.Grid) (*Tilted, error) {
	octaves := math.Log2(t.To / t.From)
	switch {
	case g == nil:
		return nil, fmt.Errorf("placement: tilt on no grid, want one")
	case !(t.PerOctave >= -3 && t.PerOctave <= 3):
		return nil, fmt.Errorf("placement: tilt of %g dB per octave, want −3 … 3", t.PerOctave)
	case !(t.From > 0) || !(octaves >= 1) || math.IsInf(octaves, 0) || octaves > 1.5*maxTilt:
		return nil, fmt.Errorf("placement: tilt from %g to %g Hz, want an octave at least and %g at most", t.From, t.To, 1.5*maxTilt)
	case !(t.Pivot >= t.From && t.Pivot <= t.To):
		return nil, fmt.Errorf("placement: pivot of a tilt at %g Hz, want it within its band %g … %g Hz", t.Pivot, t.From, t.To)
	case !(t.To < t.SampleRate/2):
		return nil, fmt.Errorf("placement: tilt up to %g Hz at a sample rate of %g Hz, want less than half of it", t.To, t.SampleRate)
	}
	var sections []digital.Section
	if t.PerOctave != 0 {
		n := int(math.Ceil(octaves / 1.5))
		step := octaves / float64(n)
		gain := level.Ratio(t.PerOctave * step)
		for k := range n {
			sections = append(sections, digital.FirstHighShelf{F0: t.From * math.Exp2((float64(k)+0.5)*step), Gain: gain})
		}
	}
	c, err := digital.NewCascade(t.SampleRate, sections...)
	if err != nil {
		return nil, err
	}
	pivot, err := freq.NewGrid([]float64{t.Pivot})
	if err != nil {
		return nil, err
	}
	h := c.ResponseTo(nil, pivot)[0]
	if c, err = c.WithGain(1 / math.Hypot(real(h), imag(h))); err != nil {
		return nil, err
	}
	if err := c.CheckGrid(g); err != nil {
		return nil, err
	}
	low, high := levelAt(c, 0), levelAt(c, t.SampleRate/2) // all shelves go one way
	out := &Tilted{Tilt: t, Cascade: c, Least: min(low, high), Most: max(low, high)}
	db := level.OfComplex(nil, c.ResponseTo(nil, g))
	for i, v := range db {
		f := g.At(i)
		if f < t.From*math.Sqrt2 || f > t.To/math.Sqrt2 {
			continue
		}
		if e := v - t.PerOctave*math.Log2(f/t.Pivot); math.Abs(e) > math.Abs(out.Worst) {
			out.Worst, out.WorstAt = e, f
		}
	}
	if out.Response, err = freq.NewCurve(g, db, fmt.Sprintf("tilt %+g dB/octave", t.PerOctave), "dB", freq.Basis{}); err != nil {
		return nil, err
	}
	return out, nil
}

// levelAt returns the level of a filter without delay at a frequency, 0 Hz and half the sample
// rate included, in dB.
func levelAt(c *digital.Cascade, hz float64) float64 { return level.DB(cmplx.Abs(gainAt(c, hz))) }

// Sensitivity returns the setting of an input for a level: the gain that brings full volts
// rms to full scale,
//
//	nominal/full ≤ 1
//
// where nominal volts rms reach full scale without it. It only turns down: nominal is the most
// sensitive position, which is the neutral one, and full is at least that. A gain above 1 is
// refused: [Controls.Headroom], which has full scale at the input, would count it as clipping by
// as much, [TurnedDown] would make a wire of it, and whoever gives the two volts the wrong way
// round would hear it. For a weaker source count from a more sensitive position.
//
// It asks for no digital headroom, and leaves as much more as it takes. A converter before it
// has to take full volts itself.
func Sensitivity(nominal, full, sampleRate float64) (*digital.Cascade, error) {
	if !(nominal > 0) || math.IsInf(nominal, 0) || !(full > 0) || math.IsInf(full, 0) {
		return nil, fmt.Errorf("placement: sensitivity of %g V for a nominal one of %g V, want finite values > 0", full, nominal)
	}
	if full < nominal {
		return nil, fmt.Errorf("placement: sensitivity of %g V for a nominal one of %g V is a gain of %+.1f dB, want at least the nominal one: it only turns down", full, nominal, level.DB(nominal/full))
	}
	c, err := digital.NewCascade(sampleRate)
	if err != nil {
		return nil, err
	}
	return c.WithGain(nominal / full)
}
