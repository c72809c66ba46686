package fir

import (
	"fmt"
	"math"
)

// Lagrange returns the delay of a number of samples, whole or not, that is exact
// for polynomials of an order:
//
//	h[k] = Π (D − m)/(k − m),  m = 0 … order, m ≠ k
//
// Delay and magnitude are maximally flat at direct current; the magnitude stays
// below unity if the delay is within half a sample (an even order) or within the
// middle interval (an odd one) of order/2, outside of which it is refused. (T. I.
// Laakso et al., "Splitting the unit delay", IEEE Signal Processing Magazine 13,
// 1996, eq. 42; from memory.) Latency: the delay.
func Lagrange(sampleRate, delay float64, order int) (*Filter, error) {
	if order < 1 || order > 63 {
		return nil, fmt.Errorf("fir: order of a Lagrange delay is %d, want 1 to 63", order)
	}
	half := float64(order) / 2
	if !(math.Abs(delay-half) <= 0.5) {
		return nil, fmt.Errorf("fir: Lagrange delay of order %d by %g samples, want %g to %g", order, delay, half-0.5, half+0.5)
	}
	h := make([]float64, order+1)
	for k := range h {
		h[k] = 1
		for m := range h {
			if m != k {
				h[k] *= (delay - float64(m)) / float64(k-m)
			}
		}
	}
	return New(sampleRate, h, delay, fmt.Sprintf("delay of %.6g samples, Lagrange order %d", delay, order))
}

// SincDelay returns the delay of a number of samples by the impulse response of an
// ideal one, sinc(n − delay), cut out by a window that moves with it, and scaled to
// unity at direct current. The delay must be within half a sample of (taps−1)/2.
// Latency: the delay.
func SincDelay(sampleRate, delay float64, taps int, w Window) (*Filter, error) {
	if taps < 2 || taps > MaxTaps {
		return nil, fmt.Errorf("fir: delay of %d taps, want 2 to %d", taps, MaxTaps)
	}
	if err := checkWindow(w); err != nil {
		return nil, err
	}
	middle := float64(taps-1) / 2
	if !(math.Abs(delay-middle) <= 0.5) {
		return nil, fmt.Errorf("fir: delay of %g samples by %d taps, want %g to %g", delay, taps, middle-0.5, middle+0.5)
	}
	h := make([]float64, taps)
	var sum float64
	for n := range h {
		x := float64(n) - delay
		h[n] = sinc(x) * w.At(x/(middle+0.5))
		sum += h[n]
	}
	for n := range h {
		h[n] /= sum
	}
	return New(sampleRate, h, delay, fmt.Sprintf("delay of %.6g samples, sinc, %v", delay, w))
}
