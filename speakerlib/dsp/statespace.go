package dsp

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/mat"
)

// maxStates is the most states that a section has.
const maxStates = 4

// linear is a linear form over states, input and what the rows add, of one section.
type linear []float64

// local is a section as a linear system: the next states, the output and the result
// of every row as forms over (states, input, errors of the rows).
type local struct {
	n    int // states
	next []linear
	out  linear
	rows []localRow
}

type localRow struct {
	row      Row
	name     string
	result   linear
	products []linear    // of floating point, those that are rounded
	sums     [][3]linear // of floating point: both operands and the sum
}

// newLocal follows the forms through a network.
func newLocal(n Network, a Arithmetic) local {
	states, rows := len(n.States), len(n.Rows)
	size := states + 1 + rows
	forms := make([]linear, len(n.Variables))
	for i := range forms {
		forms[i] = make(linear, size)
	}
	forms[0][states] = 1
	for i, s := range n.States {
		forms[s][i] = 1
	}
	l := local{n: states}
	for i, r := range n.Rows {
		f := make(linear, size)
		x := localRow{row: r, name: n.Variables[r.Variable]}
		for k, t := range r.Terms {
			v := r.value(t)
			before, p := append(linear(nil), f...), make(linear, size)
			for j, c := range forms[t.Variable] {
				p[j] = v * c
				f[j] += p[j]
			}
			if a.fixed() {
				continue
			}
			if m, _ := math.Frexp(v); v != 0 && math.Abs(m) != 0.5 {
				x.products = append(x.products, p)
			}
			if k > 0 && v != 0 {
				x.sums = append(x.sums, [3]linear{before, p, append(linear(nil), f...)})
			}
		}
		f[states+1+i]++
		x.result = append(linear(nil), f...)
		forms[r.Variable] = f
		l.rows = append(l.rows, x)
	}
	l.out = append(linear(nil), forms[n.Output]...)
	for _, m := range n.Moves {
		forms[m[0]] = forms[m[1]]
	}
	for _, s := range n.States {
		l.next = append(l.next, append(linear(nil), forms[s]...))
	}
	return l
}

// dropped returns how many bits a fixed-point row really drops: constants that are
// all multiples of 2^k leave k bits empty.
func (r Row) dropped() int {
	var all int64
	for _, t := range r.Terms {
		all |= t.Word
		if t.Low != 0 {
			return r.Fraction
		}
	}
	return max(0, r.Fraction-bits.TrailingZeros64(uint64(all)))
}

// respond evaluates the section at z: from the input and from each row to its
// output, and, if nodes is not nil, from the input to each row.
func (l *local) respond(z complex128, rows, nodes []complex128) complex128 {
	var m [maxStates][maxStates]complex128
	var rhs [maxStates][8]complex128 // input and up to seven rows
	n, k := l.n, 1+len(l.rows)
	for i := range n {
		for j := range n {
			m[i][j] = complex(-l.next[i][j], 0)
		}
		m[i][i] += z
		for j := range k {
			rhs[i][j] = complex(l.next[i][n+j], 0)
		}
	}
	for i := range n { // elimination with partial pivots
		p := i
		for r := i + 1; r < n; r++ {
			if abs1(m[r][i]) > abs1(m[p][i]) {
				p = r
			}
		}
		m[i], m[p], rhs[i], rhs[p] = m[p], m[i], rhs[p], rhs[i]
		for r := i + 1; r < n; r++ {
			q := m[r][i] / m[i][i]
			for c := i + 1; c < n; c++ {
				m[r][c] -= q * m[i][c]
			}
			for c := range k {
				rhs[r][c] -= q * rhs[i][c]
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		for c := range k {
			v := rhs[i][c]
			for r := i + 1; r < n; r++ {
				v -= m[i][r] * rhs[r][c]
			}
			rhs[i][c] = v / m[i][i]
		}
	}
	to := func(f linear, source int) complex128 {
		v := complex(f[n+source], 0)
		for i := range n {
			v += complex(f[i], 0) * rhs[i][source]
		}
		return v
	}
	for i := range rows {
		rows[i] = to(l.out, 1+i)
	}
	for i := range nodes {
		nodes[i] = to(l.rows[i].result, 0)
	}
	return to(l.out, 0)
}

func abs1(z complex128) float64 { return math.Abs(real(z)) + math.Abs(imag(z)) }

// chain is sections and gain of a program as one linear system.
type chain struct {
	program *Program
	locals  []local
	offset  []int // of the states of each
	n       int
	a       *mat.Dense
	b, c    []float64
	d       float64
	inputs  [][]float64 // of each section, over (states, input)
}

func newChain(p *Program) *chain {
	c := &chain{program: p}
	for _, s := range p.Sections {
		c.locals = append(c.locals, newLocal(s.Network(p.Arithmetic), p.Arithmetic))
	}
	if p.Gain != nil {
		c.locals = append(c.locals, newLocal(Network{Variables: []string{"x", "y"}, Rows: []Row{p.Gain.Row(p.Arithmetic)}, Output: 1}, p.Arithmetic))
	}
	for _, l := range c.locals {
		c.offset = append(c.offset, c.n)
		c.n += l.n
	}
	sig := make([]float64, c.n+1)
	sig[c.n] = 1
	c.a = mat.NewDense(max(1, c.n), max(1, c.n), nil)
	c.b = make([]float64, c.n)
	for i, l := range c.locals {
		c.inputs = append(c.inputs, sig)
		for k, f := range l.next {
			g := c.global(i, f)
			c.a.SetRow(c.offset[i]+k, g[:c.n])
			c.b[c.offset[i]+k] = g[c.n]
		}
		sig = c.global(i, l.out)
	}
	c.c, c.d = sig[:c.n], sig[c.n]
	return c
}

// global takes a form of section i to the chain's states and input.
func (c *chain) global(i int, f linear) []float64 {
	out := make([]float64, c.n+1)
	l := c.locals[i]
	for k, v := range c.inputs[i] {
		out[k] = f[l.n] * v
	}
	for k := range l.n {
		out[c.offset[i]+k] += f[k]
	}
	return out
}

// injection returns what an error in row r of section i adds to the states and, at
// once, to the output.
func (c *chain) injection(i, r int) (states []float64, direct float64) {
	states = make([]float64, c.n)
	l := c.locals[i]
	for k, f := range l.next {
		states[c.offset[i]+k] = f[l.n+1+r]
	}
	direct = l.out[l.n+1+r]
	for j := i + 1; j < len(c.locals); j++ {
		l := c.locals[j]
		for k, f := range l.next {
			states[c.offset[j]+k] = f[l.n] * direct
		}
		direct *= l.out[l.n]
	}
	return states, direct
}

// gramian returns Σ aᵏ·v·vᵀ·aᵏᵀ over all k ≥ 0, by doubling: after m steps 2ᵐ
// terms are summed.
func gramian(a *mat.Dense, v []float64) *mat.Dense {
	n := len(v)
	p := mat.NewDense(n, n, nil)
	p.Outer(1, mat.NewVecDense(n, v), mat.NewVecDense(n, v))
	power := mat.DenseCopyOf(a)
	var t, u, next mat.Dense
	for range 60 {
		t.Mul(power, p)
		u.Mul(&t, power.T())
		before := mat.Norm(p, 1)
		p.Add(p, &u)
		if !(mat.Norm(&u, 1) > before*0x1p-56) {
			break
		}
		next.Mul(power, power)
		power.Copy(&next)
	}
	return p
}

// quadratic returns vᵀ·p·w.
func quadratic(v []float64, p *mat.Dense, w []float64) float64 {
	return mat.Inner(mat.NewVecDense(len(v), v), p, mat.NewVecDense(len(w), w))
}

// times returns a·v.
func times(a *mat.Dense, v []float64) []float64 {
	out := make([]float64, len(v))
	mat.NewVecDense(len(v), out).MulVec(a, mat.NewVecDense(len(v), v))
	return out
}
