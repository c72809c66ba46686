package fir

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"example.org/loudspeaker/speakerlib/freq"
)

// MaxTaps is the most taps that a filter may have, 2^17: 1.4 s at 96 kHz.
const MaxTaps = 1 << 17

// Filter is a filter of finite impulse response, H(z) = Σ h[n]·z⁻ⁿ, at one sample
// rate. It is immutable, and implements [freq.Transfer] and [freq.Sampled].
type Filter struct {
	sampleRate float64
	taps       []float64
	delay      float64
	design     string
}

// New returns the filter with a copy of the taps. Delay is the latency in samples
// that it is meant to have: (n−1)/2 of a linear-phase filter, 0 of one of minimum
// phase. Design says what it was designed as.
func New(sampleRate float64, taps []float64, delay float64, design string) (*Filter, error) {
	if !(sampleRate > 0) || math.IsInf(sampleRate, 0) {
		return nil, fmt.Errorf("fir: sample rate is %g Hz, want a finite value > 0", sampleRate)
	}
	if len(taps) < 1 || len(taps) > MaxTaps {
		return nil, fmt.Errorf("fir: filter has %d taps, want 1 to %d", len(taps), MaxTaps)
	}
	for i, v := range taps {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("fir: tap %d of %d is %g, want a finite value", i, len(taps), v)
		}
	}
	if !(delay >= 0 && delay <= float64(len(taps))) {
		return nil, fmt.Errorf("fir: delay of a filter of %d taps is %g samples, want 0 to %d", len(taps), delay, len(taps))
	}
	return &Filter{sampleRate, slices.Clone(taps), delay, design}, nil
}

// SampleRate returns the sample rate in hertz.
func (f *Filter) SampleRate() float64 { return f.sampleRate }

// Len returns the number of taps.
func (f *Filter) Len() int { return len(f.taps) }

// Taps returns a copy of the taps.
func (f *Filter) Taps() []float64 { return slices.Clone(f.taps) }

// Samples returns the delay in samples.
func (f *Filter) Samples() float64 { return f.delay }

// Latency returns the delay in seconds.
func (f *Filter) Latency() float64 { return f.delay / f.sampleRate }

// String returns the design and the latency.
func (f *Filter) String() string {
	return fmt.Sprintf("%s, %d taps, latency %.4g ms", f.design, len(f.taps), 1e3*f.Latency())
}

// LinearPhase reports whether the taps are symmetric to the last bit.
func (f *Filter) LinearPhase() bool {
	for i, j := 0, len(f.taps)-1; i < j; i, j = i+1, j-1 {
		if f.taps[i] != f.taps[j] {
			return false
		}
	}
	return true
}

// CheckGrid implements [freq.Sampled]: an error if the grid goes above half the
// sample rate.
func (f *Filter) CheckGrid(g *freq.Grid) error {
	if g.Last() > f.sampleRate/2*(1+1e-12) {
		return fmt.Errorf("fir: grid goes to %g Hz, want at most %g Hz, half the sample rate of the filter", g.Last(), f.sampleRate/2)
	}
	return nil
}

// At returns H at a frequency in hertz, by Horner's scheme.
func (f *Filter) At(hz float64) complex128 {
	h, _ := f.at(hz)
	return h
}

// at returns H, and Σ n·h[n]·z⁻ⁿ.
func (f *Filter) at(hz float64) (h, dh complex128) {
	s, c := math.Sincos(2 * math.Pi * hz / f.sampleRate)
	var re, im, dre, dim float64
	for i := len(f.taps) - 1; i >= 0; i-- {
		// With w = z⁻¹ = c − j·s: P = P·w + h, P′ = P′·w + P.
		dre, dim = dre*c+dim*s+re, dim*c-dre*s+im
		re, im = re*c+im*s+f.taps[i], im*c-re*s
	}
	return complex(re, im), complex(dre*c+dim*s, dim*c-dre*s)
}

// ResponseTo implements [freq.Transfer].
func (f *Filter) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		dst[i] = f.At(g.At(i))
	}
	return dst
}

// GroupDelayTo writes −dφ/dω in seconds into dst (nil allocates, another length
// panics): Re(Σ n·h·z⁻ⁿ/Σ h·z⁻ⁿ)/fs. At a zero of the response it is the
// filter's own delay.
func (f *Filter) GroupDelayTo(dst []float64, g *freq.Grid) []float64 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		h, d := f.at(g.At(i))
		if h == 0 {
			dst[i] = f.Latency()
			continue
		}
		dst[i] = real(d/h) / f.sampleRate
	}
	return dst
}

// Then returns the filter followed by another: taps convolved, delays added.
func (f *Filter) Then(g *Filter) (*Filter, error) {
	if g == nil || g.sampleRate != f.sampleRate {
		return nil, fmt.Errorf("fir: %v is followed by %v, want one of the same sample rate", f, g)
	}
	return New(f.sampleRate, convolve(f.taps, g.taps), f.delay+g.delay, f.design+", "+g.design)
}

func convolve(a, b []float64) []float64 {
	out := make([]float64, len(a)+len(b)-1)
	for i, x := range a {
		for k, y := range b {
			out[i+k] += x * y
		}
	}
	return out
}

// Runner runs a filter over samples, in float64 and direct form: as many
// multiplications a sample as there are taps. It keeps its state from call to
// call and belongs to one goroutine.
type Runner struct {
	reversed []float64
	line     []float64 // the last len samples, twice, so that they are always contiguous
	at       int
}

// NewRunner returns a runner at rest.
func (f *Filter) NewRunner() *Runner {
	r := slices.Clone(f.taps)
	slices.Reverse(r)
	return &Runner{reversed: r, line: make([]float64, 2*len(r))}
}

// Reset brings the runner to rest.
func (r *Runner) Reset() { clear(r.line) }

// Process filters src into dst (nil allocates, another length panics), which may
// be the same slice, and returns dst.
func (r *Runner) Process(dst, src []float64) []float64 {
	if dst == nil {
		dst = make([]float64, len(src))
	}
	if len(dst) != len(src) {
		panic("fir: dst and src differ in length")
	}
	n := len(r.reversed)
	for i, v := range src {
		r.line[r.at], r.line[r.at+n] = v, v
		r.at++
		if r.at == n {
			r.at = 0
		}
		dst[i] = floats.Dot(r.reversed, r.line[r.at:r.at+n])
	}
	return dst
}
