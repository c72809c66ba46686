package largesignal

import (
	"math"
	"math/cmplx"
)

// Tone is a sine of a source: √2·RMS·sin(2π·Hz·t + Phase).
type Tone struct {
	Hz    float64
	RMS   float64 // V
	Phase float64 // rad
}

// at returns the voltage at t.
func (o Tone) at(t float64) float64 {
	return math.Sqrt2 * o.RMS * math.Sin(2*math.Pi*o.Hz*t+o.Phase)
}

// phasors of the model at rest, for a voltage of e^{jωt}.
type phasors struct {
	flux, x, v, p, u, y complex128
	eddy                [2]complex128
	current, sound      complex128
}

// linear solves the model for small signals, the derivatives at rest included.
func (m *Model) linear(hz, resistance float64) (z phasors) {
	s := complex(0, 2*math.Pi*hz)
	real := func(x float64) complex128 { return complex(x, 0) }
	d, b, c := &m.driver, &m.box, &m.coil
	zc := s * real(c.le)
	for k := range c.n {
		zc += s * real(c.l[k]*c.r[k]) / (real(c.r[k]) + s*real(c.l[k]))
	}
	var load, port complex128
	if b.yield > 0 {
		y := s / (real(b.yield) + s*real(b.absorb))
		load = y + real(b.leak)
		if b.mass > 0 {
			port = 1 / (real(b.rp) + s*real(b.mass) + real(b.spring)/s)
			load += port
		}
		load = 1 / load
	}
	zm := real(d.Rms) + s*real(d.Mms) + 1/(s*real(d.Cms)) + real(d.Sd*d.Sd)*load
	bl := real(d.Bl)
	z.current = 1 / (real(resistance) + zc + bl*bl/zm)
	z.v = bl * z.current / zm
	z.x = z.v / s
	z.flux = real(c.le) * z.current
	for k := range c.n {
		z.eddy[k] = real(c.l[k]*c.r[k]) / (real(c.r[k]) + s*real(c.l[k])) * z.current
	}
	p := -load * real(d.Sd) * z.v
	z.u = port * p
	z.y = z.u / s
	if b.yield > 0 {
		z.p = p + real(b.absorb)*(real(d.Sd)*z.v+z.u+real(b.leak)*p)
	}
	z.sound = real(m.fast.density) * s * (real(d.Sd)*z.v + z.u + real(b.leak)*p)
	return z
}

// settle puts the run where the model at rest would be at t = 0 under the tones.
func (r *Run) settle(tones []Tone) {
	r.s = state{}
	for _, o := range tones {
		z := r.m.linear(o.Hz, r.resistance)
		a := cmplx.Rect(math.Sqrt2*o.RMS, o.Phase)
		at := func(z complex128) float64 { return imag(a * z) }
		r.s.flux += at(z.flux)
		r.s.eddy[0] += at(z.eddy[0])
		r.s.eddy[1] += at(z.eddy[1])
		r.s.x += at(z.x)
		r.s.v += at(z.v)
		r.s.p += at(z.p)
		r.s.u += at(z.u)
		r.s.y += at(z.y)
	}
}
