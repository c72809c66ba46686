package identify

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// memory describes how the residuals of a curve hang together from point to point:
// white noise beside a first-order autoregressive misfit, with the autocovariance
// share·variance·decay^|k| at lag k > 0.
type memory struct {
	variance float64 // of the residuals, lag 0
	share    float64 // of it that is the misfit's, 0 to 1; 0: noise only
	decay    float64 // of the misfit from one point to the next, 0 to below 1
}

// remembers estimates the memory of residuals that hold two interleaved sequences.
// Lags 1 and 2 tell the misfit from white noise, which has neither:
// C(2)/C(1) = decay, C(1)/decay = share·variance. A correlation at lag 1 within two of
// its standard errors, 1/√N, is taken as none.
func remembers(r []float64) memory {
	var c [3]float64
	for k := range c {
		for i := 0; i+2*k < len(r); i++ {
			c[k] += r[i] * r[i+2*k]
		}
		c[k] /= float64(len(r))
	}
	m := memory{variance: c[0]}
	if !(c[1] > 2*c[0]/math.Sqrt(float64(len(r)))) {
		return m
	}
	const longest = 0.97 // 66 points, two octaves of the usual grid
	m.decay = c[1] / c[0]
	if c[2] > 0 {
		m.decay = max(m.decay, min(c[2]/c[1], longest))
	}
	m.decay = min(m.decay, longest)
	m.share = min(c[1]/m.decay/c[0], 1)
	return m
}

// time is the autocorrelation time, 1 + 2·Σρₖ: so many points count as one.
func (m memory) time() float64 { return 1 + 2*m.share*m.decay/(1-m.decay) }

// covariance is that of the fitted parameters when the residuals of a curve hang
// together,
//
//	(JᵀJ)⁻¹·JᵀCJ·(JᵀJ)⁻¹
//
// the covariance of an ordinary least-squares fit whose residuals have the covariance C
// (W. K. Newey and K. D. West, Econometrica 55, 1987, from memory, take C from the
// residuals as they are; here it is that of the [memory] of each curve, which is positive
// at every lag). For noise it is s²(JᵀJ)⁻¹.
//
// It takes the misfit as a random function of frequency. It is no bound of what a model
// that is wrong everywhere does to a parameter.
func (s *solved) covariance() (*mat.SymDense, error) {
	plain, err := s.Covariance()
	if err != nil {
		return nil, err
	}
	var memories []memory
	any := false
	for i := range s.curves {
		m := remembers(s.of(i))
		memories, any = append(memories, m), any || m.share > 0
	}
	deviation, err := s.Deviation()
	if err != nil {
		return nil, err
	}
	if !any || deviation == 0 {
		return plain, nil
	}
	n := len(s.Residuals)
	r, jac := make([]float64, n), mat.NewDense(n, s.n, nil)
	s.evaluate(r, jac, s.X)
	raw := jac.RawMatrix()
	line := func(i int) []float64 { return raw.Data[i*raw.Stride : i*raw.Stride+s.n] }
	variance := deviation * deviation
	middle := mat.NewSymDense(s.n, nil)
	// plus adds w·(a·bᵀ + b·aᵀ)/2.
	plus := func(w float64, a, b []float64) {
		for i, v := range a {
			for j := range i + 1 {
				middle.SetSym(i, j, middle.At(i, j)+w*(v*b[j]+a[j]*b[i])/2)
			}
		}
	}
	row := 0
	tail := make([]float64, s.n)
	for i, c := range s.curves {
		m := memories[i]
		// The degrees of freedom are those of the whole.
		all := variance
		if m.share > 0 {
			all = m.variance * float64(n) / float64(max(s.DegreesOfFreedom(), 1))
		}
		smooth := all * m.share
		for part := range 2 {
			clear(tail)
			for k := range c.z {
				l := line(row + 2*k + part)
				plus(all, l, l)
				if smooth > 0 {
					// Σ over j < i of decay^(i−j)·lⱼ, both ways.
					plus(2*smooth, l, tail)
					for j := range tail {
						tail[j] = m.decay * (tail[j] + l[j])
					}
				}
			}
		}
		row += 2 * len(c.z)
	}
	for ; row < n; row++ { // the resistance at direct current, which has the weight of s
		plus(variance, line(row), line(row))
	}
	inverse := mat.NewSymDense(s.n, nil)
	inverse.ScaleSym(1/variance, plain)
	var half, full mat.Dense
	half.Mul(inverse, middle)
	full.Mul(&half, inverse)
	out := mat.NewSymDense(s.n, nil)
	for i := range s.n {
		for j := range i + 1 {
			out.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2)
		}
	}
	return out, nil
}
