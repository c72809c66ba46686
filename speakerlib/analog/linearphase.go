package analog

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// LinearPhase is the all-pole prototype of an order n whose phase runs about a
// straight line with equal ripple, over the widest band that the ripple allows:
//
//	−arg H(jω) = T·ω + e(ω),  e(ωᵢ) = ±Error at i = 1 … n,  e(ωₙ) = +Error
//
// as "linear phase with equiripple error" in the tables of filter handbooks, which
// have it for 0.05° and 0.5°. Error is in radians, 1e-5 to 0.01 (0.57°). Compared with
// [Bessel] the delay is even up to a higher frequency for the same half-power
// point, and the stop band is steeper. The magnitude falls steadily but for 0.03 dB
// of high orders with much ripple. Half the power at its corner. (A. I. Zverev, "Handbook of Filter Synthesis", 1967, ch. 2; from memory.)
//
// The poles are found to some units of 1e-13: see [EquirippleDelay].
type LinearPhase struct {
	Order int
	Error float64
}

// EquirippleDelay is the all-pole prototype of an order n whose group delay runs
// about a constant with equal ripple, over the widest band that the ripple allows:
//
//	τ(ωᵢ) = T·(1 ± Ripple),  ω₁ = 0, i = 1 … n,  τ(ωₙ) = T·(1 + Ripple)
//
// (E. Ulbrich and H. Piloty, "Über den Entwurf von Allpässen, Tiefpässen und
// Bandpässen mit einer im Tschebyscheffschen Sinne approximierten konstanten
// Gruppenlaufzeit", Archiv der elektrischen Übertragung 14, 1960; from memory.)
// Ripple is relative, 1e-5 to 0.02; of the magnitude the same holds as for
// [LinearPhase]. Half the power at its corner.
//
// The n extremals are exchanged as E. Ya. Remez does; between exchanges the n real
// parameters of the poles are found by Newton's method. The search begins from the
// polynomial that meets the straight phase at n points, by the recurrence
//
//	Qₖ₊₁(s) = Qₖ(s) + αₖ·(s² + ωₖ²)·Qₖ₋₁(s)
//
// (T. Henk, "The generation of arbitrary-phase polynomials by recurrence formulae",
// Int. J. Circuit Theory Appl. 9, 1981; from memory). Exact to some units of 1e-13.
type EquirippleDelay struct {
	Order  int
	Ripple float64
}

// MaxLinearPhase is the highest order of a [LinearPhase] or [EquirippleDelay].
const MaxLinearPhase = 16

// String names it.
func (p LinearPhase) String() string {
	return fmt.Sprintf("linear phase order %d, error %.4g°", p.Order, p.Error*180/math.Pi)
}

// String names it.
func (p EquirippleDelay) String() string {
	return fmt.Sprintf("equal-ripple delay order %d, ripple %.4g %%", p.Order, 100*p.Ripple)
}

// Poles implements [Prototype].
func (p LinearPhase) Poles() ([]complex128, error) {
	return straight{what: "linear phase", n: p.Order, dev: p.Error, most: 0.01, phase: true}.poles()
}

// Poles implements [Prototype].
func (p EquirippleDelay) Poles() ([]complex128, error) {
	return straight{what: "equal-ripple delay", n: p.Order, dev: p.Ripple, most: 0.02}.poles()
}

// straight asks for a phase, or a delay, that deviates by dev from that of a delay
// of 1 s.
type straight struct {
	what      string
	n         int
	dev, most float64
	phase     bool
}

func (q straight) poles() ([]complex128, error) {
	if q.n < 1 || q.n > MaxLinearPhase {
		return nil, fmt.Errorf("analog: order of %s is %d, want 1 to %d", q.what, q.n, MaxLinearPhase)
	}
	if !(q.dev >= 1e-5 && q.dev <= q.most) {
		return nil, fmt.Errorf("analog: ripple of %s is %g, want 1e-5 to %g", q.what, q.dev, q.most)
	}
	if q.n == 1 {
		return []complex128{-1}, nil
	}
	u, err := q.solve(q.start())
	if err != nil {
		return nil, err
	}
	var p []complex128
	for _, z := range u {
		if imag(z) != 0 {
			p = append(p, both(z)...)
		} else {
			p = append(p, z)
		}
	}
	scale := complex(1/halfPower(p), 0)
	for i := range p {
		p[i] *= scale
	}
	return p, nil
}

// start returns the upper poles of the polynomial that has the phase of 1 s at
// points spaced as the zeros of a Chebyshev polynomial, over a band whose ripple is
// about what is asked for.
func (q straight) start() []complex128 {
	var best []complex128
	lo, hi := 0.0, math.Pi/2*float64(q.n)
	for range 40 {
		band := (lo + hi) / 2
		u := through(q.n, band)
		at := q.extremals(u)
		worst := 0.0
		for _, w := range at {
			worst = math.Max(worst, math.Abs(q.deviation(u, w)))
		}
		if u == nil || len(at) != q.n || worst > q.dev {
			hi = band
			continue
		}
		lo, best = band, u
		if worst > 0.7*q.dev {
			break
		}
	}
	return best
}

// solve exchanges extremals and finds poles until the deviations are what is
// asked for.
func (q straight) solve(u []complex128) ([]complex128, error) {
	const most = 60
	var worst float64
	a, b := mat.NewDense(q.n, q.n, nil), mat.NewVecDense(q.n, nil)
	for range most {
		at := q.extremals(u)
		if len(at) != q.n {
			break
		}
		worst = 0
		for i, w := range at {
			want := q.dev
			if (q.n-1-i)%2 == 1 {
				want = -want
			}
			e := want - q.deviation(u, w)
			worst = math.Max(worst, math.Abs(e))
			b.SetVec(i, e)
			q.slopes(a.RawRowView(i), u, w)
		}
		if worst < 4e-15*float64(q.n) {
			return u, nil
		}
		var d mat.VecDense
		if d.SolveVec(a, b) != nil {
			break
		}
		// No pole moves by more than a third of its distance from the axis.
		step := 1.0
		k := 0
		for _, z := range u {
			size := math.Abs(d.AtVec(k))
			k++
			if imag(z) != 0 {
				size = math.Max(size, math.Abs(d.AtVec(k)))
				k++
			}
			step = math.Min(step, -real(z)/(3*size))
		}
		k = 0
		for i, z := range u {
			re, im := real(z)-step*d.AtVec(k), imag(z)
			k++
			if im != 0 {
				im += step * d.AtVec(k)
				k++
			}
			u[i] = complex(re, im)
		}
	}
	return nil, fmt.Errorf("analog: %s of order %d with a ripple of %g does not settle: %.2g from it", q.what, q.n, q.dev, worst)
}

// deviation returns φ(ω) − ω, or τ(ω) − 1, of the upper poles.
func (q straight) deviation(u []complex128, w float64) float64 {
	if !q.phase {
		return delayOf(u, w) - 1
	}
	sum := -w
	for _, z := range u {
		if imag(z) == 0 {
			sum += math.Atan(w / -real(z))
			continue
		}
		// The two terms that belong together, so that they cancel at 0.
		sum += math.Atan((w-imag(z))/-real(z)) + math.Atan((w+imag(z))/-real(z))
	}
	return sum
}

// delayOf returns the group delay of the upper poles.
func delayOf(u []complex128, w float64) float64 {
	var sum float64
	for _, z := range u {
		a, b := real(z), imag(z)
		sum -= a / (a*a + (w-b)*(w-b))
		if b != 0 {
			sum -= a / (a*a + (w+b)*(w+b))
		}
	}
	return sum
}

// slope returns the derivative of the deviation by ω.
func (q straight) slope(u []complex128, w float64) float64 {
	if q.phase {
		return delayOf(u, w) - 1
	}
	var sum float64
	for _, z := range u {
		a, b := real(z), imag(z)
		d := a*a + (w-b)*(w-b)
		sum += 2 * a * (w - b) / (d * d)
		if b != 0 {
			d = a*a + (w+b)*(w+b)
			sum += 2 * a * (w + b) / (d * d)
		}
	}
	return sum
}

// slopes writes the derivatives of the deviation by −Re and Im of the upper poles.
func (q straight) slopes(row []float64, u []complex128, w float64) {
	k := 0
	for _, z := range u {
		a := -real(z)
		var da, db float64
		for _, sign := range [2]float64{1, -1} {
			if imag(z) == 0 && sign < 0 {
				break
			}
			x := w - sign*imag(z)
			d := a*a + x*x
			if q.phase {
				da -= x / d
				db -= sign * a / d
			} else {
				da += (x*x - a*a) / (d * d)
				db += sign * 2 * a * x / (d * d)
			}
		}
		row[k] = da
		k++
		if imag(z) != 0 {
			row[k] = db
			k++
		}
	}
}

// extremals returns where the deviation of the upper poles has its tops and
// bottoms: at 0 too if it is of the delay.
func (q straight) extremals(u []complex128) []float64 {
	var at []float64
	if !q.phase {
		at = append(at, 0)
	}
	end := math.Pi/2*float64(q.n)/(1-q.dev) + 1 // the phase is less than n·π/2
	step := end / float64(200*q.n)
	last := q.slope(u, step/2)
	for w := 3 * step / 2; w < end; w += step {
		s := q.slope(u, w)
		if (s > 0) == (last > 0) {
			continue
		}
		lo, hi := w-step, w
		for range 30 { // the deviation is flat there: half the digits do
			mid := (lo + hi) / 2
			if (q.slope(u, mid) > 0) == (last > 0) {
				lo = mid
			} else {
				hi = mid
			}
		}
		at = append(at, (lo+hi)/2)
		last = s
	}
	return at
}

// through returns the upper poles of the polynomial of degree n whose phase is ω at
// ω = band·sin(kπ/(2n+1)), or nil if they are not all in the left half plane.
func through(n int, band float64) []complex128 {
	at := make([]float64, n)
	for k := range at {
		at[k] = band * math.Sin(math.Pi*float64(k+1)/float64(2*n+1))
	}
	alpha := make([]float64, n)
	// value returns Qₘ, Qₘ₋₁ and their derivatives at s.
	value := func(m int, s complex128) (q, before, dq, dbefore complex128) {
		q, before = 1+complex(alpha[0], 0)*s, 1
		dq = complex(alpha[0], 0)
		for k := 1; k < m; k++ {
			f := complex(alpha[k], 0) * (s*s + complex(at[k-1]*at[k-1], 0))
			df := complex(2*alpha[k], 0) * s
			q, before, dq, dbefore = q+f*before, q, dq+f*dbefore+df*before, dq
		}
		return q, before, dq, dbefore
	}
	alpha[0] = math.Tan(at[0]) / at[0]
	for k := 1; k < n; k++ {
		q, before, _, _ := value(k, complex(0, at[k]))
		sin, cos := math.Sincos(at[k])
		turn := complex(cos, -sin)
		alpha[k] = imag(q*turn) / ((at[k]*at[k] - at[k-1]*at[k-1]) * imag(before*turn))
	}
	p := make([]complex128, n)
	for k := range p {
		p[k] = complex(-1.5, band*(float64(2*k+1)/float64(n)-1)) * complex(1, 1e-3)
	}
	aberth(p, func(z complex128) complex128 {
		q, _, dq, _ := value(n, z)
		return q / dq
	})
	byHeight(p)
	var u []complex128
	for _, z := range p {
		if !(real(z) < 0) {
			return nil
		}
		if imag(z) > 1e-6 {
			u = append(u, z)
		}
	}
	if n%2 == 1 {
		u = append(u, complex(real(p[n-1]), 0))
	}
	if 2*len(u)-n%2 != n {
		return nil
	}
	return u
}
