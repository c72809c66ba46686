package loudness

import (
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/signal"
)

const (
	oversampling = 4
	reach        = 24 // samples to each side that an interpolated value is made of
)

// between holds the weights of the values a quarter, a half and three quarters
// after a sample, in the order of the samples.
var between = func() (w [oversampling - 1][]float64) {
	for p := range w {
		delay := reach - float64(p+1)/oversampling
		f, err := fir.SincDelay(1, delay, 2*reach, fir.Kaiser{Beta: 8})
		if err != nil {
			panic("loudness: interpolation is refused")
		}
		w[p] = f.Taps()
		slices.Reverse(w[p])
	}
	return w
}()

// TruePeak returns the largest magnitude of the waveform of all channels, between
// the samples too, seen four times as fine (ITU-R BS.1770-4, Annex 2, with an
// interpolation over 48 samples of our own). What it finds is below the peak of a
// sine by at most 20·lg cos(π·f/(4·fs)) and what the interpolation leaves: 0.55 dB
// in all at 0.45 of the sample rate, 0.17 dB at a quarter of it, next to nothing where
// music has its power.
func TruePeak(c *signal.Clip) float64 {
	if c == nil {
		panic("loudness: true peak of no clip")
	}
	var peak float64
	for i := range c.Channels() {
		x, err := c.Channel(i)
		if err != nil {
			panic("loudness: clip refuses a channel that it has")
		}
		peak = max(peak, peakOf(x))
	}
	return peak
}

func peakOf(x []float64) float64 {
	padded := make([]float64, len(x)+2*reach)
	copy(padded[reach:], x)
	var peak float64
	for _, v := range x {
		peak = max(peak, math.Abs(v))
	}
	for n := 0; n+2*reach <= len(padded); n++ {
		part := padded[n : n+2*reach]
		for _, w := range between {
			var y float64
			for i, v := range part {
				y += w[i] * v
			}
			peak = max(peak, math.Abs(y))
		}
	}
	return peak
}
