package lsq

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// triangular brings J to triangular form, R = Lᵀ, once a point: an orthogonal
// factorisation, so that its condition is not squared.
func (l *linear) triangular() {
	if l.isTri {
		return
	}
	for j := range l.n {
		row := l.lq.Data[j*l.lq.Stride : (j+1)*l.lq.Stride]
		clear(row[l.m:])
	}
	// A work space of n values asks for the unblocked algorithm, which does not
	// allocate.
	lapack64.Gelqf(l.lq, l.tau, l.small[:l.n], l.n)
	copy(l.qr, l.r)
	clear(l.qr[l.m:])
	lapack64.Ormlq(blas.Left, blas.NoTrans, l.lq, l.tau,
		blas64.General{Rows: len(l.qr), Cols: 1, Stride: 1, Data: l.qr}, l.small[:1], 1)
	l.isTri = true
}

// timesR writes R·s with R = Lᵀ, upper triangular.
func (l *linear) timesR(dst, s []float64) {
	clear(dst)
	for j, v := range s {
		if v == 0 {
			continue
		}
		row := l.lq.Data[j*l.lq.Stride:]
		for k := 0; k <= j; k++ {
			dst[k] += row[k] * v
		}
	}
}

// solveTriangular solves min |R·s + Q·r|² + λ|D·s|² for the components in index, the
// others given.
func (l *linear) solveTriangular(step []float64, index []int, lambda float64, scale []float64) {
	n, k := l.n, len(index)
	l.timesR(l.rs, step)
	rows := n + k
	a := blas64.General{Rows: rows, Cols: k, Stride: k, Data: l.a[:rows*k]}
	clear(a.Data)
	root := math.Sqrt(lambda)
	for c, j := range index {
		row := l.lq.Data[j*l.lq.Stride:]
		for i := 0; i <= j; i++ {
			a.Data[i*k+c] = row[i]
		}
		a.Data[(n+c)*k+c] = root * scaleOf(scale[j])
	}
	for i := range n {
		l.rhs[i] = -l.qr[i] - l.rs[i]
	}
	clear(l.rhs[n:])
	tau := l.small[n : n+k]
	lapack64.Geqrf(a, tau, l.small[:k], k)
	b := blas64.General{Rows: rows, Cols: 1, Stride: 1, Data: l.rhs[:rows]}
	lapack64.Ormqr(blas.Left, blas.Trans, a, tau, b, l.small[:1], 1)
	blas64.Trsv(blas.NoTrans, blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: k, Stride: k, Data: a.Data},
		blas64.Vector{N: k, Inc: 1, Data: l.rhs[:k]})
	for c, j := range index {
		step[j] = l.rhs[c]
	}
}

// reductionTriangular is −(R·s)·(2·Q·r + R·s).
func (l *linear) reductionTriangular(step []float64) float64 {
	l.timesR(l.rs, step)
	var sum float64
	for k, v := range l.rs {
		sum -= v * (2*l.qr[k] + v)
	}
	return sum
}
