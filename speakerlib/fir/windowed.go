package fir

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// Windowed returns the linear-phase filter of a band: the impulse response of the
// ideal band, cut out by a window, and scaled to unity at direct current
// (low-pass, band-stop), at half the sample rate (high-pass) or in the
// arithmetic middle (band-pass). It is −6 dB at its edges. Latency: (taps−1)/2
// samples.
func Windowed(sampleRate float64, taps int, b analog.Band, w Window) (*Filter, error) {
	if taps < 1 || taps > MaxTaps {
		return nil, fmt.Errorf("fir: filter has %d taps, want 1 to %d", taps, MaxTaps)
	}
	if err := checkWindow(w); err != nil {
		return nil, err
	}
	// The ideal band as a sum of low-passes up to an edge, with their signs.
	var edges, signs []float64
	var scaleAt float64
	half := sampleRate / 2
	switch b := b.(type) {
	case analog.Lowpass:
		edges, signs = []float64{b.Fc}, []float64{1}
	case analog.Highpass:
		edges, signs, scaleAt = []float64{b.Fc, half}, []float64{-1, 1}, half
	case analog.Bandpass:
		edges, signs, scaleAt = []float64{b.Lo, b.Hi}, []float64{-1, 1}, (b.Lo+b.Hi)/2
	case analog.Bandstop:
		edges, signs = []float64{b.Lo, b.Hi, half}, []float64{1, -1, 1}
	default:
		return nil, fmt.Errorf("fir: band is %v, want low-pass, high-pass, band-pass or band-stop", b)
	}
	at := 0.0
	for _, e := range edges {
		if !(e > at && e <= half) || len(edges) == 1 && e == half {
			return nil, fmt.Errorf("fir: edges of %v want to ascend between 0 and %g Hz, half the sample rate", b, half)
		}
		at = e
	}
	if taps%2 == 0 && edges[len(edges)-1] == half {
		return nil, fmt.Errorf("fir: a symmetric filter of %d taps is 0 at half the sample rate, where %v passes: want an odd number of taps", taps, b)
	}
	h := make([]float64, taps)
	middle := float64(taps-1) / 2
	for i := range (taps + 1) / 2 {
		n := middle - float64(i)
		var v float64
		for k, e := range edges {
			v += signs[k] * 2 * e / sampleRate * sinc(2*e/sampleRate*n)
		}
		x := 0.0
		if middle > 0 {
			x = n / middle
		}
		v *= w.At(x)
		h[i], h[taps-1-i] = v, v
	}
	var sum float64
	for i, v := range h {
		sum += v * math.Cos(2*math.Pi*scaleAt/sampleRate*(float64(i)-middle))
	}
	for i := range h {
		h[i] /= sum
	}
	return New(sampleRate, h, middle, fmt.Sprintf("%v, linear phase, %v", b, w))
}

// sinc returns sin(πx)/(πx).
func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}
