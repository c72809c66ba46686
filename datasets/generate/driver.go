package main

import (
	"math"
	"math/cmplx"
)

// The air of all measurements: 20 °C, 101 325 Pa, 50 % relative humidity.
const (
	rho = 1.199 // kg/m³
	c0  = 343.8 // m/s
)

const tau = 2 * math.Pi

// driver is an electrodynamic driver with what the lumped small-signal model
// leaves out.
type driver struct {
	name                      string
	re, fs, qms, qes, mms, sd float64
	linear, damage            float64 // m peak; damage 0: not given
	coil                      coil
	creep                     float64 // λ of the logarithmic creep, per decade
	modes                     []mode  // break-up: added to the motion's output
	rollHz, rollQ             float64 // above it the diaphragm no longer follows as a whole
	rim                       mode    // the surround's own resonance, Ω in the impedance
	depth                     float64 // m: acoustic centre behind the baffle's plane
}

// mode is a band-pass resonance a·(s/ω₀Q)/(1+s/ω₀Q+(s/ω₀)²), worth a at f.
type mode struct{ hz, q, a float64 }

func (m mode) at(f float64) complex128 {
	if m.hz == 0 {
		return 0
	}
	x := complex(0, f/m.hz)
	y := x / complex(m.q, 0)
	return complex(m.a, 0) * y / (1 + y + x*x)
}

// coil is the blocked impedance of a voice coil beyond its resistance at direct
// current: an inductance in series with a ladder of two fractional elements
// K(jω)ⁿ, each with an inductance across it, so that it becomes inductive at low
// frequencies and lossy at high ones. The shape is scaled so that Im Z/ω is
// henry at the stated frequency.
type coil struct {
	henry, at float64 // the effective inductance and where it holds
	lead      float64 // share of the plain inductance
	shape     [2]fractional
}

type fractional struct {
	n      float64 // exponent
	corner float64 // Hz where |K(jω)ⁿ| equals the reactance of the inductance across it
	share  float64 // inductance across it, as a share
}

func (e fractional) per(f float64) complex128 {
	jw := complex(0, tau*f)
	l := jw * complex(e.share, 0)
	wc := tau * e.corner
	k := complex(e.share*wc/math.Pow(wc, e.n), 0) * cmplx.Pow(jw, complex(e.n, 0))
	return l * k / (l + k)
}

func (c coil) unscaled(f float64) complex128 {
	z := complex(0, tau*f*c.lead)
	for _, e := range c.shape {
		z += e.per(f)
	}
	return z
}

func (c coil) impedance(f float64) complex128 {
	scale := c.henry * tau * c.at / imag(c.unscaled(c.at))
	return c.unscaled(f) * complex(scale, 0)
}

func (d driver) bl() float64 { return math.Sqrt(tau * d.fs * d.mms * d.re / d.qes) }

// stiffness is the suspension's, K₀/(1−λ·log10(jf/Fs)): compliance that grows
// with time (logarithmic creep, after Knudsen and Jensen, J. Audio Eng. Soc. 41,
// 1993). K₀ is such that the real part at Fs resonates with Mms there.
func (d driver) stiffness(f float64) complex128 {
	form := func(f float64) complex128 {
		return 1 / (1 - complex(d.creep/math.Ln10, 0)*cmplx.Log(complex(0, f/d.fs)))
	}
	ws := tau * d.fs
	return form(f) * complex(ws*ws*d.mms/real(form(d.fs)), 0)
}

// rms is the viscous resistance that together with the loss of the creep gives
// Qms at Fs.
func (d driver) rms() float64 {
	ws := tau * d.fs
	return ws*d.mms/d.qms - imag(d.stiffness(d.fs))/ws
}

// mechanical is the mechanical impedance with some mass added, in kg/s.
func (d driver) mechanical(f, added float64) complex128 {
	jw := complex(0, tau*f)
	return jw*complex(d.mms+added, 0) + complex(d.rms(), 0) + d.stiffness(f)/jw
}

// blocked is the electrical impedance of the held coil.
func (d driver) blocked(f float64) complex128 {
	return complex(d.re, 0) + d.coil.impedance(f) + d.rim.at(f)
}

// impedance is the electrical impedance with some mass added and the mechanical
// impedance that the enclosure adds.
func (d driver) impedance(f, added float64, load complex128) complex128 {
	return d.blocked(f) + complex(d.bl()*d.bl(), 0)/(d.mechanical(f, added)+load)
}

// velocity is the velocity of the diaphragm in m/s per volt.
func (d driver) velocity(f float64, load complex128) complex128 {
	bl := d.bl()
	return complex(bl, 0) / (d.blocked(f)*(d.mechanical(f, 0)+load) + complex(bl*bl, 0))
}

// breakup is what the diaphragm radiates on its axis, relative to a piston that
// moves like the coil.
func (d driver) breakup(f float64) complex128 {
	x := complex(0, f/d.rollHz)
	h := 1 / (1 + x/complex(d.rollQ, 0) + x*x)
	for _, m := range d.modes {
		h += m.at(f)
	}
	return h
}
