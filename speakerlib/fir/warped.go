package fir

import (
	"fmt"
	"math"
	"math/bits"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/freq"
)

// Warped is a filter whose unit delays are all-passes of first order:
//
//	H(z) = Σ c[k]·D(z)ᵏ,  D(z) = (z⁻¹ − λ)/(1 − λ·z⁻¹)
//
// On the unit circle D = e^{−jν} with ν = Ω + 2·atan(λ·sin Ω/(1 − λ·cos Ω)): an
// ordinary filter on a warped frequency axis. With λ > 0 its resolution at low
// frequencies is (1+λ)/(1−λ) times that of as many taps, and as much coarser near
// half the sample rate: a woofer's correction in 200 taps instead of thousands.
// Its impulse response is infinite. It is immutable, and implements
// [freq.Transfer] and [freq.Sampled]. (A. Härmä et al., "Frequency-Warped Signal
// Processing for Audio Applications", JAES 48, 2000; from memory.)
type Warped struct {
	sampleRate, lambda float64
	taps               []float64
	design             string
}

// BarkLambda returns the λ whose warping is nearest to the Bark scale of hearing:
//
//	λ = 1.0674·√(2/π·atan(0.06583·fs/kHz)) − 0.1916
//
// (J. O. Smith and J. S. Abel, "Bark and ERB bilinear transforms", IEEE Trans.
// Speech Audio Process. 7, 1999; from memory.) Fitted for 1 to 54 kHz. A woofer wants
// more: 0.95 to 0.99.
func BarkLambda(sampleRate float64) float64 {
	return 1.0674*math.Sqrt(2/math.Pi*math.Atan(0.06583*sampleRate/1000)) - 0.1916
}

// NewWarped returns the filter with a copy of the coefficients. Design says what it
// was designed as.
func NewWarped(sampleRate, lambda float64, taps []float64, design string) (*Warped, error) {
	if !(math.Abs(lambda) <= 0.999) {
		return nil, fmt.Errorf("fir: warping is %g, want -0.999 to 0.999", lambda)
	}
	f, err := New(sampleRate, taps, 0, design)
	if err != nil {
		return nil, err
	}
	return &Warped{sampleRate, lambda, f.taps, design}, nil
}

// WarpedDesign is what [WarpedMinimumPhase] found.
type WarpedDesign struct {
	*Warped
	// Error is the largest ratio of the magnitude to that of the target, or its
	// inverse, over the band asked for, at 65536 points of the warped axis or more:
	// 1.01 is 0.09 dB.
	Error float64
}

// WarpedMinimumPhase returns the warped filter of minimum phase with the magnitude
// of a target, from its folded cepstrum on the warped axis, cut to a number of
// taps (and faded over the last eighth of them). The target must be defined from
// lo to hi hertz; beyond, the magnitude goes on as at the end. Latency: 0; what
// delay remains goes with the magnitude.
func WarpedMinimumPhase(sampleRate, lambda float64, taps int, target freq.Transfer, lo, hi float64) (*WarpedDesign, error) {
	if taps < 2 || taps > MaxTaps {
		return nil, fmt.Errorf("fir: warped filter has %d taps, want 2 to %d", taps, MaxTaps)
	}
	if !(lo > 0 && hi > lo && hi <= sampleRate/2) || math.IsInf(sampleRate, 0) {
		return nil, fmt.Errorf("fir: target of a warped filter from %g to %g Hz, want the lower first and at most %g Hz, half the sample rate", lo, hi, sampleRate/2)
	}
	if !(math.Abs(lambda) <= 0.999) {
		return nil, fmt.Errorf("fir: warping is %g, want -0.999 to 0.999", lambda)
	}
	n := max(1<<bits.Len(uint(16*taps-1)), 1<<12)
	hz, first := evenly(n, sampleRate, lambda, lo, hi)
	if len(hz) < 2 {
		return nil, fmt.Errorf("fir: target of a warped filter from %g to %g Hz has %d points of its axis, want at least 2", lo, hi, len(hz))
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		return nil, err
	}
	if err := freq.CheckGrid(target, g); err != nil {
		return nil, err
	}
	h := target.ResponseTo(nil, g)
	x := make([]complex128, n)
	for k := range n/2 + 1 {
		a := cmplx.Abs(h[min(max(k-first, 0), len(h)-1)])
		if !(a > 0) || math.IsInf(a, 0) {
			return nil, fmt.Errorf("fir: target of a warped filter has the magnitude %g, want a finite one > 0", a)
		}
		x[k] = complex(math.Log(a), 0)
		x[(n-k)%n] = x[k]
	}
	fft := fourier.NewCmplxFFT(n)
	foldCepstrum(fft, x)
	for i, v := range x {
		x[i] = cmplx.Exp(v)
	}
	fft.Sequence(x, x)
	c := make([]float64, taps)
	fade := taps / 8
	for k := range c {
		c[k] = real(x[k]) / float64(n)
		if left := taps - k; left <= fade {
			c[k] *= 0.5 - 0.5*math.Cos(math.Pi*float64(left)/float64(fade+1))
		}
	}
	w, err := NewWarped(sampleRate, lambda, c, fmt.Sprintf("minimum phase, warped by %.4g", lambda))
	if err != nil {
		return nil, err
	}
	worst, err := w.error(target, max(n, 1<<16), lo, hi)
	if err != nil {
		return nil, err
	}
	return &WarpedDesign{w, worst}, nil
}

// evenly returns the frequencies from lo to hi hertz of those that are equally spaced
// in ν, n to a turn, and the number of the first.
func evenly(n int, sampleRate, lambda, lo, hi float64) (hz []float64, first int) {
	first = -1
	for k := range n/2 + 1 {
		// The inverse of the warping is the same with −λ.
		if f := warp(2*math.Pi*float64(k)/float64(n), -lambda) * sampleRate / (2 * math.Pi); f >= lo && f <= hi {
			if first < 0 {
				first = k
			}
			hz = append(hz, f)
		}
	}
	return hz, first
}

// error returns the largest ratio of the magnitude to that of a target, or its inverse,
// at n points to a turn of ν.
func (w *Warped) error(target freq.Transfer, n int, lo, hi float64) (float64, error) {
	hz, first := evenly(n, w.sampleRate, w.lambda, lo, hi)
	g, err := freq.NewGrid(hz)
	if err != nil {
		return 0, err
	}
	if err := freq.CheckGrid(target, g); err != nil {
		return 0, err
	}
	x := make([]complex128, n)
	for k, v := range w.taps {
		x[k] = complex(v, 0)
	}
	fourier.NewCmplxFFT(n).Coefficients(x, x)
	worst := 1.0
	for i, h := range target.ResponseTo(nil, g) {
		r := cmplx.Abs(x[first+i]) / cmplx.Abs(h)
		worst = math.Max(worst, math.Max(r, 1/r))
	}
	return worst, nil
}

// warp returns the angle ν of D at Ω.
func warp(omega, lambda float64) float64 {
	sin, cos := math.Sincos(omega)
	return omega + 2*math.Atan2(lambda*sin, 1-lambda*cos)
}

// SampleRate returns the sample rate in hertz.
func (w *Warped) SampleRate() float64 { return w.sampleRate }

// Lambda returns the warping.
func (w *Warped) Lambda() float64 { return w.lambda }

// Taps returns a copy of the coefficients.
func (w *Warped) Taps() []float64 { return slices.Clone(w.taps) }

// String returns the design.
func (w *Warped) String() string { return fmt.Sprintf("%s, %d taps", w.design, len(w.taps)) }

// CheckGrid implements [freq.Sampled]: an error if the grid goes above half the
// sample rate.
func (w *Warped) CheckGrid(g *freq.Grid) error {
	return (&Filter{sampleRate: w.sampleRate}).CheckGrid(g)
}

// ResponseTo implements [freq.Transfer].
func (w *Warped) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	f := Filter{sampleRate: 2 * math.Pi, taps: w.taps}
	for i := range dst {
		dst[i] = f.At(warp(2*math.Pi*g.At(i)/w.sampleRate, w.lambda))
	}
	return dst
}

// WarpedRunner runs a warped filter over samples. It keeps its state from call to
// call and belongs to one goroutine.
type WarpedRunner struct {
	w    *Warped
	line []float64 // the last output of each all-pass, and of the input
}

// NewRunner returns a runner at rest.
func (w *Warped) NewRunner() *WarpedRunner { return &WarpedRunner{w, make([]float64, len(w.taps))} }

// Reset brings the runner to rest.
func (r *WarpedRunner) Reset() { clear(r.line) }

// Process filters src into dst (nil allocates, another length panics), which may
// be the same slice, and returns dst.
func (r *WarpedRunner) Process(dst, src []float64) []float64 {
	if dst == nil {
		dst = make([]float64, len(src))
	}
	if len(dst) != len(src) {
		panic("fir: dst and src differ in length")
	}
	lambda, line := r.w.lambda, r.line
	for i, v := range src {
		in, before := v, line[0]
		line[0] = v
		sum := r.w.taps[0] * v
		for k := 1; k < len(line); k++ {
			// y[n] = x[n−1] + λ·(y[n−1] − x[n]).
			out := before + lambda*(line[k]-in)
			before, line[k] = line[k], out
			in = out
			sum += r.w.taps[k] * out
		}
		dst[i] = sum
	}
	return dst
}
