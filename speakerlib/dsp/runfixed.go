package dsp

// fixedCore runs a program in fixed point: sections and gain as a list of steps on one
// array of variables, in which the output of a step is the input of the next. A step is
// a quick section, or rows and moves.
type fixedCore struct {
	format Format
	lo, hi int64
	wide   bool // accumulators of two words
	wrap   uint // 64, or 128 of two words, less the accumulator's width
	mode   quantiser

	steps []fixedStep
	v     []int64
	e     [][2]int64 // residues of rows with feedback
	out   int32
	fir   []fixedFIR
	delay ring[int64]
}

type fixedStep struct {
	quick *quick
	rows  []fixedRow
	moves [][2]int32
	out   int32
}

type fixedRow struct {
	terms    []fixedTerm
	variable int32
	feedback int32 // order
	residue  int32
	low      bool
	fraction uint
	lowBits  uint
}

type fixedTerm struct {
	word, low int64
	variable  int32
}

func newFixedCore(p *Program) *fixedCore {
	a := p.Arithmetic
	c := &fixedCore{format: a.Signal, mode: quantiser{rounding: a.Rounding, overflow: a.Overflow, spare: 64 - uint(a.Signal.Word())}, delay: ring[int64]{line: make([]int64, p.Delay)}}
	c.lo, c.hi = a.Signal.span()
	c.mode.lo, c.mode.hi = c.lo, c.hi
	c.wide = a.Accumulator > 64
	c.wrap = uint(64 - a.Accumulator)
	if c.wide {
		c.wrap = uint(128 - a.Accumulator)
	}
	c.v = make([]int64, 1)
	for _, s := range p.Sections {
		n := s.Network(a)
		base := int32(len(c.v)) - 1 // variable 0 is the output of what is before
		at := func(v int) int32 {
			if v == 0 {
				return c.out
			}
			return base + int32(v)
		}
		step := fixedStep{out: base + int32(n.Output)}
		if q, ok := newQuick(s, a, int(base)+1, len(c.e)); ok {
			step.quick = &q
		}
		for _, r := range n.Rows {
			step.rows = append(step.rows, c.row(r, at))
		}
		for _, m := range n.Moves {
			step.moves = append(step.moves, [2]int32{at(m[0]), at(m[1])})
		}
		c.steps = append(c.steps, step)
		c.v = append(c.v, make([]int64, len(n.Variables)-1)...)
		c.out = step.out
	}
	if p.Gain != nil {
		from, to := c.out, int32(len(c.v))
		c.steps = append(c.steps, fixedStep{out: to, rows: []fixedRow{c.row(p.Gain.Row(a), func(v int) int32 {
			if v == 0 {
				return from
			}
			return to
		})}})
		c.v = append(c.v, 0)
		c.out = to
	}
	for _, f := range p.FIR {
		c.fir = append(c.fir, newFixedFIR(f, a))
	}
	return c
}

func (c *fixedCore) row(r Row, at func(int) int32) fixedRow {
	out := fixedRow{variable: at(r.Variable), fraction: uint(r.Fraction), lowBits: uint(r.LowBits), feedback: int32(r.Feedback)}
	for _, t := range r.Terms {
		out.terms = append(out.terms, fixedTerm{t.Word, t.Low, at(t.Variable)})
		out.low = out.low || t.Low != 0
	}
	if r.Feedback > 0 {
		out.residue = int32(len(c.e))
		c.e = append(c.e, [2]int64{})
	}
	return out
}

func (c *fixedCore) reset() {
	clear(c.v)
	clear(c.e)
	for i := range c.fir {
		clear(c.fir[i].line)
		c.fir[i].at = 0
	}
	clear(c.delay.line)
	c.delay.at = 0
}

func (c *fixedCore) process(dst, src []float64) {
	step := c.format.Step()
	scale := 1 / step
	lo, hi := float64(c.lo), float64(c.hi)
	for i, v := range src {
		dst[i] = float64(c.step(toWord(v*scale, lo, hi, c.lo, c.hi))) * step
	}
}

// step takes one sample through the program.
func (c *fixedCore) step(x int64) int64 {
	v := c.v
	v[0] = x
	for i := range c.steps {
		s := &c.steps[i]
		switch {
		case s.quick != nil && !s.quick.narrow:
			x = s.quick.stepWide(c, x)
			continue
		case s.quick != nil:
			x = s.quick.step(c, x)
			continue
		case c.wide:
			c.wideRows(s.rows)
		default:
			c.narrowRows(s.rows)
		}
		for _, m := range s.moves {
			v[m[0]] = v[m[1]]
		}
		x = v[s.out]
	}
	for i := range c.fir {
		x = c.fir[i].step(x, c)
	}
	return c.delay.step(x)
}

func (c *fixedCore) narrowRows(rows []fixedRow) {
	v, wrap := c.v, c.wrap&63
	for i := range rows {
		r := &rows[i]
		var acc int64
		if r.low {
			for k := range r.terms {
				t := &r.terms[k]
				acc += t.low * v[t.variable]
			}
			acc = acc << wrap >> wrap >> (r.lowBits & 63)
		}
		for k := range r.terms {
			t := &r.terms[k]
			acc += t.word * v[t.variable]
		}
		if r.feedback == 0 {
			v[r.variable] = c.mode.limit(c.mode.round(acc<<wrap>>wrap, r.fraction))
			continue
		}
		e := &c.e[r.residue]
		if r.feedback == 1 {
			acc += e[0]
		} else {
			acc += 2*e[0] - e[1]
		}
		acc = acc << wrap >> wrap
		q := c.mode.round(acc, r.fraction)
		e[0], e[1] = acc-q<<(r.fraction&63), e[0]
		v[r.variable] = c.mode.limit(q)
	}
}

// quantiser takes an accumulator to the signal's format.
type quantiser struct {
	rounding Rounding
	overflow Overflow
	spare    uint // 64 less the signal's word
	lo, hi   int64
}

// round drops the bits of the fraction. It does not overflow for any accumulator.
func (q *quantiser) round(acc int64, fraction uint) int64 {
	if fraction == 0 {
		return acc
	}
	switch q.rounding {
	case HalfUp:
		return acc>>(fraction&63) + acc>>((fraction-1)&63)&1
	case HalfEven:
		w := acc >> (fraction & 63)
		rest := acc - w<<(fraction&63)
		half := int64(1) << ((fraction - 1) & 63)
		if rest > half || rest == half && w&1 != 0 {
			w++
		}
		return w
	case TowardZero:
		w := acc >> (fraction & 63)
		if acc < 0 && acc != w<<(fraction&63) {
			w++
		}
		return w
	}
	return acc >> (fraction & 63)
}

func (q *quantiser) limit(w int64) int64 {
	if q.overflow == Wrap {
		return w << (q.spare & 63) >> (q.spare & 63)
	}
	return min(max(w, q.lo), q.hi)
}

// fixedFIR holds the last samples twice, so that they are always contiguous.
type fixedFIR struct {
	word, low []int64 // the newest sample's first
	line      []int64
	at        int
	fraction  uint
	lowBits   uint
}

func newFixedFIR(f FIR, a Arithmetic) fixedFIR {
	n := len(f.Taps)
	out := fixedFIR{word: make([]int64, n), line: make([]int64, 2*n)}
	r := f.Row(a)
	out.fraction, out.lowBits = uint(r.Fraction), uint(r.LowBits)
	if r.LowBits > 0 {
		out.low = make([]int64, n)
	}
	for _, t := range r.Terms { // without those that are 0
		out.word[t.Variable] = t.Word
		if r.LowBits > 0 {
			out.low[t.Variable] = t.Low
		}
	}
	return out
}

func (f *fixedFIR) step(x int64, c *fixedCore) int64 {
	n := len(f.word)
	if f.at == 0 {
		f.at = n
	}
	f.at--
	f.line[f.at], f.line[f.at+n] = x, x
	line := f.line[f.at : f.at+n]
	if c.wide {
		return f.wideSum(line, c)
	}
	var acc int64
	if f.low != nil {
		acc = dot(f.low, line) << c.wrap >> c.wrap >> f.lowBits
	}
	acc = (acc + dot(f.word, line)) << c.wrap >> c.wrap
	return c.mode.limit(c.mode.round(acc, f.fraction))
}

func dot(a, b []int64) int64 {
	b = b[:len(a)]
	var s0, s1 int64
	i := 0
	for ; i+2 <= len(a); i += 2 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
	}
	if i < len(a) {
		s0 += a[i] * b[i]
	}
	return s0 + s1
}
