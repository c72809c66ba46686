package largesignal

import "math"

// state is what changes with time.
type state struct {
	flux float64    // λ of Le, V·s
	eddy [2]float64 // fluxes of the ladder's inductances, V·s
	x, v float64    // cone, m and m/s, outward
	p    float64    // pressure on the compliance of the box, Pa
	u    float64    // volume velocity of the port, outward, m³/s
	y    float64    // its integral, m³
}

// place is what follows from the displacement.
type place struct {
	bl     float64 // N/A
	k      float64 // N/m
	le, dl float64 // Le(x)/Le(0) and its slope, 1/m
	l      float64 // Le(x), H
}

func (m *Model) place(x float64) (q place) {
	if x < m.lo || x > m.hi {
		return m.beyond(x)
	}
	f := &m.fast
	x2 := x * x
	x4 := x2 * x2
	q.bl = (f.bl[0] + f.bl[1]*x) + x2*(f.bl[2]+f.bl[3]*x) + x4*((f.bl[4]+f.bl[5]*x)+f.bl[6]*x2)
	q.k = (f.k[0] + f.k[1]*x) + x2*(f.k[2]+f.k[3]*x) + x4*((f.k[4]+f.k[5]*x)+f.k[6]*x2)
	l, d := &m.le.c, &m.le.d
	q.le = (l[0] + l[1]*x) + x2*(l[2]+l[3]*x) + x4*((l[4]+l[5]*x)+l[6]*x2)
	q.dl = (d[0] + d[1]*x) + x2*(d[2]+d[3]*x) + x4*(d[4]+d[5]*x)
	q.l = q.le * m.coil.le
	return q
}

// beyond is place where some characteristic is not measured.
func (m *Model) beyond(x float64) (q place) {
	b, _ := m.bl.at(x)
	k, _ := m.kms.at(x)
	q.bl, q.k = b*m.driver.Bl, k/m.driver.Cms
	q.le, q.dl = m.le.at(x)
	q.l = q.le * m.coil.le
	return q
}

// move writes the derivatives of the mechanical and acoustic part into d.
//
//	Mms·dv/dt = force − Kms(x)·x − Rms·v + Sd·p′
//	Cab·dp/dt = −Sd·v − U − p′/Ral
//	Map·dU/dt = p′ − Rap·U − K·ρ/(2S²)·|U|·U − y/Cap
//
// with p′, the pressure at cone and port: that on the compliance and on Rab.
func (m *Model) move(d, s *state, q *place, force float64) {
	f := &m.fast
	p := m.pressure(s.p, s.v, s.u)
	d.x = s.v
	d.v = (force-q.k*s.x)*f.accelerance - f.rms*s.v + f.lift*p
	d.p = -(f.sd*s.v + s.u + f.leak*p) * f.yield
	d.u = (p - (f.rp+f.jet*math.Abs(s.u))*s.u - f.spring*s.y) * f.inertance
	d.y = s.u
}

// pressure returns p′ from p, v and U; as it is linear, from their derivatives its own.
func (m *Model) pressure(p, v, u float64) float64 {
	f := &m.fast
	return (p - f.absorb*(f.sd*v+u)) * f.share
}

// sound returns the sound pressure at 1 m in half space, ρ/2π·d(Sd·v + U + p′/Ral)/dt.
func (m *Model) sound(dv, dp, du float64) float64 {
	f := &m.fast
	return f.density * (f.sd*dv + du + f.leak*m.pressure(dp, dv, du))
}
