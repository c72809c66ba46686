package largesignal

import "math"

// fast holds the constants of the fast path: polynomials with the moving mass divided
// out, absolute.
type fast struct {
	density   float64 // ρ/2π
	bl, l     poly
	push      poly // Bl/Mms
	k         poly // Kms/Mms
	pull      poly // ½·Le′/Mms
	mass, rms float64
	lift      float64 // Sd/Mms
	sd        float64
	absorb    float64
	share     float64 // 1/(1+Rab/Ral)
	leak      float64
	yield     float64
	inertance float64 // 1/Map
	rp, jet   float64
	spring    float64
}

func (m *Model) prepare(density float64) {
	d, b := &m.driver, &m.box
	m.fast = fast{
		density: density / (2 * math.Pi),
		bl:      m.bl.c.scaled(d.Bl), push: m.bl.c.scaled(d.Bl / d.Mms),
		k: m.kms.c.scaled(1 / (d.Cms * d.Mms)), l: m.le.c.scaled(m.coil.le), pull: m.le.d.scaled(m.coil.le / (2 * d.Mms)),
		mass: d.Mms, rms: d.Rms / d.Mms, lift: d.Sd / d.Mms, sd: d.Sd,
		absorb: b.absorb, share: 1 / (1 + b.absorb*b.leak), leak: b.leak, yield: b.yield,
		rp: b.rp, jet: b.jet, spring: b.spring,
	}
	if b.mass > 0 {
		m.fast.inertance = 1 / b.mass
	}
}

// plain reports whether the fast path knows all there is.
func (m *Model) plain() bool { return m.coil.n == 0 && !m.saturation.known }

// slope returns the derivatives of λ, v, p and U.
func (f *fast) slope(flux, x, v, p, u, y, volts, resistance float64) (dflux, dv, dp, du float64) {
	x2 := x * x
	x4 := x2 * x2
	l := (f.l[0] + f.l[1]*x) + x2*(f.l[2]+f.l[3]*x) + x4*((f.l[4]+f.l[5]*x)+f.l[6]*x2)
	i := flux / l
	bl := (f.push[0] + f.push[1]*x) + x2*(f.push[2]+f.push[3]*x) + x4*((f.push[4]+f.push[5]*x)+f.push[6]*x2)
	k := (f.k[0] + f.k[1]*x) + x2*(f.k[2]+f.k[3]*x) + x4*((f.k[4]+f.k[5]*x)+f.k[6]*x2)
	pull := (f.pull[0] + f.pull[1]*x) + x2*(f.pull[2]+f.pull[3]*x) + x4*(f.pull[4]+f.pull[5]*x)
	flow := f.sd*v + u
	p = (p - f.absorb*flow) * f.share
	dflux = volts - resistance*i - bl*f.mass*v
	dv = (bl+pull*i)*i - k*x - f.rms*v + f.lift*p
	dp = -(flow + f.leak*p) * f.yield
	du = (p - (f.rp+f.jet*math.Abs(u))*u - f.spring*y) * f.inertance
	return
}

// fast4 advances by RK4 from the sample at k of the drive as long as the fast path holds,
// and returns how far it came.
func (r *Run) fast4(k, n int) int {
	m, f := r.m, &r.m.fast
	h, h2, h6 := r.h, r.h/2, r.h/6
	resistance, lo, hi := r.resistance, m.lo, m.hi
	flux, x, v, p, u, y := r.s.flux, r.s.x, r.s.v, r.s.p, r.s.u, r.s.y
	most := m.options.Amplifier.Amperes * m.coil.le * m.le.least
	if most == 0 {
		most = math.Inf(1)
	}
	drive, volts := r.drive[:], r.limit()
	for ; k < n; k++ {
		if x < lo || x > hi || math.Abs(flux) > most {
			break
		}
		d := drive[k : k+6 : k+6]
		u0, um, u1 := d[2], middle(d), d[3]
		if math.Abs(u0) > volts || math.Abs(um) > volts || math.Abs(u1) > volts {
			u0, um, u1 = clip(u0, volts), clip(um, volts), clip(u1, volts)
		}
		f1, a1, p1, w1 := f.slope(flux, x, v, p, u, y, u0, resistance)
		o := &r.out[k]
		o.state = state{flux: flux, x: x, v: v, p: p, u: u, y: y}
		o.dv, o.dp, o.du, o.volts = a1, p1, w1, u0
		v2, u2 := v+h2*a1, u+h2*w1
		f2, a2, p2, w2 := f.slope(flux+h2*f1, x+h2*v, v2, p+h2*p1, u2, y+h2*u, um, resistance)
		v3, u3 := v+h2*a2, u+h2*w2
		f3, a3, p3, w3 := f.slope(flux+h2*f2, x+h2*v2, v3, p+h2*p2, u3, y+h2*u2, um, resistance)
		v4, u4 := v+h*a3, u+h*w3
		f4, a4, p4, w4 := f.slope(flux+h*f3, x+h*v3, v4, p+h*p3, u4, y+h*u3, u1, resistance)
		flux += h6 * (f1 + 2*(f2+f3) + f4)
		x += h6 * (v + 2*(v2+v3) + v4)
		y += h6 * (u + 2*(u2+u3) + u4)
		v += h6 * (a1 + 2*(a2+a3) + a4)
		p += h6 * (p1 + 2*(p2+p3) + p4)
		u += h6 * (w1 + 2*(w2+w3) + w4)
	}
	r.s.flux, r.s.x, r.s.v, r.s.p, r.s.u, r.s.y = flux, x, v, p, u, y
	return k
}
