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

// additive is the step of ARK4: flux and eddy currents implicit, where they are stiff,
// cone and air explicit. At each stage the coil is linear in its current (with Le(i)
// nearly so), because the cone's place is known from the stages before.
func (r *Run) additive(first *state, drive []float64, volts, held float64) {
	m, h := r.m, r.h
	var f [stages]state
	f[0] = *first
	var s state
	for k := 1; k < stages; k++ {
		e, a := &explicit[k], &implicit[k]
		s = r.s
		for j := range k {
			d := &f[j]
			he, ha := h*e[j], h*a[j]
			s.x += he * d.x
			s.v += he * d.v
			s.p += he * d.p
			s.u += he * d.u
			s.y += he * d.y
			s.flux += ha * d.flux
			s.eddy[0] += ha * d.eddy[0]
			s.eddy[1] += ha * d.eddy[1]
		}
		w := &between[k]
		u := w[0]*drive[0] + w[1]*drive[1] + w[2]*drive[2] + w[3]*drive[3] + w[4]*drive[4] + w[5]*drive[5]
		r.coil(&f[k], &s, clip(u, volts), held, h*diagonal, m)
	}
	// the weights are the last row of the implicit half: its stage is its result
	flux, eddy := s.flux, s.eddy
	s = r.s
	for k := range f {
		d, w := &f[k], h*weights[k]
		s.x += w * d.x
		s.v += w * d.v
		s.p += w * d.p
		s.u += w * d.u
		s.y += w * d.y
	}
	s.flux, s.eddy = flux, eddy
	r.s = s
	if held != 0 { // the flux follows the place
		l, _ := m.le.at(s.x)
		r.s.flux = l * m.coil.le * m.saturation.flux(held)
	}
}

// coil solves the implicit stage: flux and eddy of s come in without their share g·d and
// go out with it, and d gets all derivatives.
//
//	λ = λ* + g·(u − R·i − Bl·v − Σ dλₖ/dt),  λ = L(x)·j,  i = i(j)
//	λₖ = λₖ* + g·(Rₖ(x)·i − Rₖ/Lₖ·λₖ)
func (r *Run) coil(d, s *state, volts, held, g float64, m *Model) {
	q := m.place(s.x)
	from, resistance := volts-q.bl*s.v, r.resistance
	var keep [2]float64
	for k := range m.coil.n {
		rate := m.coil.r[k] / m.coil.l[k]
		keep[k] = 1 / (1 + g*rate)
		from += rate * s.eddy[k] * keep[k]
		resistance += m.coil.r[k] * q.le * keep[k]
	}
	a, b := s.flux+g*from, g*resistance
	j := a / (q.l + b)
	i := j
	switch {
	case held != 0:
		i = held
		j = m.saturation.flux(i)
	case m.saturation.known:
		for range 20 {
			i = m.saturation.current(j)
			step := (q.l*j + b*i - a) / (q.l + b*m.saturation.slope(j))
			j -= step
			if math.Abs(step) <= 1e-14*math.Abs(j) {
				break
			}
		}
		i = m.saturation.current(j)
	}
	d.flux = from - resistance*i
	for k := range m.coil.n {
		d.eddy[k] = (m.coil.r[k]*q.le*i - m.coil.r[k]/m.coil.l[k]*s.eddy[k]) * keep[k]
		s.eddy[k] += g * d.eddy[k]
	}
	if held != 0 {
		d.flux = q.dl * m.coil.le * j * s.v
	}
	s.flux = q.l * j
	m.move(d, s, &q, m.push(&q, i, j, &s.eddy))
}
