package dsp

import (
	"math"
	"slices"
)

// quick is a section whose rows are written out: of the usual structures, without low
// words, rounded half up or truncated, with saturation; in accumulators of more than 64
// bits if no sum can wrap and every product is within 64. Everything else goes through
// the rows one by one. Its states are among the variables of the core, from base on, in
// the order of the structure's form.
type quick struct {
	structure Structure
	feedback  int
	narrow    bool      // no sum exceeds 64 bits, whatever the accumulator
	base      int       // of variable 1, the output
	w         [10]int64 // constants, row by row
	cut       [4]cut    // of each row
}

// cut drops the bits of a fraction.
type cut struct {
	fraction, bit     uint  // bit is fraction − 1
	half              int64 // 1 adds that bit
	residue, feedback int   // index among the core's, and order
	wrap              uint  // 64 less the accumulator's width, 0 of wider ones
}

// newQuick returns the section, or false if it is none of these.
func newQuick(s Section, a Arithmetic, base, residue int) (quick, bool) {
	q := quick{structure: s.Structure, feedback: s.Feedback, base: base}
	n := s.Network(a)
	if a.Overflow != Saturate || a.Rounding != HalfUp && a.Rounding != Floor {
		return q, false
	}
	switch s.Structure {
	case DirectI:
	case TransposedII, Coupled, StateVariable:
	default:
		return q, false
	}
	at := 0
	q.narrow = true
	for i, r := range n.Rows {
		if r.LowBits > 0 {
			return q, false
		}
		q.cut[i].wrap = uint(max(0, 64-a.Accumulator))
		if a.Accumulator > 64 {
			sum, ok := r.largest(a)
			if !ok {
				return q, false
			}
			q.narrow = q.narrow && sum < 1<<63
		}
		q.cut[i].fraction = uint(r.Fraction)
		q.cut[i].residue = residue
		if r.Feedback > 0 {
			q.cut[i].feedback = r.Feedback
			residue++
		}
		if r.Fraction > 0 {
			q.cut[i].bit = uint(r.Fraction) - 1
			if a.Rounding == HalfUp {
				q.cut[i].half = 1
			}
		}
		for _, f := range s.Structure.form().sums[i].terms {
			// A term that is 0 is not in the row.
			if k := slices.IndexFunc(r.Terms, func(t Term) bool { return t.Variable == f.variable }); k >= 0 {
				q.w[at] = r.Terms[k].Word
			}
			at++
		}
	}
	// With error feedback only direct form I is written out for two words.
	return q, q.narrow || s.Feedback == 0 || s.Structure == DirectI
}

// largest returns the largest magnitude of the sum, and whether the sum never wraps and no
// product nor rounded sum exceeds 64 bits.
func (r Row) largest(a Arithmetic) (float64, bool) {
	full := math.Ldexp(1, a.Signal.Word()-1)
	sum := math.Ldexp(3, r.Fraction) // residues
	for _, t := range r.Terms {
		p := math.Abs(float64(t.Word)) * full
		if p >= 1<<63 {
			return p, false
		}
		sum += p
	}
	return sum, sum < math.Ldexp(1, a.Accumulator-1) && math.Ldexp(sum, -r.Fraction) < 1<<62
}

// fit takes an accumulator to the signal's range.
func fit(acc int64, k *cut, lo, hi int64) int64 {
	acc = acc << (k.wrap & 63) >> (k.wrap & 63)
	return min(max(acc>>(k.fraction&63)+acc>>(k.bit&63)&k.half, lo), hi)
}

// step takes a sample through the section.
func (q *quick) step(c *fixedCore, x int64) int64 {
	lo, hi := c.lo, c.hi
	v := c.v[q.base:]
	if q.feedback > 0 && q.structure != DirectI {
		return q.stepFed(c, x, (*[3]int64)(v))
	}
	switch q.structure {
	case DirectI:
		s := (*[5]int64)(v) // y, x1, x2, y1, y2
		acc := q.w[0]*x + q.w[1]*s[1] + q.w[2]*s[2] + q.w[3]*s[3] + q.w[4]*s[4]
		var y int64
		if q.feedback == 0 {
			y = fit(acc, &q.cut[0], lo, hi)
		} else {
			y = c.fed(acc, &q.cut[0])
		}
		s[0], s[1], s[2], s[3], s[4] = y, x, s[1], y, s[3]
		return y
	case TransposedII:
		s := (*[3]int64)(v) // y, s1, s2
		y := fit(q.w[0]*x+q.w[1]*s[1], &q.cut[0], lo, hi)
		s[1] = fit(q.w[2]*s[2]+q.w[3]*x+q.w[4]*y, &q.cut[1], lo, hi)
		s[2] = fit(q.w[5]*x+q.w[6]*y, &q.cut[2], lo, hi)
		s[0] = y
		return y
	case Coupled:
		s := (*[3]int64)(v) // y, s1, s2
		s1, s2 := s[1], s[2]
		y := fit(q.w[0]*x+q.w[1]*s1+q.w[2]*s2, &q.cut[0], lo, hi)
		s[1] = fit(q.w[3]*s1+q.w[4]*s2+q.w[5]*x, &q.cut[1], lo, hi)
		s[2] = fit(q.w[6]*s1+q.w[7]*s2, &q.cut[2], lo, hi)
		s[0] = y
		return y
	}
	s := (*[3]int64)(v) // state-variable form: y, s1, s2
	s1, s2 := s[1], s[2]
	h := fit(q.w[0]*x+q.w[1]*s1+q.w[2]*s2, &q.cut[0], lo, hi)
	y := fit(q.w[3]*h+q.w[4]*s1+q.w[5]*s2, &q.cut[1], lo, hi)
	s1 = fit(q.w[6]*s1+q.w[7]*h, &q.cut[2], lo, hi)
	s[1], s[2] = s1, fit(q.w[8]*s2+q.w[9]*s1, &q.cut[3], lo, hi)
	s[0] = y
	return y
}

// fed is fit with error feedback.
func (c *fixedCore) fed(acc int64, k *cut) int64 {
	e := &c.e[k.residue]
	switch k.feedback {
	case 1:
		acc += e[0]
	case 2:
		acc += 2*e[0] - e[1]
	default: // nothing is dropped here
		return fit(acc, k, c.lo, c.hi)
	}
	acc = acc << (k.wrap & 63) >> (k.wrap & 63)
	y := acc>>(k.fraction&63) + acc>>(k.bit&63)&k.half
	e[0], e[1] = acc-y<<(k.fraction&63), e[0]
	return min(max(y, c.lo), c.hi)
}

// stepFed is step with error feedback of the structures with two states.
func (q *quick) stepFed(c *fixedCore, x int64, s *[3]int64) int64 {
	s1, s2 := s[1], s[2]
	switch q.structure {
	case TransposedII:
		s[0] = c.fed(q.w[0]*x+q.w[1]*s1, &q.cut[0])
		s[1] = c.fed(q.w[2]*s2+q.w[3]*x+q.w[4]*s[0], &q.cut[1])
		s[2] = c.fed(q.w[5]*x+q.w[6]*s[0], &q.cut[2])
	case Coupled:
		s[0] = c.fed(q.w[0]*x+q.w[1]*s1+q.w[2]*s2, &q.cut[0])
		s[1] = c.fed(q.w[3]*s1+q.w[4]*s2+q.w[5]*x, &q.cut[1])
		s[2] = c.fed(q.w[6]*s1+q.w[7]*s2, &q.cut[2])
	case StateVariable:
		h := c.fed(q.w[0]*x+q.w[1]*s1+q.w[2]*s2, &q.cut[0])
		s[0] = c.fed(q.w[3]*h+q.w[4]*s1+q.w[5]*s2, &q.cut[1])
		s[1] = c.fed(q.w[6]*s1+q.w[7]*h, &q.cut[2])
		s[2] = c.fed(q.w[8]*s2+q.w[9]*s[1], &q.cut[3])
	}
	return s[0]
}

// fitWide is fit of two words.
func fitWide(acc wide, k *cut, lo, hi int64) int64 {
	return min(max(acc.word(k), lo), hi)
}

// word rounds an accumulator whose rounded sum is within 64 bits.
func (a wide) word(k *cut) int64 {
	return int64(a.lo>>(k.fraction&63)|uint64(a.hi)<<(64-k.fraction)) + int64(a.lo>>(k.bit&63))&k.half
}

// stepWide is step with accumulators of two words.
func (q *quick) stepWide(c *fixedCore, x int64) int64 {
	lo, hi := c.lo, c.hi
	v := c.v[q.base:]
	switch q.structure {
	case DirectI:
		s := (*[5]int64)(v)
		acc := widen(q.w[0] * x).plus(widen(q.w[1] * s[1])).plus(widen(q.w[2] * s[2])).plus(widen(q.w[3] * s[3])).plus(widen(q.w[4] * s[4]))
		var y int64
		if q.feedback == 0 {
			y = fitWide(acc, &q.cut[0], lo, hi)
		} else {
			e := &c.e[q.cut[0].residue]
			acc = acc.plus(widen(e[0])) // a residue is at most 62 bits
			if q.feedback == 2 {
				acc = acc.plus(widen(e[0] - e[1]))
			}
			y = acc.word(&q.cut[0])
			e[0], e[1] = int64(acc.lo-uint64(y)<<(q.cut[0].fraction&63)), e[0]
			y = min(max(y, lo), hi)
		}
		s[0], s[1], s[2], s[3], s[4] = y, x, s[1], y, s[3]
		return y
	case TransposedII:
		s := (*[3]int64)(v)
		y := fitWide(widen(q.w[0]*x).plus(widen(q.w[1]*s[1])), &q.cut[0], lo, hi)
		s[1] = fitWide(widen(q.w[2]*s[2]).plus(widen(q.w[3]*x)).plus(widen(q.w[4]*y)), &q.cut[1], lo, hi)
		s[2] = fitWide(widen(q.w[5]*x).plus(widen(q.w[6]*y)), &q.cut[2], lo, hi)
		s[0] = y
		return y
	case Coupled:
		s := (*[3]int64)(v)
		s1, s2 := s[1], s[2]
		y := fitWide(widen(q.w[0]*x).plus(widen(q.w[1]*s1)).plus(widen(q.w[2]*s2)), &q.cut[0], lo, hi)
		s[1] = fitWide(widen(q.w[3]*s1).plus(widen(q.w[4]*s2)).plus(widen(q.w[5]*x)), &q.cut[1], lo, hi)
		s[2] = fitWide(widen(q.w[6]*s1).plus(widen(q.w[7]*s2)), &q.cut[2], lo, hi)
		s[0] = y
		return y
	}
	s := (*[3]int64)(v)
	s1, s2 := s[1], s[2]
	h := fitWide(widen(q.w[0]*x).plus(widen(q.w[1]*s1)).plus(widen(q.w[2]*s2)), &q.cut[0], lo, hi)
	y := fitWide(widen(q.w[3]*h).plus(widen(q.w[4]*s1)).plus(widen(q.w[5]*s2)), &q.cut[1], lo, hi)
	s1 = fitWide(widen(q.w[6]*s1).plus(widen(q.w[7]*h)), &q.cut[2], lo, hi)
	s[1], s[2] = s1, fitWide(widen(q.w[8]*s2).plus(widen(q.w[9]*s1)), &q.cut[3], lo, hi)
	s[0] = y
	return y
}
