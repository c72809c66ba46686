package dsp

import (
	"fmt"
	"math"
)

// Coefficient is a coefficient as the processor holds it. In floating point it is
// Value, exactly. In fixed point Value is 0 and it is the integer Word with a
// shift, and, where it is split, a second word for what is below:
//
//	Word·2^−Shift + Low·2^−(Shift+LowBits),  0 ≤ Low < 2^LowBits
//
// LowBits is one less than the word of the coefficients' format, so that both
// parts are factors of the same multiplier; 0 is not split.
type Coefficient struct {
	Value   float64
	Word    int64
	Shift   int
	Low     int64
	LowBits int
}

// Float returns the value, which for split coefficients is that of the two words
// to the precision of float64.
func (c Coefficient) Float() float64 {
	return c.Value + math.Ldexp(float64(c.Word), -c.Shift) + math.Ldexp(float64(c.Low), -c.Shift-c.LowBits)
}

// validate reports a coefficient that the arithmetic does not have.
func (c Coefficient) validate(a Arithmetic) error {
	f := a.Coefficient
	if !a.fixed() {
		if c.Word != 0 || c.Shift != 0 || c.Low != 0 || c.LowBits != 0 {
			return fmt.Errorf("has words of fixed point, want a value of %v alone", f)
		}
		if math.IsNaN(c.Value) || math.IsInf(c.Value, 0) {
			return fmt.Errorf("is %g, want a finite value", c.Value)
		}
		if f.Number == Binary32 && float64(float32(c.Value)) != c.Value {
			return fmt.Errorf("is %g, which float32 does not have: the nearest is %g", c.Value, float32(c.Value))
		}
		return nil
	}
	if c.Value != 0 {
		return fmt.Errorf("has the floating-point value %g, want words of fixed point alone", c.Value)
	}
	if lo, hi := f.span(); c.Word < lo || c.Word > hi {
		return fmt.Errorf("is the word %d, want %d to %d for %v", c.Word, lo, hi, f)
	}
	if c.Shift < f.N-a.Exponent || c.Shift > f.N+a.Exponent || c.Shift < 0 {
		return fmt.Errorf("has the shift %d, want %d to %d for %v with an exponent of %d", c.Shift, max(0, f.N-a.Exponent), f.N+a.Exponent, f, a.Exponent)
	}
	if c.LowBits != 0 && (c.LowBits != f.Word()-1 || f.Word() > maxSplit) {
		return fmt.Errorf("is split at %d bits, want %d, of words of at most %d", c.LowBits, f.Word()-1, maxSplit)
	}
	if c.Low < 0 || c.Low >= int64(1)<<c.LowBits {
		return fmt.Errorf("has the low word %d, want 0 to %d", c.Low, int64(1)<<c.LowBits-1)
	}
	return nil
}

// maxSplit is the longest word that may be split: two such words are together
// within an int64.
const maxSplit = 32

// holder rounds values to the coefficients of an arithmetic.
type holder struct {
	a     Arithmetic
	split bool
	guard int // bits of the accumulator above the signal's that products are to leave free
}

// low returns how many bits a low word has.
func (h holder) low() int {
	if !h.split {
		return 0
	}
	return h.a.Coefficient.Word() - 1
}

// make returns the coefficient of an integer at a shift, or false if it is beyond
// the word.
func (h holder) make(total int64, shift int) (Coefficient, bool) {
	l := h.low()
	c := Coefficient{Word: total >> l, Shift: shift, Low: total & (int64(1)<<l - 1), LowBits: l}
	lo, hi := h.a.Coefficient.span()
	return c, c.Word >= lo && c.Word <= hi
}

// group rounds values that share a shift, the largest at which all fit, with a
// function that makes the integers (to keep relations between them).
func (h holder) group(names []string, values []float64, relate func([]int64)) ([]Coefficient, error) {
	f := h.a.Coefficient
	out := make([]Coefficient, len(values))
	total := make([]int64, len(values))
	lowest := max(0, f.N-h.a.Exponent)
	highest := max(f.N, min(f.N+h.a.Exponent, h.a.Accumulator-h.a.Signal.Word()))
	if h.guard > 0 {
		highest = max(lowest, min(highest, h.a.Accumulator-h.a.Signal.Word()-h.guard))
	}
	for shift := highest; shift >= lowest; shift-- {
		fits := true
		for i, v := range values {
			x := math.Ldexp(v, shift+h.low())
			if !(math.Abs(x) <= 1<<MaxWord) {
				fits = false
				break
			}
			total[i] = int64(math.RoundToEven(x))
		}
		if !fits {
			continue
		}
		relate(total)
		for i := range total {
			c, ok := h.make(total[i], shift)
			out[i], fits = c, fits && ok
		}
		if fits {
			return out, nil
		}
	}
	worst := 0
	for i, v := range values {
		if math.Abs(v) > math.Abs(values[worst]) {
			worst = i
		}
	}
	v := values[worst]
	m := int(math.Ceil(math.Log2(math.Abs(v))))
	if v > 0 && v > math.Ldexp(1, m)-math.Ldexp(1, -f.N) {
		m++
	}
	limit := math.Ldexp(1, f.M+f.N-lowest)
	return nil, fmt.Errorf("coefficient %s is %.9g, %v holds %g … %.9g%s; it needs %d bits before the binary point, %d more",
		names[worst], v, f, -limit, limit-math.Ldexp(1, -lowest), exponentNote(h.a), m, m-f.M-f.N+lowest)
}

func exponentNote(a Arithmetic) string {
	if a.Exponent == 0 {
		return ""
	}
	return fmt.Sprintf(" with an exponent of %d", a.Exponent)
}

// one rounds a value by itself.
func (h holder) one(name string, v float64) (Coefficient, error) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Coefficient{}, fmt.Errorf("coefficient %s is %g, want a finite value", name, v)
	}
	switch h.a.Coefficient.Number {
	case Binary64:
		return Coefficient{Value: v}, nil
	case Binary32:
		r := float64(float32(v))
		if math.IsInf(r, 0) || r == 0 && v != 0 {
			return Coefficient{}, fmt.Errorf("coefficient %s is %g, beyond the range of float32, %g … %g", name, v, math.SmallestNonzeroFloat32, math.MaxFloat32)
		}
		return Coefficient{Value: r}, nil
	}
	c, err := h.group([]string{name}, []float64{v}, func([]int64) {})
	if err != nil {
		return Coefficient{}, err
	}
	return c[0], nil
}

// zeros are the zeros of a numerator that rounding has to keep.
type zeros struct{ dc, nyquist, circle, double bool }

// zerosOf tells them from the coefficients, which are trusted to 2⁻⁴⁷ of their
// magnitudes: designs in float64 cancel to some 2⁻⁵².
func zerosOf(b0, b1, b2 float64) zeros {
	t := math.Ldexp(math.Abs(b0)+math.Abs(b1)+math.Abs(b2), -47)
	near := func(v float64) bool { return math.Abs(v) <= t }
	return zeros{
		dc: near(b0 + b1 + b2), nyquist: near(b0 - b1 + b2), circle: near(b0 - b2),
		double: near(b0-b2) && (near(2*b0+b1) || near(2*b0-b1)),
	}
}

// relate makes the integers of a numerator have the zeros at direct current and at half
// the sample rate; others on the unit circle keep b0 = b2 by themselves.
func (z zeros) relate(t []int64) {
	switch {
	case z.dc && z.double:
		t[1], t[2] = -2*t[0], t[0]
	case z.nyquist && z.double:
		t[1], t[2] = 2*t[0], t[0]
	case z.dc && z.nyquist:
		t[1], t[2] = 0, -t[0]
	case z.dc:
		t[1] = -t[0] - t[2]
	case z.nyquist:
		t[1] = t[0] + t[2]
	}
}

// numerator rounds b0, b1, b2 and keeps zeros at direct current, at half the sample
// rate and elsewhere on the unit circle. Rounding each by itself would move a double
// zero at direct current to where it costs several decibels in the bass.
func (h holder) numerator(b [3]float64) ([]Coefficient, error) {
	names := []string{"b0", "b1", "b2"}
	z := zerosOf(b[0], b[1], b[2])
	if h.a.fixed() {
		return h.group(names, b[:], z.relate)
	}
	out := make([]Coefficient, 3)
	if h.a.Coefficient.Number == Binary32 {
		// On the grid of the largest in float32 the relations are exact: sums of
		// at most 25 bits whose last is 0 or that are halves of each other.
		_, e := math.Frexp(max(math.Abs(b[0]), math.Abs(b[1]), math.Abs(b[2])))
		var t [3]int64
		for i, v := range b {
			t[i] = int64(math.RoundToEven(math.Ldexp(v, 24-e)))
		}
		z.relate(t[:])
		if z != (zeros{}) {
			for i := range b {
				b[i] = math.Ldexp(float64(t[i]), e-24)
			}
		}
	}
	for i := range out {
		c, err := h.one(names[i], b[i])
		if err != nil {
			return nil, err
		}
		out[i] = c
	}
	return out, nil
}
