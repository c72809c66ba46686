package largesignal

import "math"

// slope writes the derivative at s into d, and returns the current. A current that is
// held is given in held (0: none).
func (r *Run) slope(d, s *state, volts, held float64) (current float64) {
	m := r.m
	c := &m.coil
	q := m.place(s.x)
	inverse := 1 / (q.le * q.l)
	j := s.flux * q.le * inverse
	i, e := j, j*j/2
	switch {
	case held != 0:
		i = held
		j = m.saturation.flux(i)
		e = m.saturation.energy(j)
	case m.saturation.known:
		i, e = m.saturation.current(j), m.saturation.energy(j)
	}
	through := q.le * i
	e0, e1 := s.eddy[0], s.eddy[1]
	d0, d1 := c.r[0]*through-c.rate[0]*e0, c.r[1]*through-c.rate[1]*e1
	d.eddy[0], d.eddy[1] = d0, d1
	d.flux = volts - r.resistance*i - q.bl*s.v - (d0 + d1)
	if held != 0 {
		d.flux = q.dl * c.le * j * s.v
	}
	// Bl·i and what the stored energy pulls, −∂W/∂x at constant flux:
	// L′(x)·(i·j − ∫i dj) + Σ ½·λₖ²·L′ₖ/Lₖ², without saturation ½·i²·L′ + Σ ½·iₖ²·L′ₖ
	w := 0.5 * q.dl * c.le * inverse
	m.move(d, s, &q, q.bl*i+q.dl*c.le*(i*j-e)+w*(e0*e0*c.inverse[0]+e1*e1*c.inverse[1]))
	return i
}

// add returns s + h·d.
func (s *state) add(h float64, d *state) state {
	return state{
		flux: s.flux + h*d.flux, eddy: [2]float64{s.eddy[0] + h*d.eddy[0], s.eddy[1] + h*d.eddy[1]},
		x: s.x + h*d.x, v: s.v + h*d.v, p: s.p + h*d.p, u: s.u + h*d.u, y: s.y + h*d.y,
	}
}

// step makes one step of any model from the sample at k of the drive, and decides whether
// the amplifier holds its current in the next.
func (r *Run) step(k int) {
	d, volts := r.drive[k:k+6], r.limit()
	u0 := clip(d[2], volts)
	held := r.held * r.m.options.Amplifier.Amperes
	first, o := &r.slopes[0], &r.out[k]
	o.state = r.s
	o.current = r.slope(first, &r.s, u0, held)
	o.sound = r.m.sound(first.v, first.p, first.u)
	o.volts, o.held = u0, held != 0
	if o.held {
		o.volts = r.needed(&r.s, first, held)
	}
	if r.method == RK4 {
		r.classic(first, clip(middle(d), volts), clip(d[3], volts), held)
	} else {
		r.additive(d, volts, held)
	}
	if most := r.m.options.Amplifier.Amperes; most > 0 && (held != 0 || math.Abs(o.current) > 0.8*most) {
		r.hold(clip(d[3], volts))
	}
}

// needed returns the volts that a held current takes.
func (r *Run) needed(s, d *state, held float64) float64 {
	b, _ := r.m.bl.at(s.x)
	return r.resistance*held + b*r.m.driver.Bl*s.v + d.flux + d.eddy[0] + d.eddy[1]
}

// hold begins to hold the current when it is beyond the amplifier's limit, and ends it
// when the voltage that is asked for no longer drives that much.
func (r *Run) hold(volts float64) {
	m, most := r.m, r.m.options.Amplifier.Amperes
	if r.held != 0 {
		var d state
		r.slope(&d, &r.s, volts, r.held*most)
		if r.held*(volts-r.needed(&r.s, &d, r.held*most)) < 0 {
			r.held = 0
		}
		return
	}
	l, _ := m.le.at(r.s.x)
	l *= m.coil.le
	if i := m.saturation.current(r.s.flux / l); math.Abs(i) > most {
		r.held = math.Copysign(1, i)
		r.s.flux = l * m.saturation.flux(r.held*most)
	}
}

// classic is the step of RK4.
func (r *Run) classic(d1 *state, um, u1, held float64) {
	h := r.h
	var d2, d3, d4 state
	s := r.s.add(h/2, d1)
	r.slope(&d2, &s, um, held)
	s = r.s.add(h/2, &d2)
	r.slope(&d3, &s, um, held)
	s = r.s.add(h, &d3)
	r.slope(&d4, &s, u1, held)
	s = r.s.add(h/6, d1)
	s = s.add(h/3, &d2)
	s = s.add(h/3, &d3)
	r.s = s.add(h/6, &d4)
}
