package measure

import (
	"fmt"
	"math"
	"math/bits"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// What tells a reference that is none. All are common practice, no source.
const (
	// The peak of the whitened correlation of reference and sweep over that of two that
	// are alike. Amplifiers and crossover filters leave 0.37 and more; a sweep of another
	// rate or band, below 0.1.
	sameSweep = 0.2
	// The sound of a loudspeaker is later than the voltage at its terminals. Beside a short
	// distance, in seconds, filters and the edges of the band make a quarter of a period.
	earliest, earliestPeriods = 0.3e-3, 0.25
)

// belongs reports a reference that cannot be the one of a recording: that has the same
// samples, does not hold the sweep from lo to hi hertz, or is later than the recording.
func belongs(r SweepRecording, played []float64, lo, hi float64) error {
	same := len(r.Reference) == len(r.Samples)
	for i := 0; same && i < len(r.Samples); i++ {
		same = r.Samples[i] == r.Reference[i]
	}
	if same {
		return fmt.Errorf("measure: recording %q and its reference hold the same samples, want two channels", r.Label)
	}
	fs := r.Sweep.Setup().SampleRate
	size := 1 << bits.Len(uint(max(len(r.Samples), len(r.Reference))+len(played)-1))
	fft := fourier.NewFFT(size)
	spectrum := func(x []float64) []complex128 {
		padded := make([]float64, size)
		copy(padded, x)
		return fft.Coefficients(nil, padded)
	}
	first, last := int(math.Ceil(lo/fs*float64(size))), int(hi/fs*float64(size))
	// alike is the lag, in seconds, of y after x by their whitened correlation, and its
	// peak, 1 for two that are alike but for a delay and a gain.
	alike := func(y, x []complex128) (lag, peak float64) {
		c := make([]complex128, len(y))
		var sum float64
		for k := max(first, 1); k <= min(last, len(y)-2); k++ {
			// Between white and pink: the one leaves the low octaves no say, the other is
			// spread in time by what filters do to them.
			w := 1 / math.Sqrt(float64(k))
			if v := y[k] * cmplx.Conj(x[k]); v != 0 {
				c[k] = v / complex(cmplx.Abs(v)/w, 0)
			}
			sum += 2 * w
		}
		at := 0
		for i, v := range fft.Sequence(nil, c) {
			if v = math.Abs(v); v > peak {
				at, peak = i, v
			}
		}
		if at > size/2 {
			at -= size
		}
		return float64(at) / fs, peak / sum
	}
	reference := spectrum(r.Reference)
	if _, peak := alike(reference, spectrum(played)); peak < sameSweep {
		return fmt.Errorf("measure: the reference of %q is %.2g alike the sweep from %.4g to %.4g Hz of %.4g s at %g Hz, want at least %g: was it played with another rate, duration or band?", r.Label, peak, r.Sweep.Setup().From, r.Sweep.Setup().To, r.Sweep.Setup().Duration, fs, sameSweep)
	}
	if lag, peak := alike(spectrum(r.Samples), reference); peak > sameSweep && lag < -(earliest+earliestPeriods/hi) {
		return fmt.Errorf("measure: recording %q is %.3g ms before its reference, want it later: are the channels swapped?", r.Label, -1e3*lag)
	}
	return nil
}
