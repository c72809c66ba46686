package placement

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/internal/search"
)

// TurnedDown returns a filter with as much less gain as it boosts at the frequency where it
// boosts most, so that no lasting sine becomes larger than it was: a position that needs no
// headroom. One that boosts nowhere comes back as it is. A signal that is no sine may still
// have a higher peak behind it: see Need.Any.
//
// It is looked for from 0 to half the sample rate, at 96 points an octave above 1 Hz and at
// every pole, and between those where it is largest: exact for shelves and tilts, and else
// within 1e-6 dB for sections of Q up to 20, one or several.
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
	slices.Sort(hz)
	at := func(f float64) float64 { return cmplx.Abs(gainAt(c, f)) }
	size := make([]float64, len(hz))
	for i, f := range hz {
		size[i] = at(f)
	}
	most := slices.Max(size)
	for i := 1; i+1 < len(hz); i++ {
		if size[i] < size[i-1] || size[i] < size[i+1] || size[i] < nearly*most {
			continue
		}
		// Beyond rounding, so that a shelf's end stays what it is.
		if _, v := search.Golden(at, hz[i-1], hz[i+1], 1e-9*half); v > most*(1+1e-12) {
			most = v
		}
	}
	if !(most > 1) {
		return c, nil
	}
	return c.WithGain(c.Gain() / most)
}

// nearly is how large a sample of a response must be, re the largest, to be the foot of its
// maximum.
const nearly = 0.7

// gainAt returns the response of a filter without delay at a frequency, 0 Hz and half the
// sample rate included.
func gainAt(c *digital.Cascade, hz float64) complex128 {
	h := complex(c.Gain(), 0)
	for k := range c.Len() {
		h *= c.At(k).At(hz, c.SampleRate())
	}
	return h
}
