package lsq

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
)

// leastPivot is the part of its diagonal that a pivot of Cholesky's factorisation
// keeps at least, or the triangular form is used instead: √ε, which leaves half of the
// digits of the step. A step needs no more, since residuals and gradient, which say
// where the minimum is, do not depend on it.
const leastPivot = 0x1p-20

// solveNormal solves (JᵀJ + λD²)·s = −Jᵀr for the components in index, the others
// given. It reports whether it did: the matrix is well enough conditioned.
func (l *linear) solveNormal(step []float64, index []int, lambda float64, scale []float64) bool {
	l.multiply()
	n, k := l.n, len(index)
	// The right side, in all components: −Jᵀ(r + J·s).
	x := l.rhs[:k]
	if k == n {
		for c := range x {
			x[c] = -l.grad[c]
		}
	} else {
		l.timesGram(l.rs, step)
		for c, j := range index {
			x[c] = -l.grad[j] - l.rs[j]
		}
	}
	a := l.a[:k*k]
	for c, j := range index {
		row, from := a[c*k:(c+1)*k], l.gram[j*n:(j+1)*n]
		if k == n {
			copy(row[c:], from[c:])
		} else {
			for e, i := range index[c:] {
				row[c+e] = from[i]
			}
		}
		d := scaleOf(scale[j])
		row[c] += lambda * d * d
		l.small[c] = row[c] * leastPivot
	}
	// Cholesky: a = UᵀU, and Uᵀy = x along with it.
	for c := range k {
		u := a[c*k+c : (c+1)*k]
		if !(u[0] > l.small[c]) { // NaN included
			return false
		}
		inv := 1 / math.Sqrt(u[0])
		for e := range u {
			u[e] *= inv
		}
		y := x[c] * inv
		x[c] = y
		for e := 1; e < len(u); e++ {
			f := u[e]
			x[c+e] -= f * y
			from := u[e:]
			to := a[(c+e)*k+c+e:][:len(from)]
			for i, v := range from {
				to[i] -= f * v
			}
		}
	}
	for c := k - 1; c >= 0; c-- {
		u := a[c*k+c : (c+1)*k]
		s := x[c]
		for e, v := range x[c+1 : k] {
			s -= u[e+1] * v
		}
		x[c] = s / u[0]
	}
	for c, j := range index {
		step[j] = x[c]
	}
	return true
}

// multiply makes JᵀJ, once a point.
func (l *linear) multiply() {
	if l.hasGram {
		return
	}
	for j := range l.n {
		blas64.Gemv(blas.NoTrans, 1, l.columns(j), l.column(j), 0, blas64.Vector{N: l.n - j, Inc: 1, Data: l.gram[j*l.n+j:]})
	}
	l.hasGram = true
}

// timesGram writes JᵀJ·s.
func (l *linear) timesGram(dst, s []float64) {
	clear(dst)
	for j, v := range s {
		row := l.gram[j*l.n+j : (j+1)*l.n]
		sum := row[0] * v
		for e := 1; e < len(row); e++ {
			sum += row[e] * s[j+e]
			dst[j+e] += row[e] * v
		}
		dst[j] += sum
	}
}

// reductionNormal is −s·(2·Jᵀr + JᵀJ·s).
func (l *linear) reductionNormal(step []float64) float64 {
	l.multiply()
	l.timesGram(l.rs, step)
	var sum float64
	for j, s := range step {
		sum -= s * (2*l.grad[j] + l.rs[j])
	}
	return sum
}
