package digital

import (
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Tunable is a kind of section whose magnitude a fit may vary. Its parameters θ
// are logarithms, so that steps are relative and values stay positive:
//
//	θ = (ln F0, ln Gain, ln Q)  for Peak, LowShelf, HighShelf
//	θ = (ln F0, ln Q)           for Lowpass, Highpass
//
// F0 in hertz, Gain an amplitude ratio (ln Gain in nepers). The formulas hold for
// F0 and frequencies below half the sample rate, which is not checked in the
// loop: a fit bounds F0 there, and [Section].Biquad refuses what is beyond.
type Tunable interface {
	Section
	// Parameters returns the number of parameters, and Names their names in the
	// order of θ.
	Parameters() int
	Names() []string
	// ThetaTo writes the section's own parameters into dst (nil allocates,
	// another length panics) and returns it.
	ThetaTo(dst []float64) []float64
	// With returns the section of the same kind with parameters θ.
	With(theta []float64) Tunable
	// PowerTo multiplies power[i] by |H(fᵢ)|² of the section of the same kind
	// with parameters θ, as designed digitally at the sample rate: exact, warping
	// included. Unless jac is nil it writes ∂ln|H(fᵢ)|/∂θₖ into
	// jac[i·stride+k]. The section's own parameters play no part. It does not
	// allocate.
	PowerTo(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate float64)
}

// LogMagnitudeTo writes Σ ln|H| in nepers of sections with parameters θ (those
// of the first section first) into dst (nil allocates, another length panics)
// and returns it. Unless jac is nil it writes ∂/∂θₖ into jac[i·stride+k]. It
// multiplies powers and takes one logarithm a point: the product must stay
// within the range of float64, as it does for dozens of sections.
func LogMagnitudeTo(dst, jac []float64, stride int, sections []Tunable, theta []float64, g *freq.Grid, sampleRate float64) []float64 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		dst[i] = 1
	}
	at := 0
	for _, s := range sections {
		n := s.Parameters()
		if at+n > len(theta) {
			panic("digital: theta is shorter than the parameters of the sections")
		}
		var sub []float64
		if jac != nil {
			sub = jac[at:]
		}
		s.PowerTo(dst, sub, stride, theta[at:at+n:at+n], g, sampleRate)
		at += n
	}
	if at != len(theta) {
		panic("digital: theta is longer than the parameters of the sections")
	}
	for i, p := range dst {
		dst[i] = 0.5 * math.Log(p)
	}
	return dst
}

// warp returns a = t² and da/d ln F0 with t = tan(π·F0/fs). In all that follows
// the analogue frequency is y² = u/(a·(2−u)), u = 1 − cos Ω, and polynomials are
// multiplied by (a·(2−u))² so that nothing is divided by 2 − u.
func warp(lnF0, sampleRate float64) (a, da float64) {
	w0 := math.Pi * math.Exp(lnF0) / sampleRate // ω0/2
	t := math.Tan(w0)
	return t * t, 2 * t * (1 + t*t) * w0
}

func theta3(dst []float64, f0, gain, q float64) []float64 {
	dst = freq.Dst(dst, 3)
	dst[0], dst[1], dst[2] = math.Log(f0), math.Log(gain), math.Log(q)
	return dst
}

func theta2(dst []float64, f0, q float64) []float64 {
	dst = freq.Dst(dst, 2)
	dst[0], dst[1] = math.Log(f0), math.Log(q)
	return dst
}

// check panics for slices that do not fit; row i of the Jacobian starts at
// i·stride.
func check(power, jac []float64, stride, n int, theta []float64, g *freq.Grid) {
	if len(power) != g.Len() {
		panic("digital: power has not the length of the grid")
	}
	if len(theta) != n {
		panic("digital: theta has not the length that the section wants")
	}
	if jac != nil && (stride < n || len(jac) < (g.Len()-1)*stride+n) {
		panic("digital: the Jacobian does not hold a row for each frequency")
	}
}

// Parameters implements [Tunable].
func (Peak) Parameters() int { return 3 }

// Names implements [Tunable].
func (Peak) Names() []string { return []string{"ln F0", "ln Gain", "ln Q"} }

// ThetaTo implements [Tunable].
func (s Peak) ThetaTo(dst []float64) []float64 { return theta3(dst, s.F0, s.Gain, s.Q) }

// With implements [Tunable].
func (Peak) With(theta []float64) Tunable {
	return Peak{math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2])}
}

// PowerTo implements [Tunable]. With D0 = a(2−u) − u and e = a·u·(2−u),
//
//	|H|² = (D0² + (A/Q)²·e)/(D0² + e/(A·Q)²),  A² = Gain
func (Peak) PowerTo(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate float64) {
	check(power, jac, stride, 3, theta, g)
	a, da := warp(theta[0], sampleRate)
	k, m := math.Exp(theta[1]-2*theta[2]), math.Exp(-theta[1]-2*theta[2])
	u, _ := g.Trig(sampleRate)
	if jac == nil {
		for i, x := range u {
			v := 2 - x
			d0, e := a*v-x, a*x*v
			d0 *= d0
			power[i] *= (d0 + k*e) / (d0 + m*e)
		}
		return
	}
	for i, x := range u {
		v := 2 - x
		d0, xv := a*v-x, x*v
		num, den := d0*d0+k*a*xv, d0*d0+m*a*xv
		r := 1 / (num * den)
		power[i] *= num * num * r
		rn, rd := den*r, num*r // 1/num, 1/den
		kn, md := k*a*xv*rn, m*a*xv*rd
		row := jac[i*stride : i*stride+3]
		row[0] = da * 0.5 * ((2*d0*v+k*xv)*rn - (2*d0*v+m*xv)*rd)
		row[1] = 0.5 * (kn + md)
		row[2] = md - kn
	}
}

// Parameters implements [Tunable].
func (LowShelf) Parameters() int { return 3 }

// Names implements [Tunable].
func (LowShelf) Names() []string { return []string{"ln F0", "ln Gain", "ln Q"} }

// ThetaTo implements [Tunable].
func (s LowShelf) ThetaTo(dst []float64) []float64 { return theta3(dst, s.F0, s.Gain, s.Q) }

// With implements [Tunable].
func (LowShelf) With(theta []float64) Tunable {
	return LowShelf{math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2])}
}

// PowerTo implements [Tunable]. With n = A·a(2−u) − u, d = a(2−u) − A·u and
// e = a·u·(2−u),
//
//	|H|² = A²·(n² + (A/Q²)·e)/(d² + (A/Q²)·e),  A² = Gain
func (LowShelf) PowerTo(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate float64) {
	check(power, jac, stride, 3, theta, g)
	shelf(power, jac, stride, theta, g, sampleRate, 1)
}

// Parameters implements [Tunable].
func (HighShelf) Parameters() int { return 3 }

// Names implements [Tunable].
func (HighShelf) Names() []string { return []string{"ln F0", "ln Gain", "ln Q"} }

// ThetaTo implements [Tunable].
func (s HighShelf) ThetaTo(dst []float64) []float64 { return theta3(dst, s.F0, s.Gain, s.Q) }

// With implements [Tunable].
func (HighShelf) With(theta []float64) Tunable {
	return HighShelf{math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2])}
}

// PowerTo implements [Tunable]. A high shelf is A² times the inverse of the low
// shelf of the same parameters.
func (HighShelf) PowerTo(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate float64) {
	check(power, jac, stride, 3, theta, g)
	shelf(power, jac, stride, theta, g, sampleRate, -1)
}

// shelf is ln|H| = ln A + sign·½·ln(N/D) with N and D of the low shelf.
func shelf(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate, sign float64) {
	aw, da := warp(theta[0], sampleRate)
	A := math.Exp(theta[1] / 2)
	q := math.Exp(theta[1]/2 - 2*theta[2])
	u, _ := g.Trig(sampleRate)
	for i, x := range u {
		v := 2 - x
		n, d, e := A*aw*v-x, aw*v-A*x, q*aw*x*v
		num, den := n*n+e, d*d+e
		r := 1 / (num * den)
		if sign > 0 {
			power[i] *= A * A * num * num * r
		} else {
			power[i] *= A * A * den * den * r
		}
		if jac == nil {
			continue
		}
		rn, rd := den*r, num*r
		row := jac[i*stride : i*stride+3]
		row[0] = sign * da * 0.5 * ((2*n*A*v+q*x*v)*rn - (2*d*v+q*x*v)*rd)
		row[1] = 0.5 * (1 + sign*0.5*((2*n*A*aw*v+e)*rn-(e-2*d*A*x)*rd))
		row[2] = -sign * e * (rn - rd)
	}
}

// Parameters implements [Tunable].
func (Lowpass) Parameters() int { return 2 }

// Names implements [Tunable].
func (Lowpass) Names() []string { return []string{"ln F0", "ln Q"} }

// ThetaTo implements [Tunable].
func (s Lowpass) ThetaTo(dst []float64) []float64 { return theta2(dst, s.F0, s.Q) }

// With implements [Tunable].
func (Lowpass) With(theta []float64) Tunable {
	return Lowpass{math.Exp(theta[0]), math.Exp(theta[1])}
}

// PowerTo implements [Tunable]: |H|² = (a(2−u))²/((a(2−u) − u)² + e/Q²).
func (Lowpass) PowerTo(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate float64) {
	check(power, jac, stride, 2, theta, g)
	pass(power, jac, stride, theta, g, sampleRate, false)
}

// Parameters implements [Tunable].
func (Highpass) Parameters() int { return 2 }

// Names implements [Tunable].
func (Highpass) Names() []string { return []string{"ln F0", "ln Q"} }

// ThetaTo implements [Tunable].
func (s Highpass) ThetaTo(dst []float64) []float64 { return theta2(dst, s.F0, s.Q) }

// With implements [Tunable].
func (Highpass) With(theta []float64) Tunable {
	return Highpass{math.Exp(theta[0]), math.Exp(theta[1])}
}

// PowerTo implements [Tunable]: |H|² = u²/((a(2−u) − u)² + e/Q²).
func (Highpass) PowerTo(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate float64) {
	check(power, jac, stride, 2, theta, g)
	pass(power, jac, stride, theta, g, sampleRate, true)
}

// pass is the low-pass, or the high-pass, whose denominators are the same.
func pass(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate float64, high bool) {
	a, da := warp(theta[0], sampleRate)
	m := math.Exp(-2 * theta[1])
	slope := 1 / a // of ln √numerator, by a
	if high {
		slope = 0
	}
	u, _ := g.Trig(sampleRate)
	for i, x := range u {
		v := 2 - x
		d0, xv := a*v-x, x*v
		r := 1 / (d0*d0 + m*a*xv)
		num := x
		if !high {
			num = a * v
		}
		power[i] *= num * num * r
		if jac != nil {
			jac[i*stride] = da * (slope - 0.5*(2*d0*v+m*xv)*r)
			jac[i*stride+1] = m * a * xv * r
		}
	}
}
