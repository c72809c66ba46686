package activerc

import (
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// workspace solves a circuit at one frequency after another. It belongs to one goroutine, and
// its stamps may be given other values.
type workspace struct {
	c      *Circuit
	n      int
	stamps []stamp
	a      []complex128 // the matrix, row by row, then its factors
	x      []complex128 // voltages of the nodes per volt at the input
	y      []complex128 // the adjoint: the output per ampere·unit into a node, or per volt at an amplifier
	pivot  []int
	isOut  []bool // the row of the node belongs to its amplifier
}

func (c *Circuit) workspace() *workspace {
	n := len(c.nodes)
	w := &workspace{
		c: c, n: n, stamps: append([]stamp(nil), c.stamps...),
		a: make([]complex128, n*n), x: make([]complex128, n), y: make([]complex128, n),
		pivot: make([]int, n), isOut: make([]bool, n),
	}
	for _, k := range c.amps {
		w.isOut[k.out] = true
	}
	return w
}

func (w *workspace) responseTo(dst []complex128, g *freq.Grid, node int) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i, om := range g.Omega() {
		if w.solve(om) >= 0 {
			dst[i] = complex(math.NaN(), math.NaN())
			continue
		}
		dst[i] = w.x[node]
	}
	return dst
}

// solve writes the voltages at ω = om into x and leaves the factors in a. Kirchhoff's law holds
// in the row of every node, but for the outputs of amplifiers, where instead
//
//	V_out/A − V₊ + V₋ = 0
//
// It returns the column in which no pivot is left, or −1.
func (w *workspace) solve(om float64) int {
	n := w.n
	a, x := w.a, w.x
	clear(a)
	clear(x)
	for k := range w.stamps {
		s := &w.stamps[k]
		y := complex(s.g, s.c*om)
		if s.a >= 0 && !w.isOut[s.a] {
			a[s.a*n+s.a] += y
			switch {
			case s.b >= 0:
				a[s.a*n+s.b] -= y
			case s.b == atInput:
				x[s.a] += y
			}
		}
		if s.b >= 0 && !w.isOut[s.b] {
			a[s.b*n+s.b] += y
			switch {
			case s.a >= 0:
				a[s.b*n+s.a] -= y
			case s.a == atInput:
				x[s.b] += y
			}
		}
	}
	for k := range w.c.amps {
		m := &w.c.amps[k]
		row := m.out * n
		a[row+m.out] += complex(m.c0, m.c1*om)
		if m.plus >= 0 {
			a[row+m.plus]--
		} else if m.plus == atInput {
			x[m.out]++
		}
		if m.minus >= 0 {
			a[row+m.minus]++
		} else if m.minus == atInput {
			x[m.out]--
		}
	}
	return w.eliminate()
}

// eliminate factors a with partial pivoting, PA = LU, and solves for x in place.
func (w *workspace) eliminate() int {
	n := w.n
	a, x := w.a, w.x
	for k := range n {
		p, best := k, taxicab(a[k*n+k])
		for i := k + 1; i < n; i++ {
			if m := taxicab(a[i*n+k]); m > best {
				p, best = i, m
			}
		}
		if !(best > 1e-13) {
			return k
		}
		w.pivot[k] = p
		if p != k {
			rk, rp := a[k*n:k*n+n], a[p*n:p*n+n]
			for j := range rk {
				rk[j], rp[j] = rp[j], rk[j]
			}
			x[k], x[p] = x[p], x[k]
		}
		inv := 1 / a[k*n+k]
		rk := a[k*n+k+1 : k*n+n]
		for i := k + 1; i < n; i++ {
			l := a[i*n+k]
			if l == 0 {
				continue
			}
			l *= inv
			a[i*n+k] = l
			ri := a[i*n+k+1 : i*n+n]
			for j, u := range rk {
				ri[j] -= l * u
			}
			x[i] -= l * x[k]
		}
	}
	for k := n - 1; k >= 0; k-- {
		sum := x[k]
		for j := k + 1; j < n; j++ {
			sum -= a[k*n+j] * x[j]
		}
		x[k] = sum / a[k*n+k]
	}
	return -1
}

// adjoint solves the transposed system for the output node with the factors that solve left:
// y is how the output follows a source in any row (S. W. Director and R. A. Rohrer, "The
// generalized adjoint network and network sensitivities", IEEE Trans. Circuit Theory CT-16,
// 1969; from memory). One solution serves noise and derivatives of all parts.
func (w *workspace) adjoint(node int) {
	n := w.n
	a, y := w.a, w.y
	clear(y)
	y[node] = 1
	for k := range n {
		sum := y[k]
		for j := range k {
			sum -= a[j*n+k] * y[j]
		}
		y[k] = sum / a[k*n+k]
	}
	for k := n - 1; k >= 0; k-- {
		sum := y[k]
		for j := k + 1; j < n; j++ {
			sum -= a[j*n+k] * y[j]
		}
		y[k] = sum
	}
	for k := n - 1; k >= 0; k-- {
		if p := w.pivot[k]; p != k {
			y[k], y[p] = y[p], y[k]
		}
	}
}

// voltage returns the voltage of a node per volt at the input.
func (w *workspace) voltage(node int) complex128 {
	switch node {
	case atGround:
		return 0
	case atInput:
		return 1
	}
	return w.x[node]
}

// into returns the volts at the output per ampere·unit into a node: none where an amplifier
// or the source holds it.
func (w *workspace) into(node int) complex128 {
	if node < 0 || w.isOut[node] {
		return 0
	}
	return w.y[node]
}

func taxicab(z complex128) float64 { return math.Abs(real(z)) + math.Abs(imag(z)) }

func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
