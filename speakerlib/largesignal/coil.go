package largesignal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/lsq"
)

// least is the smallest inductance over resistance that the solver computes with, s. A
// coil without inductance gets that: 6e-6 of Re at 10 kHz.
const least = 1e-10

// ladder is Le in series with up to two L‖R.
type ladder struct {
	le      float64
	l, r    [2]float64 // H, Ω; both 0 where there is none
	inverse [2]float64 // 1/l, 1/H
	rate    [2]float64 // r/l, 1/s
	n       int
}

// with returns the ladder with what follows from its elements.
func (c ladder) with() ladder {
	for k := range c.n {
		c.inverse[k], c.rate[k] = 1/c.l[k], c.r[k]/c.l[k]
	}
	return c
}

// ladderOf returns the elements of a coil that is a ladder.
func ladderOf(c driver.Coil) (ladder, error) {
	switch c := c.(type) {
	case nil, driver.NoCoil:
		return ladder{}, nil
	case driver.Inductor:
		return ladder{le: c.Le}, c.Validate()
	case driver.Ladder:
		return ladder{le: c.Le, l: [2]float64{c.L2}, r: [2]float64{c.R2}, n: 1}, c.Validate()
	case driver.TwoLadders:
		return ladder{le: c.Le, l: [2]float64{c.L2, c.L3}, r: [2]float64{c.R2, c.R3}, n: 2}, c.Validate()
	}
	return ladder{}, fmt.Errorf("largesignal: a coil %T has no differential equation, want NoCoil, Inductor, Ladder or TwoLadders: Ladders has the two ladders that come near it", c)
}

// Ladders returns the [driver.TwoLadders] that come nearest a coil between two
// frequencies, Hz, and the largest distance of both impedances there over the
// resistance Re and the impedance of the coil itself, |ΔZ|/|Re+Z|. It is for
// semi-inductances, which have no differential equation of finite order. The fit is by
// least squares of that ratio at 12 frequencies an octave, and what is returned is
// its minimum. At the ends of two decades a semi-inductance of 2.3·Re at the upper one is
// missed by 5 %, most of it elsewhere by less than 2: choose the band for what is asked.
func Ladders(c driver.Coil, re, from, to float64) (driver.TwoLadders, float64, error) {
	if !(re > 0) || !(from > 0) || !(to > 2*from) || math.IsInf(to, 0) || math.IsInf(re, 0) {
		return driver.TwoLadders{}, 0, fmt.Errorf("largesignal: ladders for Re = %g Ω between %g and %g Hz, want values > 0 and an octave or more", re, from, to)
	}
	g, err := freq.LogGrid(from, to, 12)
	if err != nil {
		return driver.TwoLadders{}, 0, err
	}
	want := c.ImpedanceTo(nil, g)
	n := g.Len()
	z, jac := make([]complex128, n), make([]complex128, n*5)
	top := 2 * math.Pi * to
	l := max(imag(want[n-1]), 1e-6*re) / top
	start := driver.TwoLadders{Le: l / 2, L2: 4 * l, R2: 4 * l * 2 * math.Pi * math.Sqrt(from*math.Sqrt(from*to)), L3: l, R3: l * top / 2}
	p := lsq.Problem{Residuals: 2 * n, Func: func(r []float64, j *mat.Dense, theta []float64) {
		start.ImpedanceJacobianTo(z, jac, 5, theta, g)
		for i := range n {
			w := 1 / math.Hypot(re+real(want[i]), imag(want[i]))
			d := z[i] - want[i]
			r[2*i], r[2*i+1] = w*real(d), w*imag(d)
			for k := range 5 {
				j.Set(2*i, k, w*real(jac[5*i+k]))
				j.Set(2*i+1, k, w*imag(jac[5*i+k]))
			}
		}
	}}
	res, err := lsq.Minimize(p, start.ThetaTo(nil), nil)
	if err != nil {
		return driver.TwoLadders{}, 0, err
	}
	best := start.With(res.X).(driver.TwoLadders).Sorted()
	worst := 0.0
	for i := range n {
		worst = max(worst, math.Hypot(res.Residuals[2*i], res.Residuals[2*i+1]))
	}
	return best, worst, best.Validate()
}
