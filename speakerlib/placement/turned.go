package placement

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/digital"
)

// TurnedDown returns a filter with as much less gain as it boosts at the frequency where it
// boosts most, so that no lasting sine becomes larger than it was: a position that needs no
// headroom. One that boosts nowhere comes back as it is. A signal that is no sine may still
// have a higher peak behind it: see Need.Any.
//
// It is looked for from 0 to half the sample rate, at 96 points an octave above 1 Hz and at
// every pole: exact for shelves and tilts, and for a peak of Q up to 20 within 0.001 dB.
func TurnedDown(c *digital.Cascade) (*digital.Cascade, error) {
	if c == nil {
		return nil, fmt.Errorf("placement: no filter to turn down, want a cascade")
	}
	half := c.SampleRate() / 2
	hz := []float64{0, half}
	for k := 0; ; k++ {
		f := math.Exp2(float64(k) / 96)
		if f >= half {
			break
		}
		hz = append(hz, f)
	}
	for k := range c.Len() {
		hz = append(hz, math.Abs(cmplx.Phase(c.At(k).Poles()[0]))/math.Pi*half)
	}
	most := 0.0
	for _, f := range hz {
		most = max(most, cmplx.Abs(gainAt(c, f)))
	}
	if !(most > 1) {
		return c, nil
	}
	return c.WithGain(c.Gain() / most)
}

// gainAt returns the response of a filter without delay at a frequency, 0 Hz and half the
// sample rate included.
func gainAt(c *digital.Cascade, hz float64) complex128 {
	h := complex(c.Gain(), 0)
	for k := range c.Len() {
		h *= c.At(k).At(hz, c.SampleRate())
	}
	return h
}
