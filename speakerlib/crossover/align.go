package crossover

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/search"
)

// Alignment is the delay and polarity that let two ways add.
type Alignment struct {
	Delay     float64 // seconds; > 0: delay the upper way, < 0: delay the lower
	Inverted  bool    // whether to invert the upper way
	Coherence float64 // 1: in phase wherever both are heard; 0: on the whole at right angles, so that only powers add
	Other     float64 // the best coherence that the other polarity reaches
}

// Samples returns the delay of each way rounded to whole samples: one of them is
// zero. It panics if the sample rate is not positive and finite.
func (a Alignment) Samples(sampleRate float64) (lower, upper int) {
	if !(sampleRate > 0) || math.IsInf(sampleRate, 0) {
		panic("crossover: sample rate is not positive and finite")
	}
	n := int(math.Round(a.Delay * sampleRate))
	return max(0, -n), max(0, n)
}

// Align finds the delay and polarity of the upper way against the lower that
// give the greatest sum where both are heard. With L and H the two responses,
// same axis, same time zero, it maximises over τ and the sign
//
//	C(τ, ±) = ± Re Σ w·L·H*·e^{jωτ} / Σ w·|L·H|,   w = min(|L/H|, |H/L|)·Δ ln f
//
// within lo … hi hertz and |τ| ≤ window. At equal level and in phase the sum is
// twice each; where one way is far below the other, its phase does not matter
// and w is small. The search is exhaustive over steps of 1/(32·f), f being the
// highest point of the band, and then refined, so that no start value is needed
// and no local maximum is taken. A search of more than 2^20 steps is refused.
func Align(lower, upper freq.Response, lo, hi, window float64) (Alignment, error) {
	g := lower.Grid()
	if g == nil {
		return Alignment{}, fmt.Errorf("crossover: alignment of %q and %q, want two responses", lower.Label(), upper.Label())
	}
	if !g.Equal(upper.Grid()) {
		return Alignment{}, fmt.Errorf("crossover: %q and %q are on different grids (%v; %v), want the same", lower.Label(), upper.Label(), g, upper.Grid())
	}
	if lower.Basis() != upper.Basis() {
		return Alignment{}, fmt.Errorf("crossover: %q is %v and %q is %v, want the same basis", lower.Label(), lower.Basis(), upper.Label(), upper.Basis())
	}
	if !(window >= 0) || math.IsInf(window, 0) {
		return Alignment{}, fmt.Errorf("crossover: delay window is %g s, want a finite value ≥ 0", window)
	}
	i, j := g.Between(lo, hi)
	if j-i < 3 {
		return Alignment{}, fmt.Errorf("crossover: %d points within %g … %g Hz (%v), want at least 3", j-i, lo, hi, g)
	}
	step := 1 / (32 * g.At(j-1))
	const most = 1 << 20 // 1.6 s either way at 20 kHz
	if window/step > most {
		return Alignment{}, fmt.Errorf("crossover: alignment within ±%g s up to %g Hz takes %.3g steps, want at most %d: narrow the window or the band", window, g.At(j-1), window/step, most)
	}
	cross := make([]complex128, j-i)
	omega := g.Omega()[i:j]
	var norm float64
	for k := range cross {
		l, h := lower.At(i+k), upper.At(i+k)
		a, b := cmplx.Abs(l), cmplx.Abs(h)
		if a == 0 || b == 0 {
			continue
		}
		w := min(a/b, b/a) * (math.Log(omega[min(k+1, len(cross)-1)]) - math.Log(omega[max(k-1, 0)]))
		cross[k] = l * cmplx.Conj(h) * complex(w, 0)
		norm += w * a * b
	}
	if norm == 0 {
		return Alignment{}, fmt.Errorf("crossover: %q and %q have no frequency within %g … %g Hz where both are heard", lower.Label(), upper.Label(), lo, hi)
	}
	coherence := func(tau float64) float64 {
		var sum float64
		for k, z := range cross {
			s, c := math.Sincos(omega[k] * tau)
			sum += real(z)*c - imag(z)*s
		}
		return sum / norm
	}
	best := func(sign float64) (tau, value float64) {
		n := int(math.Ceil(window / step))
		value = math.Inf(-1)
		for k := -n; k <= n; k++ {
			t := max(-window, min(window, float64(k)*step))
			if v := sign * coherence(t); v > value {
				tau, value = t, v
			}
		}
		return search.Golden(func(t float64) float64 { return sign * coherence(t) }, max(-window, tau-step), min(window, tau+step), 1e-10*step)
	}
	t0, c0 := best(1)
	t1, c1 := best(-1)
	if c1 > c0 {
		return Alignment{Delay: t1, Inverted: true, Coherence: c1, Other: c0}, nil
	}
	return Alignment{Delay: t0, Coherence: c0, Other: c1}, nil
}

// ReverseNull returns |L − H| / |L + H| as a dimensionless curve: how deep the
// sum falls when one way is inverted. Two ways of equal level that add in phase
// give 0 at the crossover frequency; the deeper and the more symmetric the
// null, the better they are aligned.
func ReverseNull(lower, upper freq.Response) (freq.Curve, error) {
	sum, err := lower.Add(upper)
	if err != nil {
		return freq.Curve{}, err
	}
	v := make([]float64, sum.Len())
	for i := range v {
		if sum.At(i) == 0 {
			return freq.Curve{}, fmt.Errorf("crossover: %q and %q cancel wholly at %g Hz: there is no sum to compare the null with", lower.Label(), upper.Label(), sum.Grid().At(i))
		}
		v[i] = cmplx.Abs(lower.At(i)-upper.At(i)) / cmplx.Abs(sum.At(i))
	}
	return freq.NewCurve(sum.Grid(), v, "reverse null", "1", freq.Basis{})
}
