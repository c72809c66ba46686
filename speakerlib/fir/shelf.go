package fir

import (
	"fmt"
	"math"
)

// Shelf returns the shelf of linear phase that a low-pass of linear phase makes beside a plain
// delay of the same latency:
//
//	1·z^−D + (gain − 1)·H(z)
//
// with gain, an amplitude ratio > 0, where the low-pass passes, and unity where it stops. The
// low-pass must have an odd number of taps, so that its latency D is whole; the shelf has
// that latency.
func Shelf(lowpass *Filter, gain float64) (*Filter, error) {
	if lowpass == nil || !lowpass.LinearPhase() || lowpass.Len()%2 == 0 {
		return nil, fmt.Errorf("fir: shelf of a low-pass that is not of linear phase with an odd number of taps, want one that is")
	}
	if !(gain > 0) || math.IsInf(gain, 0) {
		return nil, fmt.Errorf("fir: shelf of gain %g, want a finite ratio > 0", gain)
	}
	h := lowpass.Taps()
	for i := range h {
		h[i] *= gain - 1
	}
	h[len(h)/2]++
	return New(lowpass.SampleRate(), h, lowpass.Samples(), fmt.Sprintf("shelf of gain %.6g, %s", gain, lowpass))
}
