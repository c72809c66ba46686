package dsp

import (
	"fmt"
	"math"
)

// Number is a kind of number.
type Number int

// The kinds of numbers.
const (
	FixedPoint Number = iota // two's complement
	Binary32                 // IEEE 754 binary32
	Binary64                 // IEEE 754 binary64
)

// String names the kind.
func (n Number) String() string {
	switch n {
	case FixedPoint:
		return "fixed point"
	case Binary32:
		return "float32"
	case Binary64:
		return "float64"
	}
	return fmt.Sprintf("Number(%d)", int(n))
}

// MaxWord is the longest fixed-point word in bits, sign included.
const MaxWord = 62

// Format is a format of numbers. Fixed point is Qm.n: a sign, M bits before the
// binary point and N after it, 1 + M + N in all, with the range
//
//	−2^M … 2^M − 2^−N
//
// M and N are 0 for floating point.
type Format struct {
	Number Number
	M, N   int
}

// Fixed returns Qm.n.
func Fixed(m, n int) Format { return Format{FixedPoint, m, n} }

// Float32 returns the format of IEEE 754 binary32.
func Float32() Format { return Format{Number: Binary32} }

// Float64 returns the format of IEEE 754 binary64.
func Float64() Format { return Format{Number: Binary64} }

// String returns Qm.n, float32 or float64.
func (f Format) String() string {
	if f.Number == FixedPoint {
		return fmt.Sprintf("Q%d.%d", f.M, f.N)
	}
	return f.Number.String()
}

// Word returns the length of a word in bits.
func (f Format) Word() int {
	switch f.Number {
	case Binary32:
		return 32
	case Binary64:
		return 64
	}
	return 1 + f.M + f.N
}

// Step returns the distance of two neighbouring numbers of fixed point, 2^−N, and
// 0 for floating point, where it goes with the number.
func (f Format) Step() float64 {
	if f.Number != FixedPoint {
		return 0
	}
	return math.Ldexp(1, -f.N)
}

// Limit returns the magnitude of the most negative number, 2^M, and +Inf for
// floating point.
func (f Format) Limit() float64 {
	if f.Number != FixedPoint {
		return math.Inf(1)
	}
	return math.Ldexp(1, f.M)
}

// Validate reports a format that is none.
func (f Format) Validate() error {
	switch f.Number {
	case Binary32, Binary64:
		if f.M != 0 || f.N != 0 {
			return fmt.Errorf("dsp: format %v has m = %d and n = %d, want 0 and 0 for floating point", f, f.M, f.N)
		}
	case FixedPoint:
		if f.M < 0 || f.N < 0 || f.M > MaxWord || f.N > MaxWord || f.Word() < 2 || f.Word() > MaxWord {
			return fmt.Errorf("dsp: format Q%d.%d has words of %d bits with the sign, want m and n of at least 0 and 2 to %d bits", f.M, f.N, f.Word(), MaxWord)
		}
	default:
		return fmt.Errorf("dsp: format has the number %v, want fixed point, float32 or float64", f.Number)
	}
	return nil
}

// span returns the least and the largest word.
func (f Format) span() (lo, hi int64) {
	hi = int64(1)<<(f.Word()-1) - 1
	return -hi - 1, hi
}

// Rounding is what is done with the bits of an accumulator below the signal's.
type Rounding int

// The roundings of fixed point. Floating point rounds to the nearest, half to even.
const (
	HalfUp     Rounding = iota // to the nearest, a half towards +∞: add half a step and truncate
	HalfEven                   // to the nearest, a half to the even word
	Floor                      // truncation of two's complement, towards −∞
	TowardZero                 // truncation of the magnitude
)

// String names the rounding.
func (r Rounding) String() string {
	switch r {
	case HalfUp:
		return "nearest, half up"
	case HalfEven:
		return "nearest, half to even"
	case Floor:
		return "truncation towards −∞"
	case TowardZero:
		return "truncation towards 0"
	}
	return fmt.Sprintf("Rounding(%d)", int(r))
}

// moments returns mean and variance of the error of a rounding in steps, and its
// largest magnitude: uniform over half a step on either side, over one step below,
// or over one step towards zero, which goes with the sign of the signal and has
// no mean. (Oppenheim and Schafer; the error of truncation towards zero is not
// independent of the signal, and white only in the mean.)
func (r Rounding) moments() (mean, variance, most float64) {
	switch r {
	case Floor:
		return -0.5, 1. / 12, 1
	case TowardZero:
		return 0, 1. / 3, 1
	}
	return 0, 1. / 12, 0.5
}

// Overflow is what is done with a number beyond the signal's format.
type Overflow int

// The overflows.
const (
	Saturate Overflow = iota // the nearest number that the format has
	Wrap                     // modulo 2^(M+1), as two's complement does by itself: jumps of full scale, which can destroy a driver and hurt ears
)

// String names the overflow.
func (o Overflow) String() string {
	switch o {
	case Saturate:
		return "saturation"
	case Wrap:
		return "wrap-around"
	}
	return fmt.Sprintf("Overflow(%d)", int(o))
}

// MaxAccumulator is the widest accumulator in bits.
const MaxAccumulator = 128

// MaxExponent is the largest Arithmetic.Exponent.
const MaxExponent = 30

// Arithmetic is what a processor computes with.
type Arithmetic struct {
	// Signal is the format of samples and states; Coefficient that of coefficients.
	// Both are fixed point, or both the same floating point.
	Signal, Coefficient Format
	// Accumulator is the width of the sums in bits, up to MaxAccumulator; above 64
	// they are run in two words. Floating point has 0: a sum is rounded as it goes.
	Accumulator int
	Rounding    Rounding
	Overflow    Overflow
	// Exponent is by how many bits a coefficient's binary point may be moved from
	// where Coefficient has it, either way, its product being shifted in the
	// accumulator: 1 lets |a1| < 2 be held in Q0.n, more keep the relative precision
	// of small coefficients. 0 where the processor has no such shift.
	Exponent int
}

// Validate reports an arithmetic that is none.
func (a Arithmetic) Validate() error {
	if err := a.Signal.Validate(); err != nil {
		return fmt.Errorf("%w (signal)", err)
	}
	if err := a.Coefficient.Validate(); err != nil {
		return fmt.Errorf("%w (coefficients)", err)
	}
	if a.Signal.Number != a.Coefficient.Number {
		return fmt.Errorf("dsp: signal is %v and coefficients are %v, want both fixed point or both the same floating point", a.Signal, a.Coefficient)
	}
	if a.Rounding < HalfUp || a.Rounding > TowardZero {
		return fmt.Errorf("dsp: rounding is %v, want %d to %d", a.Rounding, HalfUp, TowardZero)
	}
	if a.Overflow < Saturate || a.Overflow > Wrap {
		return fmt.Errorf("dsp: overflow is %v, want %d or %d", a.Overflow, Saturate, Wrap)
	}
	if !a.fixed() {
		if a.Accumulator != 0 || a.Exponent != 0 || a.Rounding != HalfUp || a.Overflow != Saturate {
			return fmt.Errorf("dsp: arithmetic in %v states accumulator, exponent, rounding or overflow, which belong to fixed point: want them 0", a.Signal)
		}
		return nil
	}
	if a.Accumulator < a.Signal.Word() || a.Accumulator > MaxAccumulator {
		return fmt.Errorf("dsp: accumulator has %d bits, want %d, as the signal has, to %d", a.Accumulator, a.Signal.Word(), MaxAccumulator)
	}
	if most := min(MaxExponent, (MaxWord-a.Coefficient.Word())/2); a.Exponent < 0 || a.Exponent > most {
		return fmt.Errorf("dsp: exponent of coefficients of %v is %d bits, want 0 to %d", a.Coefficient, a.Exponent, most)
	}
	return nil
}

func (a Arithmetic) fixed() bool { return a.Signal.Number == FixedPoint }

// String states the arithmetic.
func (a Arithmetic) String() string {
	if !a.fixed() {
		return a.Signal.String()
	}
	s := fmt.Sprintf("signal %v, coefficients %v, accumulator %d bits, %v, %v", a.Signal, a.Coefficient, a.Accumulator, a.Rounding, a.Overflow)
	if a.Exponent > 0 {
		s += fmt.Sprintf(", coefficients shifted by up to %d bits", a.Exponent)
	}
	return s
}
