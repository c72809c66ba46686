package ccode

import (
	"fmt"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/dsp"
)

// row prints a sum of products and its rounding.
func (p *printer) row(c *writer, r dsp.Row, dst string, name func(int) string, state string) {
	if !p.fixed {
		sum := ""
		for k, t := range r.Terms {
			product := p.float(t.Value) + " * " + name(t.Variable)
			switch t.Value {
			case 1:
				product = name(t.Variable)
			case -1:
				product = "-" + name(t.Variable)
			}
			if k == 0 {
				sum = product
			} else {
				sum = "(" + sum + ") + " + product
			}
		}
		c.line("\t\t\t%s = %s;", dst, sum)
		return
	}
	low := slices.ContainsFunc(r.Terms, func(t dsp.Term) bool { return t.Low != 0 })
	c.line("\t\t\t{")
	p.begin(c, "\t\t\t\t")
	if low {
		for _, t := range r.Terms {
			if t.Low != 0 {
				p.mac(c, "\t\t\t\t", integer(t.Low), name(t.Variable))
			}
		}
		p.cut(c, "\t\t\t\t", r.LowBits)
	}
	for _, t := range r.Terms {
		if t.Word != 0 {
			p.mac(c, "\t\t\t\t", integer(t.Word), name(t.Variable))
		}
	}
	p.finish(c, "\t\t\t\t", r, dst, strings.HasPrefix(dst, "state->"), state)
	c.line("\t\t\t}")
}

func (p *printer) begin(c *writer, in string) {
	if p.wide {
		c.line("%swide acc = {0, 0};", in)
	} else {
		c.line("%suint64_t acc = 0;", in)
	}
}

func (p *printer) mac(c *writer, in, word, v string) {
	if p.wide {
		c.line("%sacc = wide_mac(acc, %s, %s);", in, word, v)
	} else {
		c.line("%sacc += (uint64_t)%s * (uint64_t)%s;", in, word, v)
	}
}

// cut takes the sum of the low products to the binary point of the high ones.
func (p *printer) cut(c *writer, in string, bits int) {
	if p.wide {
		c.line("%sacc = wide_shift_right(wide_wrap(acc, %d), %d);", in, p.a.Accumulator, bits)
	} else {
		c.line("%sacc = (uint64_t)shift_right(wrap(acc, %d), %d);", in, p.a.Accumulator, bits)
	}
}

// finish adds errors, rounds, keeps the residue, and limits.
func (p *printer) finish(c *writer, in string, r dsp.Row, dst string, toState bool, state string) {
	word := p.a.Signal.Word()
	lo, hi := integer(-1<<(word-1)), integer(1<<(word-1)-1)
	round := "round_" + roundingName(p.a.Rounding)
	assign := func(v string) {
		if toState {
			v = p.store("(" + v + ")")
			if p.sample == p.local {
				v = strings.TrimSuffix(strings.TrimPrefix(v, "("), ")")
			}
		}
		c.line("%s%s = %s;", in, dst, v)
	}
	if p.wide {
		for k := range r.Feedback {
			c.line("%sacc = wide_add(acc, wide_of(%s_e1));", in, state)
			if k == 1 {
				c.line("%sacc = wide_sub(acc, wide_of(%s_e2));", in, state)
			}
		}
		c.line("%sacc = wide_wrap(acc, %d);", in, p.a.Accumulator)
		if r.Fraction > 0 {
			c.line("%s{", in)
			c.line("%s\tconst wide q = wide_%s(acc, %d);", in, round, r.Fraction)
			if r.Feedback > 1 {
				c.line("%s\t%s_e2 = %s_e1;", in, state, state)
			}
			if r.Feedback > 0 {
				c.line("%s\t%s_e1 = to_signed(wide_sub(acc, wide_shift_left(q, %d)).lo);", in, state, r.Fraction)
			}
			c.line("%s\tacc = q;", in)
			c.line("%s}", in)
		}
		if p.a.Overflow == dsp.Wrap {
			assign(fmt.Sprintf("wrap(acc.lo, %d)", word))
		} else {
			assign(fmt.Sprintf("wide_saturate(acc, %s, %s)", lo, hi))
		}
		return
	}
	switch r.Feedback {
	case 1:
		c.line("%sacc += (uint64_t)%s_e1;", in, state)
	case 2:
		c.line("%sacc += 2u * (uint64_t)%s_e1 - (uint64_t)%s_e2;", in, state, state)
	}
	sum := fmt.Sprintf("wrap(acc, %d)", p.a.Accumulator)
	q := sum
	if r.Fraction > 0 {
		q = fmt.Sprintf("%s(%s, %d)", round, sum, r.Fraction)
	}
	if r.Feedback > 0 {
		c.line("%sconst int64_t sum = %s;", in, sum)
		q = "sum"
		if r.Fraction > 0 {
			q = fmt.Sprintf("%s(sum, %d)", round, r.Fraction)
		}
		c.line("%sconst int64_t q = %s;", in, q)
		if r.Feedback > 1 {
			c.line("%s%s_e2 = %s_e1;", in, state, state)
		}
		c.line("%s%s_e1 = to_signed((uint64_t)sum - ((uint64_t)q << %d));", in, state, r.Fraction)
		q = "q"
	}
	if p.a.Overflow == dsp.Wrap {
		assign(fmt.Sprintf("wrap((uint64_t)%s, %d)", q, word))
	} else {
		assign(fmt.Sprintf("saturate(%s, %s, %s)", q, lo, hi))
	}
}
