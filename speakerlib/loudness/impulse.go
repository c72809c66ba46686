package loudness

import (
	"fmt"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/dsp/fourier"
)

// impulse is a transfer as an impulse response, ready for convolution block by
// block (overlap and add).
type impulse struct {
	lines    []complex128 // 0 … n/2, that at direct current 0 unless it is known
	n        int          // samples of the impulse response
	lead     int          // of them, those that are ahead of time zero
	fft      *fourier.FFT // of 2n samples
	spectrum []complex128
	block    []float64
	work     []complex128
}

// mostLeft is the part of an impulse response's energy that may be around its end: what folds
// back is of that order, and 0.001 are 0.004 dB where it adds as power.
const mostLeft = 0.001

// newImpulse evaluates a transfer on lines. Direct current is taken as 0, as a
// loudspeaker is silent there, unless the transfer passes it, as a chain may: then
// the real part of the lowest line is taken. A measured response whose flight was taken
// out begins a little ahead of time zero, at the far end of what the transform gives: the last
// quarter is taken for that, since there, late instead of early, it would add up to
// another power.
func newImpulse(what string, t freq.Transfer, g *freq.Grid, passesDC bool) (*impulse, error) {
	if err := freq.CheckGrid(t, g); err != nil {
		return nil, fmt.Errorf("loudness: %s: %w", what, err)
	}
	n := 2 * g.Len()
	h := &impulse{n: n, lines: make([]complex128, n/2+1), fft: fourier.NewFFT(2 * n)}
	t.ResponseTo(h.lines[1:], g)
	for k, z := range h.lines[1:] {
		if cmplx.IsNaN(z) || cmplx.IsInf(z) {
			return nil, fmt.Errorf("loudness: %s is %v at %g Hz, want finite values", what, z, g.At(k))
		}
	}
	if passesDC {
		h.lines[0] = complex(real(h.lines[1]), 0)
	}
	taps := fourier.NewFFT(n).Sequence(nil, h.lines)
	// Around the end of what is late and the beginning of what is early there is nothing, or
	// one folds into the other.
	var all, folds float64
	for i, v := range taps {
		all += v * v
		if d := i - (n - n/4); d >= -n/32 && d < n/32 {
			folds += v * v
		}
	}
	if folds > mostLeft*all {
		return nil, fmt.Errorf("loudness: %s has not died away within %d samples: %.2g of its energy is around their end, want at most %g: more lines, or the latency taken out", what, n-n/4, folds/all, mostLeft)
	}
	h.block, h.lead = make([]float64, 2*n), n/4
	for i, v := range taps {
		h.block[(i+h.lead)%n] = v / float64(n)
	}
	h.spectrum = h.fft.Coefficients(nil, h.block)
	h.work = make([]complex128, n+1)
	return h, nil
}

// to convolves x with the impulse response and a gain, and cuts off what comes ahead of
// the beginning of x and after its end.
func (h *impulse) to(dst, x []float64, gain float64) {
	clear(dst)
	for at := 0; at < len(x); at += h.n {
		part := x[at:min(at+h.n, len(x))]
		clear(h.block)
		copy(h.block, part)
		h.fft.Coefficients(h.work, h.block)
		for k := range h.work {
			h.work[k] *= h.spectrum[k]
		}
		h.fft.Sequence(h.block, h.work)
		scale := gain / float64(2*h.n)
		from := max(0, h.lead-at)
		for i := from; i < min(2*h.n, len(dst)-at+h.lead); i++ {
			dst[at+i-h.lead] += scale * h.block[i]
		}
	}
}
