package digital

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// MaxThiran is the highest order of a Thiran delay.
const MaxThiran = 12

// Thiran returns the all-pass whose delay at direct current is a number of
// samples, whole or not, and maximally flat there:
//
//	a[k] = (−1)ᵏ·C(n, k)·Π (D−n+m)/(D−n+k+m),  m = 0 … n
//
// as second-order sections. It is stable for D > n − 1; the delay is refused
// outside n − ½ … n + ½, where it is flat over the widest band. (J.-P. Thiran,
// "Recursive digital filters with maximally flat group delay", IEEE Trans. Circuit
// Theory 18, 1971; as in T. I. Laakso et al., "Splitting the unit delay", IEEE Signal
// Processing Magazine 13, 1996; from memory.) Magnitude is unity everywhere;
// latency: D samples at low frequencies.
func Thiran(sampleRate, samples float64, order int) ([]Section, error) {
	if err := checkRate(sampleRate); err != nil {
		return nil, err
	}
	if order < 1 || order > MaxThiran {
		return nil, fmt.Errorf("digital: order of a Thiran delay is %d, want 1 to %d", order, MaxThiran)
	}
	if !(math.Abs(samples-float64(order)) <= 0.5) {
		return nil, fmt.Errorf("digital: Thiran delay of order %d by %g samples, want %g to %g", order, samples, float64(order)-0.5, float64(order)+0.5)
	}
	a := make([]float64, order+1)
	d := samples - float64(order)
	binomial := 1.0
	for k := range a {
		a[k] = binomial
		for m := range order + 1 {
			a[k] *= (d + float64(m)) / (d + float64(k+m))
		}
		if k == 0 {
			a[k] = 1
		}
		binomial *= -float64(order-k) / float64(k+1)
	}
	design := fmt.Sprintf("delay of %.6g samples, Thiran order %d", samples, order)
	var out []Section
	add := func(a1, a2 float64, first bool) {
		b := Biquad{B0: a2, B1: a1, B2: 1, A1: a1, A2: a2}
		if first {
			b = Biquad{B0: a1, B1: 1, A1: a1}
		}
		out = append(out, Given{SampleRate: sampleRate, Coefficients: b, Design: fmt.Sprintf("%s, section %d of %d", design, len(out)+1, (order+1)/2)})
	}
	// Poles are the eigenvalues of the companion matrix.
	companion := mat.NewDense(order, order, nil)
	for k := range order {
		companion.Set(0, k, -a[k+1])
		if k > 0 {
			companion.Set(k, k-1, 1)
		}
	}
	var eigen mat.Eigen
	if !eigen.Factorize(companion, mat.EigenNone) {
		return nil, fmt.Errorf("digital: poles of a Thiran delay of order %d by %g samples did not converge", order, samples)
	}
	var real1 []float64
	for _, p := range eigen.Values(nil) {
		switch {
		case imag(p) > 1e-9:
			add(-2*real(p), real(p)*real(p)+imag(p)*imag(p), false)
		case math.Abs(imag(p)) <= 1e-9:
			real1 = append(real1, real(p))
		}
	}
	slices.Sort(real1)
	for ; len(real1) > 1; real1 = real1[2:] {
		add(-real1[0]-real1[1], real1[0]*real1[1], false)
	}
	if len(real1) == 1 {
		add(-real1[0], 0, true)
	}
	return out, nil
}
