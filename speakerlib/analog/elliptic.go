package analog

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mathext"

	"example.org/loudspeaker/speakerlib/level"
)

// Elliptic is the prototype with equal ripple in both bands, the steepest of an
// order (W. Cauer):
//
//	|H(jω)|² = 1/(1 + ε²·Rₙ²(ω)),  ε² = Ripple² − 1,  k₁ = ε/√(Stop² − 1)
//
// Rₙ is the rational function cd(n·u·K₁, k₁), ω = cd(u·K, k), with the modulus k
// of the degree equation n·K′/K = K₁′/K₁. Zeros and poles are
//
//	zᵢ = ±j/(k·cd(uᵢK, k)),  pᵢ = ±j·cd((uᵢ − j·v₀)·K, k),  uᵢ = (2i−1)/n
//
// with v₀ = F(atan(1/ε), k₁′)/(n·K₁). Its corner is the edge of the pass band,
// where the magnitude falls below 1/Ripple for good; the stop band begins at
// [Elliptic.StopEdge]. Ripple and Stop are amplitude ratios.
//
// S. J. Orfanidis, "Lecture Notes on Elliptic Filter Design", Rutgers University,
// 2006 (equations from memory). Elliptic functions by descending Landen
// transformations with both moduli kept, so that neither cancels; the degree
// equation by nomes, the larger of q and its complement never used.
type Elliptic struct {
	Order        int
	Ripple, Stop float64
}

// String names it.
func (e Elliptic) String() string {
	return fmt.Sprintf("elliptic order %d, ripple %s, stop band %s", e.Order, decibels(e.Ripple), decibels(e.Stop))
}

func decibels(ratio float64) string { return fmt.Sprintf("%.4g dB", level.DB(ratio)) }

func (e Elliptic) check() error {
	if err := checkOrder("elliptic", e.Order); err != nil {
		return err
	}
	if err := checkRatio("elliptic", "ripple", e.Ripple); err != nil {
		return err
	}
	if err := checkRatio("elliptic", "stop-band loss", e.Stop); err != nil {
		return err
	}
	if !(e.Stop > e.Ripple*(1+1e-6)) {
		return fmt.Errorf("analog: elliptic with a stop-band loss of %s and a ripple of %s, want more loss than ripple", decibels(e.Stop), decibels(e.Ripple))
	}
	return nil
}

// modulus is an elliptic modulus k with its complement √(1−k²).
type modulus struct{ k, c float64 }

// agm returns the arithmetic-geometric mean of 1 and x in 0 … 1.
func agm(x float64) float64 {
	a := 1.0
	for range 40 {
		a, x = (a+x)/2, math.Sqrt(a*x)
		if a-x <= 1e-15*a {
			break
		}
	}
	return (a + x) / 2
}

// quarter returns the complete elliptic integral K of the modulus.
func (m modulus) quarter() float64 { return math.Pi / 2 / agm(m.c) }

// logNome returns ln q = −π·K′/K.
func (m modulus) logNome() float64 { return -math.Pi * agm(m.c) / agm(m.k) }

// fromLogNome returns the modulus of a nome, k = (θ₂(q)/θ₃(q))² and the same of
// the complementary nome, ln q·ln q′ = π².
func fromLogNome(lnq float64) modulus {
	k := func(lnq float64) float64 {
		var a, b float64
		for m := 30; m >= 1; m-- {
			a += math.Exp(lnq * float64(m*(m+1)))
			b += 2 * math.Exp(lnq*float64(m*m))
		}
		r := (1 + a) / (1 + b)
		return 4 * math.Exp(lnq/2) * r * r
	}
	// The series of the smaller nome; the other modulus, near 1, from it.
	if lnq < -math.Pi {
		x := k(lnq)
		return modulus{x, math.Sqrt((1 - x) * (1 + x))}
	}
	x := k(math.Pi * math.Pi / lnq)
	return modulus{math.Sqrt((1 - x) * (1 + x)), x}
}

// cd returns cd(u·K, k) for a complex u.
func (m modulus) cd(u complex128) complex128 {
	var v []float64
	for m.k > 1e-17 && len(v) < 40 {
		r := m.k / (1 + m.c)
		m = modulus{r * r, 2 * math.Sqrt(m.c) / (1 + m.c)}
		v = append(v, m.k)
	}
	w := cmplx.Cos(u * (math.Pi / 2))
	for i := len(v) - 1; i >= 0; i-- {
		w = complex(1+v[i], 0) * w / (1 + complex(v[i], 0)*w*w)
	}
	return w
}

// moduli returns the modulus of the filter, and v₀.
func (e Elliptic) moduli() (m modulus, v0 float64) {
	eps, stop := beyondUnity(e.Ripple), beyondUnity(e.Stop)
	k1 := eps / stop
	// 1 − k₁² = (Stop² − Ripple²)/(Stop² − 1).
	m1 := modulus{k1, math.Sqrt((e.Stop-e.Ripple)*(e.Stop+e.Ripple)) / stop}
	n := float64(e.Order)
	m = fromLogNome(m1.logNome() / n)
	// F(φ, k₁′) = sin φ·R_F(cos²φ, 1 − k₁′²·sin²φ, 1), tan φ = 1/ε.
	c2, s2 := eps/e.Ripple*(eps/e.Ripple), 1/(e.Ripple*e.Ripple)
	f := math.Sqrt(s2) * mathext.EllipticRF(c2, c2+k1*k1*s2, 1)
	return m, f / (n * m1.quarter())
}

// Poles implements [Prototype].
func (e Elliptic) Poles() ([]complex128, error) {
	if err := e.check(); err != nil {
		return nil, err
	}
	m, v0 := e.moduli()
	var p []complex128
	for i := range e.Order / 2 {
		w := m.cd(complex(float64(2*i+1)/float64(e.Order), -v0))
		p = append(p, both(complex(-math.Abs(imag(w)), math.Abs(real(w))))...)
	}
	if e.Order%2 == 1 {
		p = append(p, complex(-math.Abs(imag(m.cd(complex(1, -v0)))), 0))
	}
	return p, nil
}

// Zeros implements [ZeroedPrototype].
func (e Elliptic) Zeros() ([]complex128, error) {
	if err := e.check(); err != nil {
		return nil, err
	}
	m, _ := e.moduli()
	var z []complex128
	for i := range e.Order / 2 {
		w := real(m.cd(complex(float64(2*i+1)/float64(e.Order), 0)))
		z = append(z, both(complex(0, 1/(m.k*w)))...)
	}
	return z, nil
}

// DC implements [ZeroedPrototype]: the bottom of the ripple for an even order.
func (e Elliptic) DC() float64 {
	if e.Order%2 == 0 {
		return 1 / e.Ripple
	}
	return 1
}

// StopEdge returns 1/k, the edge of the stop band in rad/s for a pass band up to
// 1 rad/s.
func (e Elliptic) StopEdge() (float64, error) {
	if err := e.check(); err != nil {
		return 0, err
	}
	m, _ := e.moduli()
	return 1 / m.k, nil
}

// span implements spanned.
func (e Elliptic) span() (pass, stop float64) { return 1 / e.Ripple, 1 / e.Stop }
