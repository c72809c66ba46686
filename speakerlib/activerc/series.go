package activerc

import (
	"fmt"
	"math"
	"slices"
)

// Series is a series of preferred values, as many to the decade as its number says.
type Series int

// The series of IEC 60063 that parts of filters are sold in.
const (
	E12 Series = 12
	E24 Series = 24
	E96 Series = 96
)

// String returns the name of the series.
func (s Series) String() string { return fmt.Sprintf("E%d", int(s)) }

// The values of E24 as the standard prints them: those of 2.7 … 4.7 and 8.2 are not 10^(k/24)
// rounded. E12 is every other one.
var e24 = [24]int{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}

// Mantissas returns the values of one decade in ascending order, as whole numbers of two
// digits for E12 and E24 and of three for E96:
//
//	E96: 100·10^(k/96), rounded to a whole number, k = 0 … 95
//
// E12 and E24 are irregular and are printed (IEC 60063:2015, tables 1 and 2; from memory). It
// panics for another series.
func (s Series) Mantissas() []int {
	switch s {
	case E12:
		m := make([]int, 0, 12)
		for k := 0; k < 24; k += 2 {
			m = append(m, e24[k])
		}
		return m
	case E24:
		return slices.Clone(e24[:])
	case E96:
		m := make([]int, 96)
		for k := range m {
			m[k] = int(math.Round(100 * math.Exp(math.Ln10*float64(k)/96)))
		}
		return m
	}
	panic("activerc: no such series of preferred values")
}

// Range is what values a part may have: those of a series from Lo to Hi, both included, in
// ohm or farad. Its zero value stands for the default.
type Range struct {
	Series Series
	Lo, Hi float64
}

// The ranges that stand for a zero [Range]. Below 1 kΩ amplifiers labour, above 100 kΩ
// resistors hiss and boards leak; below 100 pF the board's own capacitance counts, above
// 470 nF film capacitors are large (common practice, no source).
var (
	defaultR = Range{E96, 1e3, 100e3}
	defaultC = Range{E12, 100e-12, 470e-9}
)

// Values returns the values of the range in ascending order.
func (r Range) Values() ([]float64, error) {
	if r.Series != E12 && r.Series != E24 && r.Series != E96 {
		return nil, fmt.Errorf("activerc: series is E%d, want E12, E24 or E96", int(r.Series))
	}
	if !(r.Lo >= 1e-15 && r.Hi >= r.Lo && r.Hi <= 1e15) {
		return nil, fmt.Errorf("activerc: range of values is %g … %g, want two in ascending order within 1e-15 … 1e15", r.Lo, r.Hi)
	}
	const slack = 1e-9
	digits := 1
	if r.Series == E96 {
		digits = 2
	}
	var v []float64
	for e := int(math.Floor(math.Log(r.Lo)/math.Ln10)) - 1; ; e++ {
		for _, m := range r.Series.Mantissas() {
			x := decimal(m, e-digits)
			if x > r.Hi*(1+slack) {
				if len(v) == 0 {
					return nil, fmt.Errorf("activerc: no value of %v lies within %g … %g", r.Series, r.Lo, r.Hi)
				}
				return v, nil
			}
			if x >= r.Lo*(1-slack) {
				v = append(v, x)
			}
		}
	}
}

// decimal returns m·10^e as the nearest float64, so that 4.7 nF is what 4.7e-9 is.
func decimal(m, e int) float64 {
	p := 1.0
	for k := e; k != 0; {
		p *= 10
		if k > 0 {
			k--
		} else {
			k++
		}
	}
	if e < 0 {
		return float64(m) / p
	}
	return float64(m) * p
}

// Nearest returns the value of the range whose ratio to x is nearest to 1.
func (r Range) Nearest(x float64) (float64, error) {
	if !(x > 0) || math.IsInf(x, 0) {
		return 0, fmt.Errorf("activerc: value is %g, want a finite one > 0", x)
	}
	v, err := r.Values()
	if err != nil {
		return 0, err
	}
	return v[nearest(v, x)], nil
}

// nearest returns the index of the value of an ascending list whose ratio to x is nearest to 1.
func nearest(v []float64, x float64) int {
	i, _ := slices.BinarySearch(v, x)
	switch {
	case i == 0:
		return 0
	case i == len(v):
		return len(v) - 1
	case x*x < v[i-1]*v[i]:
		return i - 1
	}
	return i
}
