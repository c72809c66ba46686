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
	b, _ := m.bl.at(x)
	k, _ := m.kms.at(x)
	q.bl, q.k = b*m.driver.Bl, k/m.driver.Cms
	q.le, q.dl = m.le.at(x)
	q.l = q.le * m.coil.le
	return q
}

// push returns the force of the coil with flux λ = L(x)·j and current i: Bl·i and that
// of the stored energy, −∂W/∂x at constant flux,
//
//	L'(x)·(i·j − ∫i dj) + Σ ½·λₖ²·L'ₖ/Lₖ²
//
// which without saturation is ½·i²·L' + Σ ½·iₖ²·L'ₖ.
func (m *Model) push(q *place, i, j float64, eddy *[2]float64) float64 {
	f := q.bl * i
	if q.dl != 0 {
		f += m.coil.le * q.dl * (i*j - m.saturation.energy(j))
		for k := range m.coil.n {
			f += eddy[k] * eddy[k] * q.dl / (2 * m.coil.l[k] * q.le * q.le)
		}
	}
	return f
}

// move writes the derivatives of the mechanical and acoustic part into d.
//
//	Mms·dv/dt = force − Kms(x)·x − Rms·v + Sd·p′
//	Cab·dp/dt = −Sd·v − U − p′/Ral
//	Map·dU/dt = p′ − Rap·U − K·ρ/(2S²)·|U|·U − y/Cap
//
// with p′, the pressure at cone and port: that on the compliance and on Rab.
func (m *Model) move(d, s *state, q *place, force float64) {
	b := &m.box
	p := m.pressure(s.p, s.v, s.u)
	d.x = s.v
	d.v = (force - q.k*s.x - m.driver.Rms*s.v + m.driver.Sd*p) / m.driver.Mms
	d.p = -(m.driver.Sd*s.v + s.u + b.leak*p) * b.yield
	if b.mass > 0 {
		d.u = (p - (b.rp+b.jet*math.Abs(s.u))*s.u - b.spring*s.y) / b.mass
	}
	d.y = s.u
}

// pressure returns p′ from p, v and U; as it is linear, from their derivatives its own.
func (m *Model) pressure(p, v, u float64) float64 {
	b := &m.box
	if b.yield == 0 {
		return 0
	}
	return (p - b.absorb*(m.driver.Sd*v+u)) / (1 + b.absorb*b.leak)
}

// sound returns the sound pressure at 1 m in half space, ρ/2π·d(Sd·v + U + p′/Ral)/dt.
func (m *Model) sound(d *state) float64 {
	return m.fast.density * (m.driver.Sd*d.v + d.u + m.box.leak*m.pressure(d.p, d.v, d.u))
}
