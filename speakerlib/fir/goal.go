package fir

import (
	"fmt"
	"math"
)

// Goal is the gain that a linear-phase filter is to have from Lo to Hi hertz, and
// how much an error counts there, relative to other goals. Between goals the
// response goes as it likes.
type Goal struct {
	Lo, Hi float64
	Gain   float64
	Weight float64 // > 0
}

func checkGoals(sampleRate float64, taps int, goals []Goal) error {
	if !(sampleRate > 0) || math.IsInf(sampleRate, 0) {
		return fmt.Errorf("fir: sample rate is %g Hz, want a finite value > 0", sampleRate)
	}
	if taps < 3 || taps > MaxTaps {
		return fmt.Errorf("fir: linear-phase design of %d taps, want 3 to %d", taps, MaxTaps)
	}
	if len(goals) == 0 {
		return fmt.Errorf("fir: linear-phase design without goals, want at least 1")
	}
	end := 0.0
	for i, b := range goals {
		if !(b.Lo >= end && b.Hi > b.Lo && b.Hi <= sampleRate/2*(1+1e-12)) || i > 0 && b.Lo == end {
			return fmt.Errorf("fir: goal %d of %d is from %g to %g Hz, want it above the one before (%g Hz) and at most %g Hz, half the sample rate", i+1, len(goals), b.Lo, b.Hi, end, sampleRate/2)
		}
		if math.IsNaN(b.Gain) || math.IsInf(b.Gain, 0) {
			return fmt.Errorf("fir: gain of goal %d of %d is %g, want a finite value", i+1, len(goals), b.Gain)
		}
		if !(b.Weight > 0) || math.IsInf(b.Weight, 0) {
			return fmt.Errorf("fir: weight of goal %d of %d is %g, want a finite value > 0", i+1, len(goals), b.Weight)
		}
		end = b.Hi
	}
	if last := goals[len(goals)-1]; taps%2 == 0 && last.Hi >= sampleRate/2*(1-1e-9) && last.Gain != 0 {
		return fmt.Errorf("fir: a symmetric filter of %d taps is 0 at %g Hz, and goal %d wants %g there: want an odd number of taps", taps, sampleRate/2, len(goals), last.Gain)
	}
	return nil
}

// linear returns the filter of A(ω) = P(ω) for an odd and A(ω) = cos(ω/2)·P(ω)
// for an even number of taps, from the r coefficients of P(ω) = Σ a[k]·cos(kω).
func linear(sampleRate float64, a []float64, even bool, design string) (*Filter, error) {
	r := len(a)
	h := make([]float64, 2*r-1)
	h[r-1] = a[0]
	for k := 1; k < r; k++ {
		h[r-1-k], h[r-1+k] = a[k]/2, a[k]/2
	}
	if even {
		e := make([]float64, 2*r)
		for i := range r {
			v := h[i] / 2
			if i > 0 {
				v += h[i-1] / 2
			}
			e[i], e[2*r-1-i] = v, v
		}
		h = e
	}
	return New(sampleRate, h, float64(len(h)-1)/2, design)
}
