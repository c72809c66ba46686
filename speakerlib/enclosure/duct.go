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

// asymptotic are the coefficients of I₁(z)/I₀(z) over 1/z: the quotient of Hankel's
// series, whose terms are ratios of integers (M. Abramowitz and I. A. Stegun, Handbook
// of Mathematical Functions, 1964, 9.7.1).
var asymptotic = [...]float64{1, -1. / 2, -1. / 8, -1. / 8, -25. / 128, -13. / 32, -1073. / 1024, -103. / 32,
	-375733. / 32768, -23797. / 512, -55384775. / 262144, -2180461. / 2048, -24713030909. / 4194304, -72763141. / 2048}

// besselRatio returns J₁(x)/J₀(x) on the ray arg x = −π/4 to 1e-12: by Gauss's continued
// fraction up to |x| = 20 (9.1.73 there), by the asymptotic series of −j·I₁/I₀(jx) beyond.
func besselRatio(x complex128) complex128 {
	size := math.Abs(real(x)) * math.Sqrt2
	if size <= 20 {
		q := x * x / 4
		f := complex128(1)
		for n := 12 + int(1.5*size); n >= 1; n-- {
			f = 1 - q/(complex(float64(n*(n+1)), 0)*f)
		}
		return x / (2 * f)
	}
	terms := len(asymptotic)
	if size > 100 {
		terms = 7
	}
	over := complex(-imag(x)/(size*size), -real(x)/(size*size)) // 1/(jx)
	sum := complex(asymptotic[terms-1], 0)
	for k := terms - 2; k >= 0; k-- {
		sum = sum*over + complex(asymptotic[k], 0)
	}
	return complex(imag(sum), -real(sum)) // times −j
}
