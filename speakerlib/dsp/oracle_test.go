package dsp

import "math/big"

// exact runs a fixed-point program by its definition, in integers without end:
// floor and modulo instead of shifts, one network after the other.
type exact struct {
	p     *Program
	state []map[int]*big.Int     // variables of each section
	e     []map[int]*[2]*big.Int // residues by variable
	fir   []*big.Int
	delay []*big.Int
}

func newExact(p *Program) *exact {
	x := &exact{p: p}
	for range p.Sections {
		x.state = append(x.state, map[int]*big.Int{})
		x.e = append(x.e, map[int]*[2]*big.Int{})
	}
	for range p.FIR[0].Taps {
		x.fir = append(x.fir, new(big.Int))
	}
	for range p.Delay {
		x.delay = append(x.delay, new(big.Int))
	}
	return x
}

// wrapped is v modulo 2^bits, in −2^(bits−1) … 2^(bits−1)−1.
func wrapped(v *big.Int, bits int) *big.Int {
	m := new(big.Int).Lsh(big.NewInt(1), uint(bits))
	r := new(big.Int).Mod(v, m)
	if r.Cmp(new(big.Int).Rsh(m, 1)) >= 0 {
		r.Sub(r, m)
	}
	return r
}

// floorDiv is ⌊v/2^n⌋.
func floorDiv(v *big.Int, n int) *big.Int {
	q, m := new(big.Int), new(big.Int)
	return func() *big.Int { q.DivMod(v, new(big.Int).Lsh(big.NewInt(1), uint(n)), m); return q }()
}

func (x *exact) row(r Row, v func(int) *big.Int, e *[2]*big.Int) *big.Int {
	a := x.p.Arithmetic
	low, acc := new(big.Int), new(big.Int)
	for _, t := range r.Terms {
		low.Add(low, new(big.Int).Mul(big.NewInt(t.Low), v(t.Variable)))
		acc.Add(acc, new(big.Int).Mul(big.NewInt(t.Word), v(t.Variable)))
	}
	acc.Add(acc, floorDiv(wrapped(low, a.Accumulator), r.LowBits))
	switch r.Feedback {
	case 1:
		acc.Add(acc, e[0])
	case 2:
		acc.Add(acc, e[0]).Add(acc, e[0]).Sub(acc, e[1])
	}
	acc = wrapped(acc, a.Accumulator)
	q := floorDiv(acc, r.Fraction)
	// Twice what was cut off, compared with a step.
	step := new(big.Int).Lsh(big.NewInt(1), uint(r.Fraction))
	rest := new(big.Int).Sub(acc, new(big.Int).Mul(q, step))
	half := new(big.Int).Lsh(rest, 1).Cmp(step)
	up := false
	switch a.Rounding {
	case HalfUp:
		up = half >= 0
	case HalfEven:
		up = half > 0 || half == 0 && q.Bit(0) == 1
	case TowardZero:
		up = acc.Sign() < 0 && rest.Sign() != 0
	}
	if up {
		q.Add(q, big.NewInt(1))
	}
	if r.Feedback > 0 {
		e[0], e[1] = new(big.Int).Sub(acc, new(big.Int).Mul(q, step)), e[0]
	}
	if a.Overflow == Wrap {
		return wrapped(q, a.Signal.Word())
	}
	hi := new(big.Int).Lsh(big.NewInt(1), uint(a.Signal.Word()-1))
	if q.Cmp(hi) >= 0 {
		return hi.Sub(hi, big.NewInt(1))
	}
	if hi.Neg(hi); q.Cmp(hi) < 0 {
		return hi
	}
	return q
}

func (x *exact) step(in int64) int64 {
	v := big.NewInt(in)
	for i, s := range x.p.Sections {
		n := s.Network(x.p.Arithmetic)
		vars := x.state[i]
		get := func(k int) *big.Int {
			if k == 0 {
				return v
			}
			if vars[k] == nil {
				vars[k] = new(big.Int)
			}
			return vars[k]
		}
		for _, r := range n.Rows {
			if x.e[i][r.Variable] == nil {
				x.e[i][r.Variable] = &[2]*big.Int{new(big.Int), new(big.Int)}
			}
			vars[r.Variable] = x.row(r, get, x.e[i][r.Variable])
		}
		out := get(n.Output)
		for _, m := range n.Moves {
			vars[m[0]] = get(m[1])
		}
		v = out
	}
	v = x.row(x.p.Gain.Row(x.p.Arithmetic), func(int) *big.Int { return v }, nil)
	x.fir = append([]*big.Int{v}, x.fir[:len(x.fir)-1]...)
	v = x.row(x.p.FIR[0].Row(x.p.Arithmetic), func(k int) *big.Int { return x.fir[k] }, nil)
	x.delay = append(x.delay, v)
	v, x.delay = x.delay[0], x.delay[1:]
	return v.Int64()
}

// rows runs a floating-point program by its definition.
func rows[T float32 | float64](p *Program, src []float64) []float64 {
	var out []float64
	state := make([][]T, len(p.Sections))
	line := make([]T, len(p.FIR[0].Taps))
	var delay []T
	for range p.Delay {
		delay = append(delay, 0)
	}
	eval := func(r Row, v []T) T {
		var acc T
		for k, t := range r.Terms {
			p := T(T(t.Value) * v[t.Variable])
			if k == 0 {
				acc = p
			} else {
				acc = T(acc + p)
			}
		}
		return acc
	}
	for _, in := range src {
		x := T(in)
		for i, s := range p.Sections {
			n := s.Network(p.Arithmetic)
			if state[i] == nil {
				state[i] = make([]T, len(n.Variables))
			}
			v := state[i]
			v[0] = x
			for _, r := range n.Rows {
				v[r.Variable] = eval(r, v)
			}
			x = v[n.Output]
			for _, m := range n.Moves {
				v[m[0]] = v[m[1]]
			}
		}
		x = eval(p.Gain.Row(p.Arithmetic), []T{x})
		copy(line[1:], line)
		line[0] = x
		var s [4]T
		for k, t := range p.FIR[0].Row(p.Arithmetic).Terms {
			s[k%4] = T(s[k%4] + T(T(t.Value)*line[t.Variable]))
		}
		delay = append(delay, T(T(s[0]+s[1])+T(s[2]+s[3])))
		out = append(out, float64(delay[0]))
		delay = delay[1:]
	}
	return out
}
