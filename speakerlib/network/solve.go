package network

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Solution is what a plan's network does at every point of the grid, per volt of the
// source's electromotive force. It is the workspace of one goroutine: [Plan.SolveTo] writes
// it anew.
type Solution struct {
	plan   *Plan
	values []float64
	x      []complex128 // the unknowns, point by point
	in     []complex128 // voltage at the input
	enter  []complex128 // current into the input

	// at one point
	y, a, rhs []complex128
	pivot     []int
	scale     []float64 // the sum of the magnitudes in a column, to see what is left of it
}

// NewSolution returns an empty workspace.
func (p *Plan) NewSolution() *Solution {
	n := p.grid.Len()
	return &Solution{
		plan: p, values: p.Nominal(),
		x: make([]complex128, n*p.size), in: make([]complex128, n), enter: make([]complex128, n),
		y: make([]complex128, len(p.branches)), a: make([]complex128, p.size*p.size),
		rhs: make([]complex128, p.size), pivot: make([]int, p.size), scale: make([]float64, p.size),
	}
}

// Solve returns the solution with the values of the parts as they are.
func (p *Plan) Solve() (*Solution, error) {
	s := p.NewSolution()
	if err := p.SolveTo(s, p.nominal); err != nil {
		return nil, err
	}
	return s, nil
}

// SolveTo writes into s the solution with other values of the [Plan.Parameters], and does not
// allocate. Values must be finite and positive, series resistances may be 0. At every point
// the admittances between the nodes, and a row for every winding, are a matrix that is
// factored with partial pivoting; the answer is exact to rounding. A workspace of another
// plan panics.
func (p *Plan) SolveTo(s *Solution, values []float64) error {
	if s.plan != p {
		panic("network: solution is of another plan")
	}
	if len(values) != len(p.params) {
		return fmt.Errorf("network: %d values, want %d, one for each parameter", len(values), len(p.params))
	}
	for k, v := range values {
		if !(v > 0 || v == 0 && p.params[k].Kind == Loss) || math.IsInf(v, 0) {
			return fmt.Errorf("network: %v of %q is %g, want a finite value > 0, or 0 Ω of series resistance",
				p.params[k].Kind, p.params[k].Part, v)
		}
	}
	copy(s.values, values)
	for i := range s.in {
		x := s.x[i*p.size : (i+1)*p.size]
		s.assemble(i)
		if k := s.factor(); k >= 0 {
			return p.singular(i, k)
		}
		copy(x, s.rhs)
		s.substitute(x)
		enter := s.entering(x)
		if !finite(x, enter) {
			return fmt.Errorf("network: voltages and currents are not finite at %g Hz: values of parts are further apart than float64 can hold, want them nearer", p.grid.At(i))
		}
		s.in[i], s.enter[i] = 1, enter
		if p.source != nil {
			k := 1 / (1 + p.source[i]*enter)
			for j := range x {
				x[j] *= k
			}
			s.in[i], s.enter[i] = k, enter*k
		}
	}
	return nil
}

// singular says which unknown is free at point i.
func (p *Plan) singular(i, k int) error {
	if k < len(p.net.nodes) {
		return fmt.Errorf("network: voltage of node %q is not determined at %g Hz: a resonance without loss, or ideal windings only",
			p.net.nodes[k], p.grid.At(i))
	}
	for c := len(p.cores) - 1; c >= 0; c-- {
		if k >= p.cores[c].first {
			return fmt.Errorf("network: a current in transformer %q is not determined at %g Hz: windings without resistance are in parallel or shorted",
				p.net.parts[p.cores[c].part].Label(), p.grid.At(i))
		}
	}
	panic("network: unknown out of range")
}

// assemble writes the matrix and the right-hand side of point i for 1 V at the input.
func (s *Solution) assemble(i int) {
	p := s.plan
	n := p.size
	clear(s.a)
	clear(s.rhs)
	clear(s.scale)
	w := p.grid.Omega()[i]
	for k := range p.branches {
		b := &p.branches[k]
		y := b.admittance(i, w, s.values)
		s.y[k] = y
		m := size(y)
		if b.a >= 0 {
			s.a[b.a*n+b.a] += y
			s.scale[b.a] += m
			if b.b >= 0 {
				s.a[b.a*n+b.b] -= y
				s.a[b.b*n+b.a] -= y
			} else if b.b == atInput {
				s.rhs[b.a] += y
			}
		} else if b.a == atInput && b.b >= 0 {
			s.rhs[b.b] += y
		}
		if b.b >= 0 {
			s.a[b.b*n+b.b] += y
			s.scale[b.b] += m
		}
	}
	for k := range p.cores {
		c := &p.cores[k]
		e := c.first
		s.a[e*n+e] = complex(0, -c.inverse/w)
		s.scale[e] = c.inverse / w
		for j, wd := range c.windings {
			row := e + 1 + j
			z := complex(wd.R, w*wd.Leakage)
			s.a[row*n+row] = -z
			s.a[row*n+e] = complex(-wd.Turns, 0)
			s.a[e*n+row] = complex(-wd.Turns, 0)
			s.scale[e] += wd.Turns
			s.scale[row] += wd.Turns + size(z)
			s.end(row, c.a[j], 1)
			s.end(row, c.b[j], -1)
		}
	}
}

// end joins the current of a winding, unknown row, to a node.
func (s *Solution) end(row, node int, sign float64) {
	if node == atInput {
		s.rhs[row] -= complex(sign, 0)
		return
	}
	if node < 0 {
		return
	}
	n := s.plan.size
	s.a[row*n+node] += complex(sign, 0)
	s.a[node*n+row] += complex(sign, 0)
	s.scale[node]++
	s.scale[row]++
}

// factor does Gaussian elimination with partial pivoting on the matrix. Afterwards its upper
// triangle is U with the reciprocals of the pivots on the diagonal, and below are the
// multipliers. It returns the unknown that has no pivot, or −1.
func (s *Solution) factor() int {
	n := s.plan.size
	for k := range n {
		best, at := size(s.a[k*n+k]), k
		for r := k + 1; r < n; r++ {
			if m := size(s.a[r*n+k]); m > best {
				best, at = m, r
			}
		}
		if !(best > 1e-15*s.scale[k]) {
			return k
		}
		s.pivot[k] = at
		top := s.a[k*n : (k+1)*n]
		if at != k {
			other := s.a[at*n : (at+1)*n]
			for c := range top {
				top[c], other[c] = other[c], top[c]
			}
		}
		inv := reciprocal(top[k])
		top[k] = inv
		for r := k + 1; r < n; r++ {
			row := s.a[r*n : (r+1)*n]
			if row[k] == 0 {
				continue
			}
			f := row[k] * inv
			row[k] = f
			for c := k + 1; c < n; c++ {
				row[c] -= f * top[c]
			}
		}
	}
	return -1
}

// substitute turns a right-hand side into the answer.
func (s *Solution) substitute(x []complex128) {
	n := s.plan.size
	x = x[:n]
	for k, at := range s.pivot {
		x[k], x[at] = x[at], x[k]
	}
	for k := 1; k < n; k++ {
		row := s.a[k*n : (k+1)*n]
		v := x[k]
		for c := range k {
			v -= row[c] * x[c]
		}
		x[k] = v
	}
	for k := n - 1; k >= 0; k-- {
		row := s.a[k*n : (k+1)*n]
		v := x[k]
		for c := k + 1; c < n; c++ {
			v -= row[c] * x[c]
		}
		x[k] = v * row[k]
	}
}

// entering returns the current into the input with 1 V there.
func (s *Solution) entering(x []complex128) complex128 {
	var sum complex128
	for k := range s.plan.branches {
		b := &s.plan.branches[k]
		if b.a == atInput {
			sum += s.y[k] * (1 - potential(x, b.b, 1))
		} else if b.b == atInput {
			sum += s.y[k] * (1 - potential(x, b.a, 1))
		}
	}
	for k := range s.plan.cores {
		c := &s.plan.cores[k]
		for j := range c.windings {
			if c.a[j] == atInput {
				sum += x[c.first+1+j]
			} else if c.b[j] == atInput {
				sum -= x[c.first+1+j]
			}
		}
	}
	return sum
}

// potential returns the voltage of a node against ground.
func potential(x []complex128, node int, in complex128) complex128 {
	switch {
	case node >= 0:
		return x[node]
	case node == atInput:
		return in
	}
	return 0
}

// finite reports whether all unknowns and the current at the input are.
func finite(x []complex128, enter complex128) bool {
	sum := size(enter)
	for _, v := range x {
		sum += size(v)
	}
	return sum <= math.MaxFloat64
}

func size(z complex128) float64 { return math.Abs(real(z)) + math.Abs(imag(z)) }

func reciprocal(z complex128) complex128 {
	m := 1 / (real(z)*real(z) + imag(z)*imag(z))
	return complex(real(z)*m, -imag(z)*m)
}

// VoltageTo writes the voltage across a port into dst (nil allocates, another length
// panics) and returns it: the response from the source to it.
func (s *Solution) VoltageTo(dst []complex128, port Port) []complex128 {
	dst = freq.Dst(dst, len(s.in))
	for i := range dst {
		x := s.x[i*s.plan.size:]
		dst[i] = potential(x, port.a, s.in[i]) - potential(x, port.b, s.in[i])
	}
	return dst
}

// Voltage returns the voltage across a port as a response per volt of the source: what the
// network does to a driver that is there.
func (s *Solution) Voltage(port Port, label string) (freq.Response, error) {
	return freq.NewResponse(s.plan.grid, s.VoltageTo(nil, port), label,
		freq.Basis{Quantity: freq.Dimensionless, Per: freq.PerInput})
}

// Current returns the current through a part, from A to B, in ampere per volt of the
// source; of a transformer it is that of its first winding.
func (s *Solution) Current(part string) (freq.Response, error) {
	i, err := s.plan.net.find(part)
	if err != nil {
		return freq.Response{}, err
	}
	return freq.NewResponse(s.plan.grid, s.currentTo(nil, i, 0), part,
		freq.Basis{Quantity: freq.Current, Per: freq.PerInput})
}

// currentTo writes the current of a part, or of one winding of it.
func (s *Solution) currentTo(dst []complex128, part, winding int) []complex128 {
	p := s.plan
	dst = freq.Dst(dst, len(s.in))
	for k := range p.branches {
		b := &p.branches[k]
		if b.part != part {
			continue
		}
		for i, w := range p.grid.Omega() {
			x := s.x[i*p.size:]
			dst[i] = b.admittance(i, w, s.values) * (potential(x, b.a, s.in[i]) - potential(x, b.b, s.in[i]))
		}
	}
	for k := range p.cores {
		if c := &p.cores[k]; c.part == part {
			for i := range dst {
				dst[i] = s.x[i*p.size+c.first+1+winding]
			}
		}
	}
	return dst
}

// InputImpedance returns the impedance at the input, without the source's.
func (s *Solution) InputImpedance(label string) (freq.Response, error) {
	z := make([]complex128, len(s.in))
	for i := range z {
		z[i] = s.in[i] / s.enter[i]
	}
	return freq.NewResponse(s.plan.grid, z, label, freq.Basis{Quantity: freq.Impedance})
}
