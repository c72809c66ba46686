package signal

import (
	"fmt"
	"math"
	"slices"
)

// MaxChannels is the most channels of a clip.
const MaxChannels = 256

// Clip is samples of one or several channels at one sample rate. It is immutable.
type Clip struct {
	sampleRate float64
	channels   [][]float64
}

// NewClip returns the clip with copies of the channels, which must be of one
// length, not empty and finite, at a sample rate in hertz.
func NewClip(sampleRate float64, channels ...[]float64) (*Clip, error) {
	if !(sampleRate > 0) || math.IsInf(sampleRate, 0) {
		return nil, fmt.Errorf("signal: sample rate of a clip is %g Hz, want a finite value > 0", sampleRate)
	}
	if len(channels) == 0 || len(channels) > MaxChannels {
		return nil, fmt.Errorf("signal: clip of %d channels, want 1 … %d", len(channels), MaxChannels)
	}
	c := &Clip{sampleRate: sampleRate}
	for i, s := range channels {
		if len(s) == 0 || len(s) != len(channels[0]) {
			return nil, fmt.Errorf("signal: channel %d of a clip has %d samples and channel 1 %d, want the same and at least 1", i+1, len(s), len(channels[0]))
		}
		for k, x := range s {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return nil, fmt.Errorf("signal: sample %d of channel %d of a clip is %g, want finite values", k, i+1, x)
			}
		}
		c.channels = append(c.channels, slices.Clone(s))
	}
	return c, nil
}

// SampleRate returns the sample rate in hertz.
func (c *Clip) SampleRate() float64 { return c.sampleRate }

// Channels returns the number of channels.
func (c *Clip) Channels() int { return len(c.channels) }

// Len returns the number of samples of a channel.
func (c *Clip) Len() int { return len(c.channels[0]) }

// Duration returns the samples of a channel over the sample rate, in seconds.
func (c *Clip) Duration() float64 { return float64(c.Len()) / c.sampleRate }

// Channel returns a copy of the samples of a channel, from 0.
func (c *Clip) Channel(i int) ([]float64, error) {
	if i < 0 || i >= len(c.channels) {
		return nil, fmt.Errorf("signal: channel of index %d, want 0 … %d", i, len(c.channels)-1)
	}
	return slices.Clone(c.channels[i]), nil
}

// Peak returns the largest magnitude of the samples of all channels.
func (c *Clip) Peak() float64 {
	var peak float64
	for _, s := range c.channels {
		for _, x := range s {
			peak = max(peak, math.Abs(x))
		}
	}
	return peak
}
