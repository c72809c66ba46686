package dsp

import (
	"fmt"
	"math"
)

// Term is a variable times a constant. In fixed point the constant is
// Word + Low·2^−LowBits at the binary point of its row; in floating point it is
// Value.
type Term struct {
	Variable  int
	Word, Low int64
	Value     float64
}

// Row is a sum of products that is rounded once, into a variable:
//
//	fixed point:  v = Q(((Σ Low·v) >> LowBits) + Σ Word·v)
//
// where Q drops Fraction bits. The low words are summed first, cut to the binary
// point of the high ones (towards −∞) and added to. With error feedback the residue
// e of the last sums, accumulator less rounded word, is added before Q: e₁, or
// 2·e₁ − e₂. In floating point it is (((t₀ + t₁) + t₂) + …), each product and each
// sum rounded.
type Row struct {
	Variable int
	Terms    []Term
	Fraction int
	LowBits  int
	Feedback int
}

// Network is a structure with its numbers: for every sample Variables[0] is the
// input, the rows are evaluated in their order, Output is the output, and Moves
// (to, from) are made in their order. States keep their values from sample to
// sample.
type Network struct {
	Variables []string
	States    []int
	Rows      []Row
	Moves     [][2]int
	Output    int
}

// Network returns the section as it is computed in an arithmetic.
func (s Section) Network(a Arithmetic) Network {
	f := s.Structure.form()
	n := Network{Variables: f.variables, States: f.states, Moves: f.moves, Output: f.out}
	for _, e := range f.sums {
		r := s.row(e, a)
		if r.Fraction > 0 {
			r.Feedback = s.Feedback
		}
		n.Rows = append(n.Rows, r)
	}
	return n
}

// alignment is how the constants of a row come to one binary point.
type alignment struct {
	fraction, lowBits int
	spread            int // the longest shift of a coefficient to the left
	input             int // the shift of the input to the left
	shift             []int
}

// align finds the bits below the binary point of each constant, and of all.
func (s Section) align(e sum) alignment {
	var l alignment
	for _, t := range e.terms {
		n := 0
		switch {
		case t.coefficient == shifted:
			n = max(0, -s.InputShift)
			l.input = max(0, s.InputShift)
		case t.coefficient >= 0:
			c := s.Coefficients[t.coefficient]
			n = c.Shift
			if t.tap {
				n += s.InputShift
			}
			l.lowBits = max(l.lowBits, c.LowBits)
		}
		l.shift = append(l.shift, n)
		l.fraction = max(l.fraction, n)
	}
	for i, t := range e.terms {
		if t.coefficient >= 0 {
			l.spread = max(l.spread, l.fraction-l.shift[i])
		}
	}
	return l
}

func (s Section) row(e sum, a Arithmetic) Row {
	if !a.fixed() {
		r := Row{Variable: e.dst}
		for _, t := range e.terms {
			v := 1.
			if t.coefficient >= 0 {
				v = s.Coefficients[t.coefficient].Value
			}
			if t.minus {
				v = -v
			}
			r.Terms = append(r.Terms, Term{Variable: t.variable, Value: v})
		}
		return r
	}
	l := s.align(e)
	r := Row{Variable: e.dst, Fraction: l.fraction, LowBits: l.lowBits}
	for i, t := range e.terms {
		c := Coefficient{Word: 1}
		switch {
		case t.coefficient >= 0:
			c = s.Coefficients[t.coefficient]
		case t.coefficient == shifted:
			c.Word <<= max(0, s.InputShift)
		}
		if c.Word == 0 && c.Low == 0 {
			continue
		}
		up := l.fraction - l.shift[i]
		out := Term{Variable: t.variable, Word: c.Word << up, Low: c.Low << up}
		if t.minus {
			out.Word, out.Low = -out.Word, -out.Low
		}
		r.Terms = append(r.Terms, out)
	}
	return r
}

// validate reports a sum that the accumulator does not hold.
func (l alignment) validate(a Arithmetic) error {
	need := a.Signal.Word() + l.fraction
	if l.lowBits > 0 {
		need = max(need, a.Signal.Word()+l.lowBits+l.spread+3) // up to six products
	}
	if need > a.Accumulator {
		return fmt.Errorf("needs an accumulator of %d bits (signal of %d, %d below its last), have %d", need, a.Signal.Word(), need-a.Signal.Word(), a.Accumulator)
	}
	if bits := a.Coefficient.Word() + l.spread; bits > MaxWord || l.fraction > MaxWord {
		return fmt.Errorf("has constants of %d bits aligned to each other and %d below the binary point, want at most %d of both", bits, l.fraction, MaxWord)
	}
	if l.input > 0 && l.input+l.fraction > MaxWord {
		return fmt.Errorf("shifts its input by %d bits with %d below the binary point, want at most %d together", l.input, l.fraction, MaxWord)
	}
	return nil
}

// short returns by how many bits an accumulator is too narrow to hold the sum whatever the
// words of the signal are: then the sum may wrap, and what comes out jumps by as much as the
// signal's range where it ought to saturate.
func (r Row) short(a Arithmetic) int {
	sum := 0.
	if r.Feedback > 0 {
		sum = math.Ldexp(3, r.Fraction) // residues, of one step of the signal at most
	}
	full := math.Ldexp(1, a.Signal.Word()-1)
	for _, t := range r.Terms {
		sum += math.Abs(float64(t.Word)) * full
		if t.Low != 0 {
			sum += math.Ldexp(math.Abs(float64(t.Low))*full, -r.LowBits)
		}
	}
	// Two's complement holds less than 2^(Accumulator−1).
	_, e := math.Frexp(sum)
	return max(0, e+1-a.Accumulator)
}

// value returns the constant as a number, in the unit of the signal.
func (r Row) value(t Term) float64 {
	return t.Value + math.Ldexp(float64(t.Word), -r.Fraction) + math.Ldexp(float64(t.Low), -r.Fraction-r.LowBits)
}
