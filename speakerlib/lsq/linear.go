package lsq

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// linear is the problem |r + J·s|² at the present point. It is solved by its normal
// equations where they are well enough conditioned, and else in triangular form.
type linear struct {
	m, n int
	r    []float64
	norm []float64 // of column j
	grad []float64 // Jᵀ·r

	// Row j is column j of J, until the triangular form Jᵀ = L·Q is wanted.
	lq    blas64.General
	isTri bool
	tau   []float64
	qr    []float64 // Q·r; its first n values matter

	gram    []float64 // JᵀJ, row j from column j on
	hasGram bool
	wide    bool // norms are in a range where their squares are not safe

	a, rhs, rs, small []float64
}

// The range of norms whose squares, times the damping, neither overflow nor lose
// digits.
const smallestNorm, largestNorm = 1e-100, 1e100

// set takes over J and r.
func (l *linear) set(jac *mat.Dense, r []float64) {
	raw := jac.RawMatrix()
	l.r, l.isTri, l.hasGram, l.wide = r, false, false, false
	l.transpose(raw)
	for j := range l.n {
		v := l.column(j)
		d := blas64.Dot(v, v)
		l.grad[j] = blas64.Dot(v, blas64.Vector{N: l.m, Inc: 1, Data: r})
		l.norm[j] = math.Sqrt(d)
		if !(d >= smallestNorm*smallestNorm && d <= largestNorm*largestNorm) {
			l.norm[j] = blas64.Nrm2(v)
			l.wide = l.wide || l.norm[j] > 0
		}
	}
}

// transpose copies J by columns, four at a time.
func (l *linear) transpose(jac blas64.General) {
	j := 0
	for ; j+4 <= l.n; j += 4 {
		c0 := l.column(j).Data
		c1, c2, c3 := l.column(j + 1).Data[:len(c0)], l.column(j + 2).Data[:len(c0)], l.column(j + 3).Data[:len(c0)]
		at := j
		for i := range c0 {
			row := jac.Data[at : at+4 : at+4]
			c0[i], c1[i], c2[i], c3[i] = row[0], row[1], row[2], row[3]
			at += jac.Stride
		}
	}
	for ; j < l.n; j++ {
		for i, c := 0, l.column(j).Data; i < len(c); i++ {
			c[i] = jac.Data[i*jac.Stride+j]
		}
	}
}

// column is column j of J.
func (l *linear) column(j int) blas64.Vector {
	at := j * l.lq.Stride
	return blas64.Vector{N: l.m, Inc: 1, Data: l.lq.Data[at : at+l.m]}
}

// columns is Jᵀ from row j on.
func (l *linear) columns(j int) blas64.General {
	return blas64.General{Rows: l.n - j, Cols: l.m, Stride: l.lq.Stride, Data: l.lq.Data[j*l.lq.Stride:]}
}

// solve minimises |r + J·s|² + λ·|D·s|² over the components of the step in index, the
// others given.
func (l *linear) solve(step []float64, index []int, lambda float64, scale []float64) {
	if !l.isTri && !l.wide && l.solveNormal(step, index, lambda, scale) {
		return
	}
	l.triangular()
	l.solveTriangular(step, index, lambda, scale)
}

// reduction returns |r|² − |r + J·s|².
func (l *linear) reduction(step []float64) float64 {
	if l.isTri {
		return l.reductionTriangular(step)
	}
	return l.reductionNormal(step)
}
