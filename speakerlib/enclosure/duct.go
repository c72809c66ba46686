package enclosure

import (
	"math"
	"math/cmplx"
)

// What a narrow duct needs of air beyond density and speed of sound: handbook values
// of dry air at 20 °C. Ten kelvin change the viscosity by 2.5 %, and the losses of a
// duct by half of that.
const (
	viscosity = 1.81e-5 // Pa·s
	prandtl   = 0.71    // viscosity over conduction of heat
)

// duct is a uniform duct with the losses of viscosity and heat at its wall, for all
// widths (C. Zwikker and C. W. Kosten, Sound Absorbing Materials, 1949; that it is
// the narrow form of Kirchhoff's of 1868 for every duct of a loudspeaker is shown by
// M. R. Stinson, J. Acoust. Soc. Am. 89, 1991; both from memory). With
// k = √(−jωρ/η) and the mean F of what the wall takes from the profile,
//
//	series impedance per metre  jωρ/S · 1/(1−F(k))
//	shunt admittance per metre  jωS/ρc² · (1 + (γ−1)·F(k·√Pr))
//	F = 2·J₁(ka)/(ka·J₀(ka))  round, radius a
//	F = tan(kb)/(kb)  between planes 2b apart
//
// It is for smooth walls and small signals.
type duct struct {
	width float64 // a or b, m
	slot  bool
}

// line returns series impedance and shunt admittance per metre of a duct of area s.
func (d duct) line(hz, density, stiffness, s float64) (z, y complex128) {
	w := 2 * math.Pi * hz
	x := d.width * math.Sqrt(w*density/(2*viscosity))
	k := complex(x, -x) // √(−j)·√2 = 1 − j
	fv, ft := d.profile(k), d.profile(k*complex(math.Sqrt(prandtl), 0))
	z = complex(0, w*density/s) / (1 - fv)
	y = complex(0, w*s/stiffness) * (1 + complex(heatRatio-1, 0)*ft)
	return z, y
}

func (d duct) profile(x complex128) complex128 {
	if d.slot {
		e := cmplx.Exp(complex(0, -2) * x) // small: x lies below the real axis
		return complex(0, -1) * (1 - e) / ((1 + e) * x)
	}
	return 2 * besselRatio(x) / x
}

// besselRatio returns J₁(x)/J₀(x) on the ray arg x = −π/4: by Gauss's continued
// fraction up to |x| = 20, by Hankel's asymptotic series beyond (M. Abramowitz and
// I. A. Stegun, Handbook of Mathematical Functions, 1964, 9.1.73 and 9.2.7 to 9.2.10).
func besselRatio(x complex128) complex128 {
	size := cmplx.Abs(x)
	if size <= 20 {
		q := x * x / 4
		f := complex128(1)
		for n := 12 + int(1.5*size); n >= 1; n-- {
			f = 1 - q/(complex(float64(n*(n+1)), 0)*f)
		}
		return x / (2 * f)
	}
	num, den := complex128(1), complex128(1)
	a, b, step := complex128(1), complex128(1), complex(0, 1)/(8*x)
	for k := 1; k <= 12; k++ {
		odd := float64((2*k - 1) * (2*k - 1))
		a *= step * complex((4-odd)/float64(k), 0)
		b *= step * complex(-odd/float64(k), 0)
		num, den = num+a, den+b
		if math.Abs(real(b))+math.Abs(imag(b)) < 1e-17 {
			break
		}
	}
	return complex(0, -1) * num / den
}
