package dsp

import "math/bits"

// wide is a two's-complement number of 128 bits: an accumulator of more than 64.
type wide struct {
	hi int64
	lo uint64
}

func (a wide) plus(b wide) wide {
	lo, carry := bits.Add64(a.lo, b.lo, 0)
	return wide{a.hi + b.hi + int64(carry), lo}
}

func (a wide) minus(b wide) wide {
	lo, borrow := bits.Sub64(a.lo, b.lo, 0)
	return wide{a.hi - b.hi - int64(borrow), lo}
}

// product returns a·b.
func product(a, b int64) wide {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	// As unsigned numbers a and b are 2⁶⁴ too much where they are negative.
	return wide{int64(hi) - a>>63&b - b>>63&a, lo}
}

func widen(a int64) wide { return wide{a >> 63, uint64(a)} }

// left and right shift by 0 … 127 bits, right towards −∞.
func (a wide) left(n uint) wide {
	if n >= 64 {
		return wide{int64(a.lo << (n - 64)), 0}
	}
	return wide{a.hi<<n | int64(a.lo>>(64-n)), a.lo << n}
}

func (a wide) right(n uint) wide {
	if n >= 64 {
		return wide{a.hi >> 63, uint64(a.hi >> (n - 64))}
	}
	return wide{a.hi >> n, a.lo>>n | uint64(a.hi)<<(64-n)}
}

func (c *fixedCore) wideRows(rows []fixedRow) {
	v := c.v
	for i := range rows {
		r := &rows[i]
		var acc wide
		if r.low {
			for k := range r.terms {
				t := &r.terms[k]
				acc = acc.plus(product(t.low, v[t.variable]))
			}
			acc = acc.left(c.wrap).right(c.wrap).right(r.lowBits)
		}
		for k := range r.terms {
			t := &r.terms[k]
			acc = acc.plus(product(t.word, v[t.variable]))
		}
		if r.feedback == 0 {
			v[r.variable] = c.mode.limitWide(c.mode.roundWide(acc.left(c.wrap).right(c.wrap), r.fraction))
			continue
		}
		// A residue is less than one step of the signal, and that is 2^fraction.
		e := &c.e[r.residue]
		if r.feedback == 1 {
			acc = acc.plus(widen(e[0]))
		} else {
			acc = acc.plus(widen(e[0])).plus(widen(e[0])).minus(widen(e[1]))
		}
		acc = acc.left(c.wrap).right(c.wrap)
		q := c.mode.roundWide(acc, r.fraction)
		e[0], e[1] = int64(acc.minus(q.left(r.fraction)).lo), e[0]
		v[r.variable] = c.mode.limitWide(q)
	}
}

func (q *quantiser) roundWide(acc wide, fraction uint) wide {
	if fraction == 0 {
		return acc
	}
	switch q.rounding {
	case HalfUp:
		return acc.right(fraction).plus(wide{0, acc.right(fraction-1).lo & 1})
	case HalfEven:
		w := acc.right(fraction)
		rest := acc.minus(w.left(fraction)).lo // fraction is at most 62 bits
		half := uint64(1) << (fraction - 1)
		if rest > half || rest == half && w.lo&1 != 0 {
			w = w.plus(wide{0, 1})
		}
		return w
	case TowardZero:
		w := acc.right(fraction)
		if acc.hi < 0 && acc != w.left(fraction) {
			w = w.plus(wide{0, 1})
		}
		return w
	}
	return acc.right(fraction)
}

func (q *quantiser) limitWide(w wide) int64 {
	x := int64(w.lo)
	if q.overflow == Wrap {
		return x << q.spare >> q.spare
	}
	if w.hi != x>>63 { // beyond 64 bits
		if w.hi < 0 {
			return q.lo
		}
		return q.hi
	}
	return min(max(x, q.lo), q.hi)
}

func (f *fixedFIR) wideSum(line []int64, c *fixedCore) int64 {
	var acc wide
	if f.low != nil {
		for i, w := range f.low {
			acc = acc.plus(product(w, line[i]))
		}
		acc = acc.left(c.wrap).right(c.wrap).right(f.lowBits)
	}
	for i, w := range f.word {
		acc = acc.plus(product(w, line[i]))
	}
	return c.mode.limitWide(c.mode.roundWide(acc.left(c.wrap).right(c.wrap), f.fraction))
}
