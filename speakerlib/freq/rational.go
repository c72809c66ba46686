package freq

// Split holds complex numbers with real and imaginary parts apart.
type Split struct{ Re, Im []float64 }

// NewSplit returns n zeros.
func NewSplit(n int) Split {
	s := make([]float64, 2*n)
	return Split{Re: s[:n:n], Im: s[n:]}
}

// Ratio is a product of transfers that is not divided yet: numerator and
// denominator at every point of a grid. It is the workspace of one goroutine.
//
// The range of float64 bounds it: the product of all numerators or denominators
// must stay within 1e±300. Twenty second-order sections and a driver in a box
// are far from that.
type Ratio struct{ Num, Den Split }

// NewRatio returns a ratio of n points, each 1/1.
func NewRatio(n int) *Ratio {
	r := &Ratio{Num: NewSplit(n), Den: NewSplit(n)}
	r.Reset()
	return r
}

// Len returns the number of points.
func (r *Ratio) Len() int { return len(r.Num.Re) }

// Reset makes every point 1/1.
func (r *Ratio) Reset() {
	for i := range r.Num.Re {
		r.Num.Re[i], r.Num.Im[i] = 1, 0
		r.Den.Re[i], r.Den.Im[i] = 1, 0
	}
}

// DivideTo writes the quotients into dst (nil allocates, another length panics)
// and returns it. It is the one division of a chain.
func (r *Ratio) DivideTo(dst []complex128) []complex128 {
	dst = Dst(dst, r.Len())
	for i := range dst {
		a, b, c, d := r.Num.Re[i], r.Num.Im[i], r.Den.Re[i], r.Den.Im[i]
		q := 1 / (c*c + d*d)
		dst[i] = complex((a*c+b*d)*q, (b*c-a*d)*q)
	}
	return dst
}

// AddTo adds the quotients to sum.
func (r *Ratio) AddTo(sum Split) {
	if len(sum.Re) != r.Len() || len(sum.Im) != r.Len() {
		panic("freq: sum has not the length of the ratio")
	}
	for i := range sum.Re {
		a, b, c, d := r.Num.Re[i], r.Num.Im[i], r.Den.Re[i], r.Den.Im[i]
		q := 1 / (c*c + d*d)
		sum.Re[i] += (a*c + b*d) * q
		sum.Im[i] += (b*c - a*d) * q
	}
}

// MulNum multiplies the numerator by the polynomial in jω.
func (r *Ratio) MulNum(p *Poly, g *Grid) { mulSplit(r.Num, p, g) }

// MulDen multiplies the denominator by the polynomial in jω.
func (r *Ratio) MulDen(p *Poly, g *Grid) { mulSplit(r.Den, p, g) }

func mulSplit(s Split, p *Poly, g *Grid) {
	if len(s.Re) != g.Len() {
		panic("freq: ratio has not the length of the grid")
	}
	w2, w := g.Omega2(), g.Omega()
	for i := range s.Re {
		e, o := p.evenOdd(w2[i])
		o *= w[i]
		a, b := s.Re[i], s.Im[i]
		s.Re[i], s.Im[i] = a*e-b*o, a*o+b*e
	}
}

// Rational is a transfer that multiplies itself into a ratio: a stage of the
// fast path. It is optional, and found by type assertion.
type Rational interface {
	Transfer
	MulTo(r *Ratio, g *Grid)
}

// RationalResponseTo is the ResponseTo of a Rational: unity, multiplied, divided.
func RationalResponseTo(dst []complex128, t Rational, g *Grid) []complex128 {
	dst = Dst(dst, g.Len())
	r := NewRatio(g.Len())
	t.MulTo(r, g)
	return r.DivideTo(dst)
}

// MaxDegree is the highest power of s that a Poly holds.
const MaxDegree = 9

// Poly is a real polynomial in s = jω of degree up to [MaxDegree], stored so
// that it is evaluated in real arithmetic:
//
//	P(jω) = E(ω²) + jω·O(ω²),  E[k] = (−1)^k·c₂ₖ,  O[k] = (−1)^k·c₂ₖ₊₁
//
// where P(s) = c₀ + c₁s + c₂s² + …
type Poly struct{ E, O [5]float64 }

// NewPoly returns the polynomial with the coefficients of ascending powers of
// s. More than MaxDegree+1 coefficients panic.
func NewPoly(c ...float64) Poly {
	if len(c) > MaxDegree+1 {
		panic("freq: polynomial of a degree above MaxDegree")
	}
	var p Poly
	for k, v := range c {
		if k/2%2 == 1 {
			v = -v
		}
		if k%2 == 0 {
			p.E[k/2] = v
		} else {
			p.O[k/2] = v
		}
	}
	return p
}

// Coefficients returns the coefficients of ascending powers of s, without
// trailing zeros; the zero polynomial has none.
func (p Poly) Coefficients() []float64 {
	c := make([]float64, MaxDegree+1)
	n := 0
	for k := range c {
		v := p.E[k/2]
		if k%2 == 1 {
			v = p.O[k/2]
		}
		if k/2%2 == 1 {
			v = -v
		}
		c[k] = v
		if v != 0 {
			n = k + 1
		}
	}
	return c[:n]
}

// Degree returns the degree, or −1 for the zero polynomial.
func (p Poly) Degree() int { return len(p.Coefficients()) - 1 }

func (p *Poly) evenOdd(w2 float64) (e, o float64) {
	e = (((p.E[4]*w2+p.E[3])*w2+p.E[2])*w2+p.E[1])*w2 + p.E[0]
	o = (((p.O[4]*w2+p.O[3])*w2+p.O[2])*w2+p.O[1])*w2 + p.O[0]
	return e, o
}

// At returns P(jω) at a frequency in hertz.
func (p Poly) At(hz float64) complex128 {
	w := tau * hz
	e, o := p.evenOdd(w * w)
	return complex(e, w*o)
}

// Scale returns k·p.
func (p Poly) Scale(k float64) Poly {
	for i := range p.E {
		p.E[i] *= k
		p.O[i] *= k
	}
	return p
}

// Add returns p + q.
func (p Poly) Add(q Poly) Poly {
	for i := range p.E {
		p.E[i] += q.E[i]
		p.O[i] += q.O[i]
	}
	return p
}

// Mul returns p·q. A product of a degree above [MaxDegree] panics.
func (p Poly) Mul(q Poly) Poly {
	a, b := p.Coefficients(), q.Coefficients()
	if len(a) == 0 || len(b) == 0 {
		return Poly{}
	}
	if len(a)+len(b)-2 > MaxDegree {
		panic("freq: product of polynomials of a degree above MaxDegree")
	}
	c := make([]float64, len(a)+len(b)-1)
	for i, x := range a {
		for j, y := range b {
			c[i+j] += x * y
		}
	}
	return NewPoly(c...)
}

// PolyRatio is the transfer Num/Den.
type PolyRatio struct{ Num, Den Poly }

// MulTo implements [Rational].
func (q *PolyRatio) MulTo(r *Ratio, g *Grid) {
	r.MulNum(&q.Num, g)
	r.MulDen(&q.Den, g)
}

// ResponseTo implements [Transfer].
func (q *PolyRatio) ResponseTo(dst []complex128, g *Grid) []complex128 {
	return RationalResponseTo(dst, q, g)
}
