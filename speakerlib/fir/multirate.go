package fir

import (
	"fmt"
	"math"
	"math/bits"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
)

// Decimation says how a long filter of low frequencies is split over two sample
// rates.
type Decimation struct {
	Factor int     // M, 2 to 256: the low rate is the sample rate over M
	Edge   float64 // Hz, below which the filter does what it does; less than half the low rate
	Above  float64 // its gain beyond: 0 of a low-pass, 1 of a correction of the bass
	Loss   float64 // of decimator and interpolator in their stop bands, an amplitude ratio
}

// Multirate is a filter of low frequencies at a fraction of the sample rate, beside a
// plain delay of the same latency for what is above:
//
//	y = I·↑M·G·↓M·A·x + Above·z⁻ᴰ·x
//
// with the decimator's and interpolator's low-passes A and I = M·A and the low-rate
// filter G. A tone comes out as itself times
//
//	T(ω) = A²(ω)·G(Mω) + Above·e^{−jωD}
//
// and as M−1 images at ω + 2πk/M of the gains A(ω)·G(Mω)·I(ω + 2πk/M)/M, which no
// filter afterwards can take away: [MultirateDesign] states them. (R. E. Crochiere
// and L. R. Rabiner, "Multirate Digital Signal Processing", 1983, ch. 2 and 3; from
// memory.) It is immutable; its response is that of the tone itself, and implements
// [freq.Transfer] and [freq.Sampled].
type Multirate struct {
	above     float64
	factor    int
	late      int // D in samples
	latency   float64
	anti, low *Filter
	plain     int
	design    string
}

// MultirateDesign is what [Decimate] found.
type MultirateDesign struct {
	*Multirate
	// Error is the largest difference of T to the plain filter's response, over its
	// largest magnitude, and ErrorAt the frequency in hertz of it: what of the plain
	// filter above Edge is not Above, and the ripple of the low-passes.
	Error, ErrorAt float64
	// Alias is the root of the sum of squares of the images of the tone of unit
	// amplitude that has the most, and AliasAt the frequency in hertz of that tone.
	Alias, AliasAt float64
}

// Decimate returns the filter over two rates that is what a plain filter is, later by
// the length of a low-pass less one sample: G has every M-th tap, times M, of the
// plain filter without its part Above, and A is a windowed low-pass of half
// the low rate, flat up to Edge and of Loss from the low rate less Edge on. What it
// costs is as much as
//
//	(2·taps of A + taps of G)/M
//
// multiplications a sample, plus 1 for an Above other than 0 and 1: the longer the
// plain filter and the lower Edge, the more is saved. The work comes in bursts, once
// every M samples.
//
// Loss is that of one low-pass; the ripple of its pass band is up to four times 1/Loss in
// Error. Images are about as far down, relative to what G is at the tone, or at what
// the tone folds to. Half the low rate, where A is 6 dB down, is kept silent by G alone:
// the plain filter must be Above there. An Edge of 0.3 of the low rate or less keeps A
// short.
func Decimate(h *Filter, d Decimation) (*MultirateDesign, error) {
	if h == nil {
		return nil, fmt.Errorf("fir: filter to decimate is nil, want one")
	}
	if d.Factor < 2 || d.Factor > 256 {
		return nil, fmt.Errorf("fir: decimation by %d, want 2 to 256", d.Factor)
	}
	rate := h.sampleRate / float64(d.Factor)
	if !(d.Edge > 0 && d.Edge < rate/2) {
		return nil, fmt.Errorf("fir: edge of a filter at %g Hz is %g Hz, want > 0 and less than %g Hz, half that rate", rate, d.Edge, rate/2)
	}
	if math.IsNaN(d.Above) || math.IsInf(d.Above, 0) {
		return nil, fmt.Errorf("fir: gain above the edge of a decimated filter is %g, want a finite value", d.Above)
	}
	if d.Above != 0 && h.delay != math.Trunc(h.delay) {
		return nil, fmt.Errorf("fir: filter to decimate is %g samples late, want a whole number: what is above its edge is only delayed", h.delay)
	}
	w, taps, err := KaiserFor(d.Loss, rate-2*d.Edge, h.sampleRate)
	if err != nil {
		return nil, err
	}
	anti, err := Windowed(h.sampleRate, taps, analog.Lowpass{Fc: rate / 2}, w)
	if err != nil {
		return nil, err
	}
	m := &Multirate{above: d.Above, factor: d.Factor, plain: h.Len(), anti: anti,
		late: taps - 1 + int(h.delay), latency: float64(taps-1) + h.delay,
		design: fmt.Sprintf("%s, below %.6g Hz at %.6g Hz", h.design, d.Edge, rate)}
	g := make([]float64, (h.Len()+d.Factor-1)/d.Factor)
	for i := range g {
		k := i * d.Factor
		v := h.taps[k]
		if k == int(h.delay) {
			v -= d.Above
		}
		g[i] = v * float64(d.Factor)
	}
	if m.low, err = New(rate, g, h.delay/float64(d.Factor), h.design); err != nil {
		return nil, err
	}
	return m.examine(h), nil
}

// examine finds error and images on a Fourier grid of eight times the length of the
// plain filter, a multiple of M.
func (m *Multirate) examine(h *Filter) *MultirateDesign {
	part := 1 << bits.Len(uint(8*max(h.Len(), m.anti.Len())/m.factor))
	n := part * m.factor
	fft := fourier.NewCmplxFFT(n)
	spectrum := func(taps []float64) []complex128 {
		x := make([]complex128, n)
		for i, v := range taps {
			x[i] = complex(v, 0)
		}
		return fft.Coefficients(x, x)
	}
	want, a := spectrum(h.taps), spectrum(m.anti.taps)
	g := make([]complex128, part)
	for i, v := range m.low.taps {
		g[i] = complex(v, 0)
	}
	fourier.NewCmplxFFT(part).Coefficients(g, g)
	power := make([]float64, n)
	var top float64
	for i, v := range a {
		power[i] = real(v)*real(v) + imag(v)*imag(v)
		top = math.Max(top, cmplx.Abs(want[i]))
	}
	d := &MultirateDesign{Multirate: m}
	step := h.sampleRate / float64(n)
	for i := range n/2 + 1 {
		// A is symmetric: A² is real but for its delay, as is the difference but for
		// that of the plain filter.
		late := cmplx.Rect(1, 2*math.Pi*math.Mod(float64(i)*float64(m.anti.Len()-1), float64(n))/float64(n))
		own := cmplx.Rect(m.above, -2*math.Pi*math.Mod(float64(i)*h.delay, float64(n))/float64(n))
		if e := cmplx.Abs(a[i]*a[i]*g[i%part]*late + own - want[i]); e > d.Error {
			d.Error, d.ErrorAt = e, float64(i)*step
		}
		var images float64
		for k := i % part; k < n; k += part {
			if k != i {
				images += power[k]
			}
		}
		if e := math.Sqrt(power[i]*images) * cmplx.Abs(g[i%part]); e > d.Alias {
			d.Alias, d.AliasAt = e, float64(i)*step
		}
	}
	if top > 0 {
		d.Error /= top
	}
	return d
}

// SampleRate returns the sample rate in hertz of what goes in and comes out.
func (m *Multirate) SampleRate() float64 { return m.anti.sampleRate }

// Factor returns M.
func (m *Multirate) Factor() int { return m.factor }

// Decimator returns A; the interpolator is M times the same.
func (m *Multirate) Decimator() *Filter { return m.anti }

// Low returns G, at the low rate.
func (m *Multirate) Low() *Filter { return m.low }

// Direct returns gain and delay in samples of the path beside.
func (m *Multirate) Direct() (gain float64, samples int) { return m.above, m.late }

// Samples returns the latency in samples: that of the plain filter and 1 less than
// the taps of A.
func (m *Multirate) Samples() float64 { return m.latency }

// Latency returns the latency in seconds.
func (m *Multirate) Latency() float64 { return m.latency / m.anti.sampleRate }

// Multiplications returns how many there are to a sample, in the mean over M of
// them: those of both low-passes, of G, and of Above.
func (m *Multirate) Multiplications() float64 {
	n := float64(2*m.anti.Len()+m.low.Len()) / float64(m.factor)
	if m.above != 0 && m.above != 1 {
		n++
	}
	return n
}

// Saving returns how many times as many multiplications the plain filter takes.
func (m *Multirate) Saving() float64 { return float64(m.plain) / m.Multiplications() }

// String returns the design, the latency and the saving.
func (m *Multirate) String() string {
	return fmt.Sprintf("%s, latency %.4g ms, %.3g multiplications a sample instead of %d", m.design, 1e3*m.Latency(), m.Multiplications(), m.plain)
}

// CheckGrid implements [freq.Sampled]: an error if the grid goes above half the
// sample rate.
func (m *Multirate) CheckGrid(g *freq.Grid) error { return m.anti.CheckGrid(g) }

// ResponseTo implements [freq.Transfer]: T, what becomes of a tone without its images.
func (m *Multirate) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		a := m.anti.At(g.At(i))
		turns := math.Mod(g.At(i)/m.anti.sampleRate*float64(m.late), 1)
		dst[i] = a*a*m.low.At(g.At(i)) + cmplx.Rect(m.above, -2*math.Pi*turns)
	}
	return dst
}

// MultirateRunner runs a filter over two rates over samples. It keeps its state from
// call to call and belongs to one goroutine.
type MultirateRunner struct {
	m            *Multirate
	anti, branch ring
	phases       [][]float64 // of the interpolator, reversed
	low          *Runner
	one          [1]float64
	line         []float64 // the path beside
	at, phase    int
}

// ring holds the last samples, twice, so that they are always contiguous.
type ring struct {
	line []float64
	at   int
}

func (r *ring) push(v float64) {
	n := len(r.line) / 2
	r.line[r.at], r.line[r.at+n] = v, v
	if r.at++; r.at == n {
		r.at = 0
	}
}

func (r *ring) last() []float64 { return r.line[r.at : r.at+len(r.line)/2] }

// NewRunner returns a runner at rest.
func (m *Multirate) NewRunner() *MultirateRunner {
	each := (m.anti.Len() + m.factor - 1) / m.factor
	r := &MultirateRunner{m: m, low: m.low.NewRunner(), line: make([]float64, m.late), phases: make([][]float64, m.factor)}
	r.anti.line, r.branch.line = make([]float64, 2*m.anti.Len()), make([]float64, 2*each)
	for p := range r.phases {
		r.phases[p] = make([]float64, each)
		for j := 0; p+j*m.factor < m.anti.Len(); j++ {
			r.phases[p][each-1-j] = float64(m.factor) * m.anti.taps[p+j*m.factor]
		}
	}
	return r
}

// Reset brings the runner to rest.
func (r *MultirateRunner) Reset() {
	clear(r.anti.line)
	clear(r.branch.line)
	clear(r.line)
	r.low.Reset()
	r.at, r.phase = 0, 0
}

// Process filters src into dst (nil allocates, another length panics), which may
// be the same slice, and returns dst.
func (r *MultirateRunner) Process(dst, src []float64) []float64 {
	if dst == nil {
		dst = make([]float64, len(src))
	}
	if len(dst) != len(src) {
		panic("fir: dst and src differ in length")
	}
	anti, above := r.m.anti.taps, r.m.above
	for i, v := range src {
		r.anti.push(v)
		if r.phase == 0 {
			r.one[0] = floats.Dot(anti, r.anti.last()) // symmetric
			r.low.Process(r.one[:], r.one[:])
			r.branch.push(r.one[0])
		}
		r.line[r.at], v = v, r.line[r.at]
		if r.at++; r.at == len(r.line) {
			r.at = 0
		}
		dst[i] = floats.Dot(r.phases[r.phase], r.branch.last()) + above*v
		if r.phase++; r.phase == r.m.factor {
			r.phase = 0
		}
	}
	return dst
}
