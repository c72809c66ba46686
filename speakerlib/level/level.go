// Package level is the one place of decibels.
//
// Everywhere else in the library a gain is a ratio, a pressure is in pascal and
// a power is in watts. Decibels are a format for people: they are made here,
// last, and taken in here, first.
package level

import "math"

// Reference is the reference sound pressure, 20 µPa rms (ISO 1683, IEC 61672-1).
const Reference = 20e-6

// dbPerNeper is 20/ln 10: an amplitude ratio of e in decibels.
const dbPerNeper = 20 / math.Ln10

// DB returns the level of an amplitude ratio, 20·log10(ratio), in decibels.
// DB(0) is −Inf, and a negative ratio gives NaN.
func DB(ratio float64) float64 { return dbPerNeper * math.Log(ratio) }

// Ratio returns the amplitude ratio of a level in decibels, 10^(db/20): the
// inverse of [DB].
func Ratio(db float64) float64 { return math.Exp(db / dbPerNeper) }

// PowerDB returns the level of a power ratio, 10·log10(ratio), in decibels.
func PowerDB(ratio float64) float64 { return dbPerNeper / 2 * math.Log(ratio) }

// PowerRatio returns the power ratio of a level in decibels, 10^(db/10): the
// inverse of [PowerDB].
func PowerRatio(db float64) float64 { return math.Exp(2 * db / dbPerNeper) }

// SPL returns the sound pressure level in decibels re 20 µPa of an rms sound
// pressure in pascal.
func SPL(rms float64) float64 { return DB(rms / Reference) }

// Pascal returns the rms sound pressure in pascal of a sound pressure level in
// decibels re 20 µPa: the inverse of [SPL].
func Pascal(spl float64) float64 { return Reference * Ratio(spl) }

// OfComplex writes the levels of the magnitudes |z| into dst, in decibels: nil
// allocates, and another length than that of z panics.
func OfComplex(dst []float64, z []complex128) []float64 {
	if dst == nil {
		dst = make([]float64, len(z))
	}
	if len(dst) != len(z) {
		panic("level: dst and z differ in length")
	}
	for i, v := range z {
		dst[i] = DB(math.Hypot(real(v), imag(v)))
	}
	return dst
}
