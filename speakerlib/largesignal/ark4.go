package largesignal

import "math"

// stages of ARK4(3)6L[2]SA (C. A. Kennedy and M. H. Carpenter, "Additive Runge–Kutta
// schemes for convection–diffusion–reaction equations", Appl. Numer. Math. 44, 2003;
// coefficients from memory, their order conditions are a test). The implicit half is
// stiffly accurate and L-stable; both have the same weights.
const stages = 6

// implicit is the tableau for the coil, explicit that for cone and air.
var (
	implicit = [stages][stages]float64{
		{},
		{1. / 4, 1. / 4},
		{8611. / 62500, -1743. / 31250, 1. / 4},
		{5012029. / 34652500, -654441. / 2922500, 174375. / 388108, 1. / 4},
		{15267082809. / 155376265600, -71443401. / 120774400, 730878875. / 902184768, 2285395. / 8070912, 1. / 4},
		{82889. / 524892, 0, 15625. / 83664, 69875. / 102672, -2260. / 8211, 1. / 4},
	}
	explicit = [stages][stages]float64{
		{},
		{1. / 2},
		{13861. / 62500, 6889. / 62500},
		{-116923316275. / 2393684061468, -2731218467317. / 15368042101831, 9408046702089. / 11113171139209},
		{-451086348788. / 2902428689909, -2682348792572. / 7519795681897, 12662868775082. / 11960479115383, 3355817975965. / 11060851509271},
		{647845179188. / 3216320057751, 73281519250. / 8382639484533, 552539513391. / 3454668386233, 3354512671639. / 8306763924573, 4040. / 17871},
	}
	weights = implicit[stages-1]
	nodes   = [stages]float64{0, 1. / 2, 83. / 250, 31. / 50, 17. / 20, 1}
	// between holds, for each node, the weights of six samples, of which the step is
	// from the third to the fourth.
	between = lagrange()
)

const diagonal = 1. / 4

func lagrange() (w [stages][6]float64) {
	for k, c := range nodes {
		for j := range 6 {
			w[k][j] = 1
			for n := range 6 {
				if n != j {
					w[k][j] *= (c + 2 - float64(n)) / float64(j-n)
				}
			}
		}
	}
	return w
}

// additive is the step of ARK4, with the first slope known: flux and eddy currents implicit, where they are stiff,
// cone and air explicit. At each stage the coil is linear in its current (with Le(i)
// nearly so), because the cone's place is known from the stages before.
func (r *Run) additive(drive []float64, volts, held float64) {
	g := diagonal * r.h
	f, q := &r.slopes, &r.places
	w := (*[6]float64)(drive)
	var flux, e0, e1 float64
	sprung := r.m.fast.spring != 0
	// The place of a stage needs the speeds of those before it only, so that it is made
	// ready while the one before is solved.
	r.ready(&q[1], r.s.x+r.explicit[1][0]*f[0].x)
	for k := 1; k < stages; k++ {
		e, a, b := &r.explicit[k], &r.implicit[k], &between[k]
		volt := w[3]
		if k < stages-1 {
			volt = (w[0]*b[0] + w[1]*b[1] + w[2]*b[2]) + (w[3]*b[3] + w[4]*b[4] + w[5]*b[5])
		}
		if math.Abs(volt) > volts {
			volt = clip(volt, volts)
		}
		// every stage sums over the first slope and those between
		d, he, ha := &f[0], e[0], a[0]
		v, p, u, y := r.s.v+he*d.v, r.s.p+he*d.p, r.s.u+he*d.u, r.s.y
		flux, e0, e1 = r.s.flux+ha*d.flux, r.s.eddy[0]+ha*d.eddy[0], r.s.eddy[1]+ha*d.eddy[1]
		for j := 1; j < k; j++ {
			d, he, ha = &f[j], e[j], a[j]
			v += he * d.v
			p += he * d.p
			u += he * d.u
			flux += ha * d.flux
			e0 += ha * d.eddy[0]
			e1 += ha * d.eddy[1]
		}
		if sprung { // only a spring asks for the port's place within the step
			for j := range k {
				y += e[j] * f[j].y
			}
		}
		d = &f[k]
		d.x, d.y = v, u
		if k+1 < stages {
			x := r.s.x
			for j := range k + 1 {
				x += r.explicit[k+1][j] * f[j].x
			}
			r.ready(&q[k+1], x)
		}
		d.flux, d.eddy[0], d.eddy[1], d.v, d.p, d.u = r.stage(&q[k], flux, e0, e1, v, p, u, y, volt, held)
	}
	// the weights are the last row of the implicit half: its stage is its result
	s, last := &r.s, &f[stages-1]
	x, v, p, u, y := s.x, s.v, s.p, s.u, s.y
	for k := range f {
		d, w := &f[k], r.implicit[stages-1][k]
		x += w * d.x
		v += w * d.v
		p += w * d.p
		u += w * d.u
		y += w * d.y
	}
	s.flux, s.eddy[0], s.eddy[1] = flux+g*last.flux, e0+g*last.eddy[0], e1+g*last.eddy[1]
	s.x, s.v, s.p, s.u, s.y = x, v, p, u, y
	if held != 0 { // the flux follows the place
		l, _ := r.m.le.at(x)
		s.flux = l * r.m.coil.le * r.m.saturation.flux(held)
	}
}

// ready is what an implicit stage needs of the place: none of it waits for the current.
type ready struct {
	bl, spring float64 // N/A; Kms(x)·x, N
	l, pull    float64 // Le(x), H, and its slope, H/m
	resistance float64 // all that the stage's current sees, Ω
	over       float64 // 1/(Le(x) + g·resistance)
	r0, r1     float64 // the ladder's resistances, less their decay in the stage
	w0, w1     float64 // force over the ladder's fluxes squared
}

func (r *Run) ready(o *ready, x float64) {
	q := r.m.place(x)
	c, g := &r.m.coil, diagonal*r.h
	o.bl, o.spring, o.l, o.pull = q.bl, q.k*x, q.l, q.dl*c.le
	o.r0, o.r1 = c.r[0]*r.keep[0]*q.le, c.r[1]*r.keep[1]*q.le
	o.resistance = r.resistance + (o.r0 + o.r1)
	square, total := q.le*q.le, q.l+g*o.resistance
	inverse := 1 / (square * total)
	half := 0.5 * q.dl * total * inverse
	o.over, o.w0, o.w1 = square*inverse, half*c.inverse[0], half*c.inverse[1]
}

// stage solves an implicit stage: flux and eddies come in without their own share
// g·d, g = h/4, and all derivatives go out.
//
//	λ = λ* + g·(u − R·i − Bl·v − Σ dλₖ/dt),  λ = L(x)·j,  i = i(j)
//	λₖ = λₖ* + g·(Rₖ(x)·i − Rₖ/Lₖ·λₖ)
func (r *Run) stage(q *ready, flux, e0, e1, v, p, u, y, volts, held float64) (dflux, d0, d1, dv, dp, du float64) {
	m := r.m
	f := &m.fast
	g, r0, r1 := diagonal*r.h, q.r0, q.r1
	t0, t1 := r.decay[0]*e0, r.decay[1]*e1
	have := volts + (t0 + t1)
	flow := f.sd*v + u
	p = (p - f.absorb*flow) * f.share
	rest := f.lift*p - f.rms*v - q.spring*f.accelerance
	dp = -(flow + f.leak*p) * f.yield
	du = (p - (f.rp+f.jet*math.Abs(u))*u - f.spring*y) * f.inertance

	j := (flux+g*have)*q.over - (g*q.bl*q.over)*v
	i, e := j, j*j/2
	switch {
	case held != 0:
		i = held
		j = m.saturation.flux(i)
		e = m.saturation.energy(j)
	case m.saturation.known:
		// from where the stage before has led
		a, b := flux+g*(have-q.bl*v), g*q.resistance
		j, i = m.saturation.solve(a/(q.l+b*r.gamma), a, q.l, b)
		if j != 0 {
			r.gamma = i / j
		}
		e = m.saturation.energy(j)
	}
	dflux = have - q.bl*v - q.resistance*i
	d0, d1 = r0*i-t0, r1*i-t1
	if held != 0 {
		dflux = q.pull * j * v
	}
	e0, e1 = (e0-g*t0)+(g*r0)*i, (e1-g*t1)+(g*r1)*i
	dv = rest + f.accelerance*((q.bl*i+q.pull*(i*j-e))+(e0*e0*q.w0+e1*e1*q.w1))
	return
}
