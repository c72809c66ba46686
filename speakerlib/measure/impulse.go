package measure

import (
	"fmt"
	"math"
	"math/bits"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// OnsetDrop is how far below its largest magnitude an impulse response is when it
// begins, in dB (ISO 3382-1: the start is where it rises to 20 dB below the
// maximum; from memory).
const OnsetDrop = 20

// Timing says when the samples of an impulse response are.
type Timing struct {
	SampleRate float64 // Hz
	Start      float64 // time of sample 0 after the time zero, s
	TimeZero   string  // the name of the time zero that a set shares; "": of its own
}

// Impulse is an impulse response: samples h[n] at the times t[n] = Start + n/fs
// after a time zero. Its response is the sum
//
//	H(f) = Σ h[n]·e^{−j2πf·t[n]}
//
// so that the samples are in the unit of the response (a unit sample is a gain of
// 1; samples of a density in 1/s have to be divided by fs first). It is immutable.
type Impulse struct {
	samples []float64
	timing  Timing
	label   string
	basis   freq.Basis
	from    float64 // lowest valid frequency
}

// NewImpulse returns the impulse response with a copy of the samples, which must be
// finite and not all zero.
func NewImpulse(samples []float64, t Timing, label string, b freq.Basis) (*Impulse, error) {
	return newImpulse(slices.Clone(samples), t, label, b)
}

func newImpulse(samples []float64, t Timing, label string, b freq.Basis) (*Impulse, error) {
	if !(t.SampleRate > 0) || math.IsInf(t.SampleRate, 0) {
		return nil, fmt.Errorf("measure: sample rate of impulse response %q is %g Hz, want a finite value > 0", label, t.SampleRate)
	}
	if math.IsNaN(t.Start) || math.IsInf(t.Start, 0) {
		return nil, fmt.Errorf("measure: impulse response %q starts at %g s, want a finite time", label, t.Start)
	}
	for i, x := range samples {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil, fmt.Errorf("measure: sample %d of impulse response %q is %g, want finite values", i, label, x)
		}
	}
	h := &Impulse{samples: samples, timing: t, label: label, basis: b}
	if i, _ := h.peak(); i < 0 {
		return nil, fmt.Errorf("measure: impulse response %q has %d samples, all of them zero, want one that is not", label, len(samples))
	}
	h.from = 1 / (float64(len(samples)-h.onset(OnsetDrop)) / t.SampleRate)
	return h, nil
}

// Len returns the number of samples.
func (h *Impulse) Len() int { return len(h.samples) }

// Samples returns a copy of the samples.
func (h *Impulse) Samples() []float64 { return slices.Clone(h.samples) }

// Timing returns sample rate, start and time zero.
func (h *Impulse) Timing() Timing { return h.timing }

// Time returns the time of sample i after the time zero, in seconds.
func (h *Impulse) Time(i int) float64 { return h.timing.Start + float64(i)/h.timing.SampleRate }

// Label returns the label.
func (h *Impulse) Label() string { return h.label }

// Basis returns what the response is.
func (h *Impulse) Basis() freq.Basis { return h.basis }

// ValidFrom returns the lowest frequency that the length of the response resolves,
// 1/T in hertz; a figure marks as invalid what is below. T runs from the onset
// ([Impulse.Onset] by [OnsetDrop]), or from the middle of the rising flank of a
// gate if that is later, to the last sample or the middle of the gate's falling
// flank. What a gate took away can be wrong above 1/T too: a response that had not
// died away is bent over about 1/T everywhere.
func (h *Impulse) ValidFrom() float64 { return h.from }

func (h *Impulse) peak() (at int, magnitude float64) {
	at = -1
	for i, x := range h.samples {
		if a := math.Abs(x); a > magnitude {
			at, magnitude = i, a
		}
	}
	return at, magnitude
}

func (h *Impulse) onset(drop float64) int {
	_, top := h.peak()
	least := top * level.Ratio(-drop)
	return slices.IndexFunc(h.samples, func(x float64) bool { return math.Abs(x) >= least })
}

// Onset returns the time of the first sample whose magnitude is at most drop
// decibels below the largest one. It is known to a sample; [Impulse.Flight] is
// finer, and less easily moved by noise.
func (h *Impulse) Onset(drop float64) (float64, error) {
	if !(drop >= 0) || math.IsInf(drop, 0) {
		return 0, fmt.Errorf("measure: onset of %q at a drop of %g dB, want a finite value ≥ 0", h.label, drop)
	}
	return h.Time(h.onset(drop)), nil
}

// Flight returns the time at which the sound arrives, in seconds after the time
// zero: where the impulse response, whitened in the band,
//
//	| Re Σ e^{jωτ} · H/|H| |,   lo ≤ f ≤ hi
//
// is largest, τ within the record and either polarity, as [Set.Flight] does. A pure delay is found
// to a small part of a sample. Take it out of the whole set by one value
// ([Set.Without]), never of each response by its own.
func (h *Impulse) Flight(lo, hi float64) (float64, error) {
	fs := h.timing.SampleRate
	if !(lo > 0) || !(hi > lo) || !(hi <= fs/2) {
		return 0, fmt.Errorf("measure: arrival of %q within %g … %g Hz, want a band within 0 … %g Hz, half the sample rate", h.label, lo, hi, fs/2)
	}
	size := 2 << bits.Len(uint(len(h.samples)-1)) // at least twice the samples
	padded := make([]float64, size)
	copy(padded, h.samples)
	lines := fourier.NewFFT(size).Coefficients(nil, padded)
	const finer = 4
	fine := make([]complex128, finer*size/2+1)
	i, j := int(math.Ceil(lo/fs*float64(size))), int(hi/fs*float64(size))
	if j-i < 8 {
		return 0, fmt.Errorf("measure: %d lines of %q within %g … %g Hz, want at least 8: a longer record or a wider band", j-i+1, h.label, lo, hi)
	}
	for k := i; k <= j; k++ {
		if v := lines[k]; v != 0 {
			fine[k] = v / complex(cmplx.Abs(v), 0)
		}
	}
	best, value := 0, -1.0
	for n, v := range fourier.NewFFT(finer*size).Sequence(nil, fine)[:finer*len(h.samples)] {
		if v = math.Abs(v); v > value {
			best, value = n, v
		}
	}
	at := func(samples float64) float64 {
		var sum float64
		step := 2 * math.Pi * samples / float64(size)
		for k := i; k <= j; k++ {
			sin, cos := math.Sincos(step * float64(k))
			sum += real(fine[k])*cos - imag(fine[k])*sin
		}
		return math.Abs(sum)
	}
	n := float64(best) / finer
	return h.timing.Start + maximise(at, n-1.0/finer, n+1.0/finer)/fs, nil
}

// Response returns the response on a grid: the sum above at each frequency itself,
// by Horner's rule, without interpolation between lines of a transform. Points
// below [Impulse.ValidFrom] are computed alike, and mean little.
// It refuses frequencies above half the sample rate. It takes about 9 ns a sample
// and frequency.
func (h *Impulse) Response(g *freq.Grid) (freq.Response, error) {
	if g == nil {
		return freq.Response{}, fmt.Errorf("measure: response of %q has no grid", h.label)
	}
	fs := h.timing.SampleRate
	if g.Last() > fs/2 {
		return freq.Response{}, fmt.Errorf("measure: response of %q on %v, want at most %g Hz, half the sample rate", h.label, g, fs/2)
	}
	v := make([]complex128, g.Len())
	for i, w := range g.Omega() {
		sin, cos := math.Sincos(-w / fs)
		var re, im float64
		for k := len(h.samples) - 1; k >= 0; k-- {
			re, im = re*cos-im*sin+h.samples[k], re*sin+im*cos
		}
		v[i] = complex(re, im) * cmplx.Rect(1, -w*h.timing.Start)
	}
	return freq.NewResponse(g, v, h.label, h.basis)
}

// SetOf returns the set of impulse responses on a grid. All must name the same time
// zero and have different labels, as in [NewSet]; the sample rates may differ. The
// grid must not begin below the lowest valid frequency of any of them.
func SetOf(g *freq.Grid, impulses ...*Impulse) (*Set, error) {
	if len(impulses) == 0 {
		return nil, fmt.Errorf("measure: set of no impulse response, want at least 1")
	}
	s := &Set{timeZero: impulses[0].timing.TimeZero, index: map[string]int{}}
	for _, h := range impulses {
		if h.timing.TimeZero == "" {
			return nil, fmt.Errorf("measure: impulse response %q does not say whose time zero it has, want Timing.TimeZero: without a common one, responses do not add", h.label)
		}
		if h.timing.TimeZero != s.timeZero {
			return nil, fmt.Errorf("measure: impulse response %q has the time zero of %q, want %q as %q", h.label, h.timing.TimeZero, s.timeZero, impulses[0].label)
		}
		if _, twice := s.index[h.label]; twice {
			return nil, fmt.Errorf("measure: two impulse responses of the set are labelled %q, want different labels", h.label)
		}
		r, err := h.Response(g)
		if err != nil {
			return nil, err
		}
		if g.First() < h.from {
			return nil, fmt.Errorf("measure: set on %v, want no frequency below %.4g Hz, which is as low as the length of %q tells", g, h.from, h.label)
		}
		s.index[h.label] = len(s.responses)
		s.responses = append(s.responses, r)
	}
	return s, nil
}
