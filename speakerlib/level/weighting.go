package level

import (
	"fmt"
	"math"
)

// Weighting is a frequency weighting of a sound level meter.
type Weighting int

// The weightings of IEC 61672-1:2013, of 1 at 1 kHz.
const (
	Z Weighting = iota // none
	A                  // of the ear at low levels: hum counts little, noise at 1 … 6 kHz fully
	C                  // nearly none within 31.5 Hz … 8 kHz, the −3 dB points
)

// String returns the letter of the weighting.
func (w Weighting) String() string {
	if w < Z || w > C {
		return fmt.Sprintf("Weighting(%d)", int(w))
	}
	return [...]string{"Z", "A", "C"}[w]
}

// The pole frequencies of the weightings in hertz, as the standard derives them (annex E;
// from memory) from f_r = 1000, f_L = 10^1.5, f_H = 10^3.9, f_A = 10^2.45:
//
//	b = (f_r² + f_L²·f_H²/f_r² − D·(f_L² + f_H²))/(1 − D),  D = √½,  c = f_L²·f_H²
//	f₁² = (−b − √(b² − 4c))/2,  f₄² = (−b + √(b² − 4c))/2,  f₂, f₃ = f_A·(3 ∓ √5)/2
const (
	pole1 = 20.598997057568145
	pole2 = 107.65264864304628
	pole3 = 737.8622307362899
	pole4 = 12194.21714799801
)

// Ratio returns the amplitude ratio of the weighting at a frequency in hertz:
//
//	C = C₀·f₄²·f²/((f² + f₁²)(f² + f₄²))
//	A = A₀·f₄²·f⁴/((f² + f₁²)·√(f² + f₂²)·√(f² + f₃²)·(f² + f₄²))
//
// with C₀ and A₀ such that it is 1 at 1 kHz (IEC 61672-1:2013, formulas E.1 and E.6; numbers
// from memory). The formula is the design goal; what the standard prints is it, rounded to a
// tenth of a decibel. A meter of class 1 may be off it by 1 dB and more. It panics if the weighting
// is none of those.
func (w Weighting) Ratio(hz float64) float64 {
	switch w {
	case Z:
		return 1
	case A, C:
	default:
		panic("level: unknown weighting")
	}
	return w.shape(hz*hz) / w.shape(1e6)
}

func (w Weighting) shape(f2 float64) float64 {
	v := f2 / ((f2 + pole1*pole1) * (f2 + pole4*pole4))
	if w == A {
		v *= f2 / math.Sqrt((f2+pole2*pole2)*(f2+pole3*pole3))
	}
	return v
}
