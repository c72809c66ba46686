package digital

import (
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// foldMost is how many factors are folded into one polynomial, and foldLimit how
// much of the precision that may cost: the ratio between the sum of magnitudes
// of the terms and the magnitude of the sum, at worst. 1e4 leaves about 1e-11 of
// relative error, 1e-10 dB.
const (
	foldMost  = 4
	foldLimit = 1e4
)

// product is the numerator or denominator of a cascade: real factors k·Π(c0 − c1·u),
// and groups P(u) + j·sin Ω·Q(u).
type product struct {
	scale  float64
	real   [][2]float64
	groups []folded
}

// folded is P(u) + j·sin Ω·Q(u), with P of degree n and Q of degree n−1.
type folded struct {
	n int
	p [foldMost + 1]float64
	q [foldMost]float64
}

// fold multiplies out the factors as far as precision allows. Factors whose
// imaginary part is exactly 0 (zeros in pairs on the unit circle: high-pass,
// low-pass, notch) stay as they are, since they cost one multiplication and
// would lose precision near their zero.
func fold(factors []linear) product {
	out := product{scale: 1}
	var open []folded // groups that may still take a factor
	var loss []float64
	for _, f := range factors {
		if f.c2 == 0 {
			if f.c1 == 0 {
				out.scale *= f.c0
			} else {
				out.real = append(out.real, [2]float64{f.c0, f.c1})
			}
			continue
		}
		c := f.condition()
		placed := false
		for i := range open {
			if open[i].n < foldMost && loss[i]*c <= foldLimit {
				open[i] = open[i].times(f)
				loss[i] *= c
				placed = true
				break
			}
		}
		if !placed {
			open = append(open, folded{n: 1, p: [foldMost + 1]float64{f.c0, -f.c1}, q: [foldMost]float64{f.c2}})
			loss = append(loss, c)
		}
	}
	out.groups = open
	return out
}

// condition returns the largest ratio of the sum of magnitudes of the terms to
// the magnitude of the factor over the unit circle.
func (l linear) condition() float64 {
	worst := 1.0
	at := func(u float64) {
		s := math.Sqrt(u * (2 - u))
		re, im := l.c0-l.c1*u, l.c2*s
		c := (math.Abs(l.c0) + math.Abs(l.c1)*u + math.Abs(im)) / math.Hypot(re, im)
		if !(c <= worst) {
			worst = c
		}
	}
	at(2)
	// |F|² is a parabola in u; its minimum, if it has one inside.
	if d := l.c1*l.c1 - l.c2*l.c2; d > 0 {
		if u := (l.c0*l.c1 - l.c2*l.c2) / d; u > 0 && u < 2 {
			at(u)
		}
	}
	if math.IsNaN(worst) {
		return math.Inf(1)
	}
	return worst
}

// times multiplies by another factor: (P + jsQ)(c0 − c1·u + j·c2·s) with
// s² = 2u − u².
func (f folded) times(l linear) folded {
	out := folded{n: f.n + 1}
	for k := 0; k <= f.n; k++ {
		out.p[k] += f.p[k] * l.c0
		out.p[k+1] -= f.p[k] * l.c1
		out.q[k] += f.p[k] * l.c2
	}
	for k := 0; k < f.n; k++ {
		out.p[k+1] -= 2 * f.q[k] * l.c2
		out.p[k+2] += f.q[k] * l.c2
		out.q[k] += f.q[k] * l.c0
		out.q[k+1] -= f.q[k] * l.c1
	}
	return out
}

// mulTo multiplies dst by the product.
func (p *product) mulTo(dst freq.Split, u, sin []float64) {
	re, im := dst.Re[:len(u)], dst.Im[:len(u)]
	sin = sin[:len(u)]
	switch {
	case len(p.real) > 0:
		for i, x := range u {
			k := p.scale
			for _, c := range p.real {
				k *= c[0] - c[1]*x
			}
			re[i] *= k
			im[i] *= k
		}
	case p.scale != 1:
		for i := range re {
			re[i] *= p.scale
			im[i] *= p.scale
		}
	}
	for gi := range p.groups {
		g := &p.groups[gi]
		p0, p1, p2, p3, p4 := g.p[0], g.p[1], g.p[2], g.p[3], g.p[4]
		q0, q1, q2, q3 := g.q[0], g.q[1], g.q[2], g.q[3]
		switch {
		case g.n == 1:
			for i, x := range u {
				c, d := p0+p1*x, q0*sin[i]
				a, b := re[i], im[i]
				re[i], im[i] = a*c-b*d, a*d+b*c
			}
		case g.n == 2:
			for i, x := range u {
				c, d := (p2*x+p1)*x+p0, (q1*x+q0)*sin[i]
				a, b := re[i], im[i]
				re[i], im[i] = a*c-b*d, a*d+b*c
			}
		default:
			for i, x := range u {
				c := (((p4*x+p3)*x+p2)*x+p1)*x + p0
				d := (((q3*x+q2)*x+q1)*x + q0) * sin[i]
				a, b := re[i], im[i]
				re[i], im[i] = a*c-b*d, a*d+b*c
			}
		}
	}
}
