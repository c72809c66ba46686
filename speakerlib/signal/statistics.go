package signal

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/level"
)

// Statistics are what the samples of a signal say of its size, in their unit.
type Statistics struct {
	Peak float64 // largest magnitude
	RMS  float64 // of all samples, a mean value included
	Mean float64
}

// Crest returns the ratio of peak to rms, 0 of silence.
func (s Statistics) Crest() float64 {
	if s.RMS == 0 {
		return 0
	}
	return s.Peak / s.RMS
}

// StatisticsOf returns the statistics of samples. It panics without samples.
func StatisticsOf(x []float64) Statistics {
	if len(x) == 0 {
		panic("signal: no samples")
	}
	var s Statistics
	var square float64
	for _, v := range x {
		s.Peak = max(s.Peak, math.Abs(v))
		s.Mean += v
		square += v * v
	}
	s.Mean /= float64(len(x))
	s.RMS = math.Sqrt(square / float64(len(x)))
	return s
}

// LevelBin is a step of a histogram of levels.
type LevelBin struct {
	From  float64 `col:"from" unit:"dB" fmt:"%.0f"` // the lower edge of the bin
	Share float64 `col:"share of the time" unit:"%" fmt:"%.3f"`
	Above float64 `col:"time at or above" unit:"%" fmt:"%.3f"` // in this bin and higher ones
}

// HistogramSetup says what a histogram of levels counts.
type HistogramSetup struct {
	Reference float64 // the value of 0 dB, in the unit of the samples
	Lowest    float64 // dB, the lower edge of the lowest bin, which takes all that is below it too
	Step      float64 // dB, the width of a bin
	Window    int     // samples of which an rms is counted; 0 or 1: the magnitude of every sample
}

// Histogram returns the share of the time that a signal spends at each level, in
// ascending order, up to the bin of its highest. With a Window it counts the rms
// of one stretch after the other, which is what heats; without, the magnitudes,
// which are what clips. A rest shorter than the window is left out.
func Histogram(x []float64, h HistogramSetup) ([]LevelBin, error) {
	window := max(1, h.Window)
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	switch {
	case !(h.Reference > 0) || !finite(h.Reference):
		return nil, fmt.Errorf("signal: reference of a histogram is %g, want a finite value > 0", h.Reference)
	case !finite(h.Lowest) || !(h.Step > 0) || !finite(h.Step):
		return nil, fmt.Errorf("signal: histogram from %g dB in steps of %g dB, want finite values and a step > 0", h.Lowest, h.Step)
	case len(x) < window:
		return nil, fmt.Errorf("signal: histogram of %d samples in windows of %d, want at least one", len(x), window)
	}
	const most = 10000
	var count []int
	for rest := x; len(rest) >= window; rest = rest[window:] {
		v := math.Abs(rest[0])
		if window > 1 {
			v = StatisticsOf(rest[:window]).RMS
		}
		bin := math.Floor((level.DB(v/h.Reference) - h.Lowest) / h.Step)
		if bin >= most || math.IsNaN(bin) {
			return nil, fmt.Errorf("signal: a level of %g dB is %g steps above %g dB, want at most %d", level.DB(v/h.Reference), bin, h.Lowest, most)
		}
		k := int(max(0, bin))
		for len(count) <= k {
			count = append(count, 0)
		}
		count[k]++
	}
	var sum, above int
	for _, n := range count {
		sum += n
	}
	out := make([]LevelBin, len(count))
	for k, n := range slices.Backward(count) {
		above += n
		out[k] = LevelBin{From: h.Lowest + float64(k)*h.Step, Share: float64(n) / float64(sum), Above: float64(above) / float64(sum)}
	}
	return out, nil
}
