// Package si names the multiples of SI units that a person types.
//
// All fields and arguments of the library are in SI units without prefix. The
// constants here are untyped, so that 15.2*si.Litre is an exact constant
// expression in cubic metres and costs nothing. To print a value in a multiple,
// divide: vb/si.Litre.
package si

import "math"

// Lengths, in metres.
const (
	Metre      = 1.0
	Centimetre = 1e-2
	Millimetre = 1e-3
	Micrometre = 1e-6
)

// Areas, in square metres.
const (
	SquareCentimetre = 1e-4
	SquareMillimetre = 1e-6
)

// Volumes, in cubic metres.
const (
	Litre           = 1e-3
	CubicCentimetre = 1e-6
)

// Masses, in kilograms.
const (
	Kilogram  = 1.0
	Gram      = 1e-3
	Milligram = 1e-6
)

// Times, in seconds.
const (
	Second      = 1.0
	Millisecond = 1e-3
	Microsecond = 1e-6
)

// Frequencies, in hertz.
const (
	Hertz     = 1.0
	Kilohertz = 1e3
	Megahertz = 1e6
)

// Electrical quantities, in ohm, henry, farad, volt, ampere and watt.
const (
	Ohm        = 1.0
	Kiloohm    = 1e3
	Milliohm   = 1e-3
	Henry      = 1.0
	Millihenry = 1e-3
	Microhenry = 1e-6
	Farad      = 1.0
	Microfarad = 1e-6
	Nanofarad  = 1e-9
	Volt       = 1.0
	Millivolt  = 1e-3
	Microvolt  = 1e-6
	Ampere     = 1.0
	Watt       = 1.0
)

// Mechanical compliance, in metres per newton.
const (
	MillimetrePerNewton = 1e-3
)

// Pressures, in pascal.
const (
	Pascal      = 1.0
	Micropascal = 1e-6
	Kilopascal  = 1e3
)

// Angles, in radians.
const (
	Degree = math.Pi / 180
)

// ZeroCelsius is 0 °C in kelvin: T/K = θ/°C + 273.15 (exact, SI Brochure,
// 9th edition, section 2.3.1).
const ZeroCelsius = 273.15
