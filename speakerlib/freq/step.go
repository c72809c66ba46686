package freq

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Step returns n samples of the step response of a transfer at the sample rate:
// the running sum of the impulse response that an inverse Fourier transform of
// 4n points gives, with the response tapered by a raised cosine over the upper
// half of the band (sampleRate/4 … sampleRate/2), so that what is cut off does
// not ring. The taper spreads an abrupt step evenly around its instant, so that
// sample 0 of such a step shows half of it. The transfer is taken as 0 at direct current, where a loudspeaker
// is silent; it must have died away within the 4n points, or the tail folds
// back. A transfer that is known on a grid of its own only, or not up to half the
// sample rate, is refused.
func Step(t Transfer, sampleRate float64, n int) ([]float64, error) {
	if !(sampleRate > 0) || n < 16 || n > MaxPoints/4 {
		return nil, fmt.Errorf("freq: step response of %d samples at %g Hz, want 16 to %d samples at a rate > 0", n, sampleRate, MaxPoints/4)
	}
	size := 4 * n
	g, err := LinearGrid(sampleRate/float64(size), sampleRate/2, size/2)
	if err != nil {
		return nil, err
	}
	if err := CheckGrid(t, g); err != nil {
		return nil, fmt.Errorf("%w (for a step response at %g Hz)", err, sampleRate)
	}
	h := make([]complex128, size/2+1)
	t.ResponseTo(h[1:], g)
	for k := range h {
		if cmplx.IsNaN(h[k]) || cmplx.IsInf(h[k]) {
			return nil, fmt.Errorf("freq: step response of a transfer that is %v at %g Hz, want finite values", h[k], g.At(k-1))
		}
		if x := 2*float64(k)/float64(size/2) - 1; x > 0 {
			h[k] *= complex(raisedCosine(x), 0)
		}
	}
	impulse := fourier.NewFFT(size).Sequence(nil, h)
	step := make([]float64, n)
	var sum float64
	for _, v := range impulse[size-size/8:] { // what the taper spreads before time zero
		sum += v / float64(size)
	}
	for i := range step {
		half := impulse[i] / float64(2*size)
		step[i] = sum + half // the integral up to the instant of sample i
		sum += 2 * half
	}
	return step, nil
}

// raisedCosine falls from 1 at x = 0 to 0 at x = 1.
func raisedCosine(x float64) float64 { return (1 + math.Cos(math.Pi*x)) / 2 }
