package identify

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/driver"
	"gonum.org/v1/gonum/mat"
)

// coils are the models that are tried if the settings name none, by the number of
// their parameters.
func coils() []driver.TunableCoil {
	return []driver.TunableCoil{
		driver.NoCoil{}, driver.Inductor{}, driver.SemiInductance{}, driver.Ladder{},
		driver.ShuntedSemiInductance{}, driver.TwoLadders{},
	}
}

// CoilName says in words what a model of the voice coil is.
func CoilName(c driver.Coil) string {
	switch c.(type) {
	case nil, driver.NoCoil:
		return "no inductance"
	case driver.Inductor:
		return "inductance"
	case driver.SemiInductance:
		return "semi-inductance"
	case driver.Ladder:
		return "inductance and a ladder"
	case driver.ShuntedSemiInductance:
		return "inductance and shunted semi-inductance"
	case driver.TwoLadders:
		return "inductance and two ladders"
	}
	return fmt.Sprintf("%T", c)
}

// least is the smallest inductance, H, that a fit takes for one.
const least = 1e-9

// reach says how far beyond Re, either way, the magnitude of an element may lie in the
// band: there it is told apart from nothing, or from a short circuit, by no data. An
// inductance reaches Re above the lowest frequency, not below: a slower one would stand
// for the resistance at direct current, with a share of it that nobody can tell.
const reach = 1e4

// coilBounds writes the bounds of a coil's parameters, so that what the data do not
// determine ends somewhere near instead of creeping on: each element within a factor
// of reach of re at the band's ends, ω from first to top.
func coilBounds(c driver.TunableCoil, lower, upper []float64, re, first, top float64) {
	c.BoundsTo(lower, upper)
	set := func(k int, lo, hi float64) {
		lower[k], upper[k] = max(lower[k], math.Log(lo)), min(upper[k], math.Log(hi))
	}
	inductance := func(k int) { set(k, max(least, re/reach/top), re/first) }
	switch c.(type) {
	case driver.SemiInductance:
		set(0, 1e-12, 1e6)
		set(1, 0.05, 1)
	case driver.ShuntedSemiInductance:
		set(0, least, re/first)
		inductance(1)
		set(2, re/reach/math.Sqrt(top), re*reach/math.Sqrt(first))
		set(3, re/reach, re*reach)
	default:
		for k := range lower {
			switch {
			case k == 0:
				set(k, least, re/first)
			case k%2 == 0:
				set(k, re/reach, re*reach)
			default:
				inductance(k)
			}
		}
	}
}

// widened returns starts with which a coil has nearly the impedance of a simpler one
// that it contains, in the band up to ω = top: what is added hardly counts, and lies at
// several places. There is none if it contains none such.
func widened(simple, c driver.TunableCoil, top float64) [][]float64 {
	const little = 0.05
	switch s := simple.(type) {
	case driver.Inductor:
		if _, ok := c.(driver.Ladder); ok {
			l := little * s.Le
			return [][]float64{{math.Log(s.Le - l), math.Log(l), math.Log(l * top / 4)}}
		}
	case driver.Ladder:
		le := math.Log(max(s.Le, 100*least))
		switch c.(type) {
		case driver.TwoLadders:
			var list [][]float64
			l := little * (s.Le + s.L2)
			for _, w := range []float64{top, top / 8, top / 64} {
				list = append(list, []float64{le, math.Log(s.L2), math.Log(s.R2), math.Log(l), math.Log(l * w)})
			}
			return list
		case driver.ShuntedSemiInductance:
			return [][]float64{{le, math.Log(s.L2), math.Log(s.R2 / math.Sqrt(top) / little), math.Log(s.R2)}}
		}
	}
	return nil
}

// slow reports whether a coil has an element with losses whose corner R/L lies below the
// band, ω = first: in the band it is a resistance, of which nobody can tell how much is
// Re. No coil has that, but a misfit at the low end may ask for it.
func slow(c driver.Coil, first float64) bool {
	switch v := c.(type) {
	case driver.Ladder:
		return v.R2 < first*v.L2
	case driver.TwoLadders:
		return v.R2 < first*v.L2 || v.R3 < first*v.L3
	case driver.ShuntedSemiInductance:
		return v.Rss < first*v.Le
	}
	return false
}

// coilStart returns parameters with which a coil comes near the impedance z of a
// coil alone, by linear least squares at grid points of what is not linear. w is
// ω. A coil of another package starts where it is.
func coilStart(c driver.TunableCoil, w []float64, z []complex128, weight []float64) []float64 {
	atMost := math.Inf(1)
	var best []float64
	keep := func(cost float64, x ...float64) {
		if cost < atMost {
			atMost, best = cost, x
		}
	}
	top := w[len(w)-1]
	ln := func(v, least float64) float64 { return math.Log(math.Max(v, least)) }
	inductor := func(w float64) complex128 { return complex(0, w) }
	switch c.(type) {
	case driver.NoCoil:
		return nil
	case driver.Inductor:
		_, x := fitNonNegative(z, weight, column(w, inductor))
		keep(0, ln(x[0], least))
	case driver.SemiInductance:
		for n := 0.25; n <= 1.001; n += 0.05 {
			s, k := math.Sincos(n * math.Pi / 2)
			cost, x := fitNonNegative(z, weight, column(w, func(w float64) complex128 {
				return complex(k, s) * complex(math.Pow(w, n), 0)
			}))
			keep(cost, ln(x[0], 1e-9), math.Log(min(n, 1)))
		}
	case driver.Ladder:
		for k := range 12 {
			tau := math.Exp2(float64(k)*0.75) / top / 4
			cost, x := fitNonNegative(z, weight, column(w, inductor), rungColumn(w, tau))
			l := math.Max(x[1], 1e-8)
			keep(cost, ln(x[0], 100*least), math.Log(l), math.Log(l/tau))
		}
	case driver.TwoLadders:
		plain := column(w, inductor)
		var rungs [8][]complex128
		tau := func(k int) float64 { return math.Exp2(float64(k)*1.2) / top / 4 }
		for k := range rungs {
			rungs[k] = rungColumn(w, tau(k))
		}
		for i := range rungs {
			for k := range i {
				cost, x := fitNonNegative(z, weight, plain, rungs[i], rungs[k])
				l2, l3 := math.Max(x[1], 1e-8), math.Max(x[2], 1e-8)
				keep(cost, ln(x[0], 100*least), math.Log(l2), math.Log(l2/tau(i)), math.Log(l3), math.Log(l3/tau(k)))
			}
		}
	case driver.ShuntedSemiInductance:
		_, plain := fitNonNegative(z, weight, column(w, inductor))
		rest, wt := make([]complex128, len(w)), make([]float64, len(w))
		for _, share := range []float64{0, 0.2, 0.4, 0.6, 0.8} {
			for i, w := range w {
				p := z[i] - complex(0, w*plain[0]*share)
				rest[i] = 1 / p
				m := real(p)*real(p) + imag(p)*imag(p)
				wt[i] = weight[i] * m
				if imag(p) <= 0 { // not an inductance any more
					rest[i], wt[i] = 0, 0
				}
			}
			cost, y := fitNonNegative(rest, wt,
				column(w, func(w float64) complex128 { return complex(0, -1/w) }),
				column(w, func(w float64) complex128 {
					v := 1 / math.Sqrt(2*w)
					return complex(v, -v)
				}),
				column(w, func(float64) complex128 { return 1 }))
			keep(cost, ln(plain[0]*share, 100*least), -ln(y[0], 1), -ln(y[1], 1e-3), -ln(y[2], 1e-3))
		}
	default:
		return c.ThetaTo(nil)
	}
	return best
}

func column(w []float64, f func(w float64) complex128) []complex128 {
	c := make([]complex128, len(w))
	for i, v := range w {
		c[i] = f(v)
	}
	return c
}

// rungColumn is jω/(1+jωτ).
func rungColumn(w []float64, tau float64) []complex128 {
	return column(w, func(w float64) complex128 { return complex(0, w) / complex(1, w*tau) })
}

// fitNonNegative minimises Σ weight²·|z − Σ xⱼ·cⱼ|² over xⱼ ≥ 0 by trying every
// subset of the columns, of which there are three at most.
func fitNonNegative(z []complex128, weight []float64, columns ...[]complex128) (float64, []float64) {
	n := len(columns)
	a, b := mat.NewSymDense(n, nil), make([]float64, n)
	var zz float64
	for i, v := range z {
		q := weight[i] * weight[i]
		zz += q * (real(v)*real(v) + imag(v)*imag(v))
		for j := range n {
			c := columns[j][i]
			b[j] += q * (real(c)*real(v) + imag(c)*imag(v))
			for k := range j + 1 {
				e := columns[k][i]
				a.SetSym(j, k, a.At(j, k)+q*(real(c)*real(e)+imag(c)*imag(e)))
			}
		}
	}
	cost, best := zz, make([]float64, n)
subsets:
	for set := 1; set < 1<<n; set++ {
		var at []int
		for j := range n {
			if set>>j&1 == 1 {
				at = append(at, j)
			}
		}
		m, r := mat.NewSymDense(len(at), nil), mat.NewVecDense(len(at), nil)
		for j, p := range at {
			s := math.Sqrt(a.At(p, p))
			if s == 0 {
				continue subsets
			}
			r.SetVec(j, b[p]/s)
			for k, q := range at[:j+1] {
				m.SetSym(j, k, a.At(p, q)/(s*math.Sqrt(a.At(q, q))))
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(m) {
			continue
		}
		var x mat.VecDense
		if chol.SolveVecTo(&x, r) != nil {
			continue
		}
		c := zz
		for j := range at {
			if !(x.AtVec(j) > 0) {
				continue subsets
			}
			c -= x.AtVec(j) * r.AtVec(j)
		}
		if c < cost {
			cost = c
			clear(best)
			for j, p := range at {
				best[p] = x.AtVec(j) / math.Sqrt(a.At(p, p))
			}
		}
	}
	return cost, best
}
