package fir

import (
	"fmt"

	"gonum.org/v1/gonum/mat"
)

// LeastSquares returns the linear-phase filter with the least Σ Weight·∫(A −
// Gain)²·df over the goals. Its normal equations are solved in closed form: the
// integrals of products of cosines are those of a Toeplitz and a Hankel matrix.
// Where wide gaps between goals leave them short of rank, the solution of least
// norm is taken, by singular values. Latency: (taps−1)/2 samples.
func LeastSquares(sampleRate float64, taps int, goals ...Goal) (*Filter, error) {
	if err := checkGoals(sampleRate, taps, goals); err != nil {
		return nil, err
	}
	const most = 2047
	if taps > most {
		return nil, fmt.Errorf("fir: least squares with %d taps, want at most %d", taps, most)
	}
	// A(ω) = Σ a[k]·cos((k+shift)·ω).
	r := (taps + 1) / 2
	shift := 0.0
	if taps%2 == 0 {
		shift = 0.5
	}
	// ∫ cos(n·ω) over a goal, in units of the sample rate.
	integral := func(n float64, b Goal) float64 {
		lo, hi := b.Lo/sampleRate, b.Hi/sampleRate
		return hi*2*sinc(2*hi*n) - lo*2*sinc(2*lo*n)
	}
	q := make([]float64, 2*r+1)
	for n := range q {
		for _, b := range goals {
			q[n] += b.Weight * integral(float64(n), b)
		}
	}
	m := mat.NewSymDense(r, nil)
	rhs := mat.NewVecDense(r, nil)
	for i := range r {
		for k := i; k < r; k++ {
			m.SetSym(i, k, (q[k-i]+q[i+k+int(2*shift)])/2)
		}
		var v float64
		for _, b := range goals {
			v += b.Weight * b.Gain * integral(float64(i)+shift, b)
		}
		rhs.SetVec(i, v)
	}
	var a mat.VecDense
	var chol mat.Cholesky
	if !chol.Factorize(m) || chol.SolveVecTo(&a, rhs) != nil {
		var svd mat.SVD
		if !svd.Factorize(m, mat.SVDThin) {
			return nil, fmt.Errorf("fir: least squares with %d taps: the singular values of its equations did not converge, want weights and gains that float64 can multiply", taps)
		}
		rank := svd.Rank(1e-13)
		if rank == 0 {
			return nil, fmt.Errorf("fir: least squares with %d taps: equations of rank 0, want weights and gains that float64 can multiply", taps)
		}
		var x mat.Dense
		svd.SolveTo(&x, rhs, rank)
		a.CloneFromVec(x.ColView(0))
	}
	h := make([]float64, taps)
	for k := range r {
		v := a.AtVec(k) / 2
		if shift == 0 && k == 0 {
			v *= 2
		}
		h[taps/2+k] = v
		h[taps-1-taps/2-k] = v
	}
	return New(sampleRate, h, float64(taps-1)/2, "least squares, linear phase")
}
