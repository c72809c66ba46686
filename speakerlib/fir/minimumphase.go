package fir

import (
	"fmt"
	"math"
	"math/bits"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// MinimumPhaseDesign is what [MinimumPhase] found.
type MinimumPhaseDesign struct {
	*Filter
	// Error is the largest difference of the magnitudes, relative to the largest
	// magnitude.
	Error float64
}

// MinimumPhase returns the filter of the same number of taps and the same magnitude
// with all its zeros within the unit circle, so that no filter of that magnitude is
// earlier: by the folded cepstrum (A. V. Oppenheim and R. W. Schafer,
// "Discrete-Time Signal Processing", ch. on cepstrum analysis; from memory), over a
// Fourier transform of at least 64 times the length. It is exact to rounding but
// for zeros near the unit circle: within 1/(64·taps) of it their cepstrum folds
// back, and a stop band is lifted to some −100 dB. The error is stated.
// Latency: 0; what delay remains goes with the magnitude.
func MinimumPhase(f *Filter) (*MinimumPhaseDesign, error) {
	n := 1 << bits.Len(uint(64*f.Len()-1))
	n = max(n, 1<<14)
	fft := fourier.NewCmplxFFT(n)
	x := make([]complex128, n)
	for i, h := range f.taps {
		x[i] = complex(h, 0)
	}
	fft.Coefficients(x, x)
	want := make([]float64, n)
	var top float64
	for i, v := range x {
		want[i] = cmplx.Abs(v)
		top = math.Max(top, want[i])
	}
	if top == 0 {
		return nil, fmt.Errorf("fir: minimum phase of %v: all its taps are 0", f)
	}
	const floor = 1e-6
	for i, v := range want {
		x[i] = complex(math.Log(math.Max(v, floor*top)), 0)
	}
	foldCepstrum(fft, x)
	for i, v := range x {
		x[i] = cmplx.Exp(v)
	}
	fft.Sequence(x, x)
	taps := make([]float64, f.Len())
	for i := range taps {
		taps[i] = real(x[i]) / float64(n)
	}
	clear(x)
	for i, v := range taps {
		x[i] = complex(v, 0)
	}
	fft.Coefficients(x, x)
	var worst float64
	for i, v := range x {
		worst = math.Max(worst, math.Abs(cmplx.Abs(v)-want[i]))
	}
	g, err := New(f.sampleRate, taps, 0, f.design+", made minimum phase")
	if err != nil {
		return nil, err
	}
	return &MinimumPhaseDesign{g, worst / top}, nil
}

// foldCepstrum replaces the real log magnitude in x, over all n frequencies, by
// the log of the spectrum of minimum phase.
func foldCepstrum(fft *fourier.CmplxFFT, x []complex128) {
	n := len(x)
	fft.Sequence(x, x)
	for i := range x {
		c := complex(real(x[i])/float64(n), 0)
		switch {
		case i == 0 || 2*i == n:
			x[i] = c
		case i < n/2:
			x[i] = 2 * c
		default:
			x[i] = 0
		}
	}
	fft.Coefficients(x, x)
}
