package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
)

// family is a kind of alignments at a leak.
type family struct {
	kind  Kind
	ql    float64
	invQL float64
}

// member is one alignment of a family, normalised to Fs and Vas.
type member struct {
	a               [3]float64
	parameter       float64
	h, invQt, alpha float64
}

func newFamily(kind Kind, ql float64) (family, error) {
	if kind == nil {
		return family{}, fmt.Errorf("enclosure: alignment has no kind, want one as QB3{}")
	}
	if !(ql >= 0) || math.IsInf(ql, 0) {
		return family{}, fmt.Errorf("enclosure: QL is %g, want a finite value > 0, or 0 for no leak", ql)
	}
	f := family{kind: kind, ql: ql}
	if ql > 0 && ql < 1e30 { // beyond it no digit shows the leak, and the quartic overflows
		f.invQL = 1 / ql
	}
	if !f.at(0).real() {
		return family{}, fmt.Errorf("enclosure: no box of %s has the alignment %v, want less leak", leak(ql), kind)
	}
	return f, nil
}

// real reports whether a driver and a box can have it: Qt and α positive and
// finite.
func (m member) real() bool { return m.invQt > 0 && m.alpha > 0 && !math.IsInf(m.alpha, 0) }

// at solves the box for the polynomial at t.
func (f family) at(t float64) member {
	a, parameter := f.kind.polynomial(t)
	m := member{a: a, parameter: parameter}
	x := math.Sqrt(a[2] / a[0])
	if f.invQL > 0 {
		// With a small leak the root is near that without one, between a small and
		// a large root that no driver belongs to: the polynomial in √h falls through
		// it, where it rises through the others.
		c := []float64{-f.invQL, a[2], 0, -a[0], f.invQL}
		r := roots(c, 0, bound(c))
		if len(r) != 3 {
			return m
		}
		x = r[1]
	}
	m.h = x * x
	m.invQt = a[0]*x - m.h*f.invQL
	m.alpha = a[1]*m.h - m.h*f.invQL*m.invQt - 1 - m.h*m.h
	return m
}

// Where a family is looked for: t from first, each step times growth, up to last.
const (
	firstStep, stepGrowth, lastStep = 1e-6, 1.5, 1e6
)

// walk calls visit with pieces of the family from its beginning on, each between
// two neighbouring t at which it is real, until visit says to stop or the family
// ends.
func (f family) walk(visit func(t0, t1 float64, m0, m1 member) bool) {
	t0, m0 := 0.0, f.at(0)
	for t1 := firstStep; t1 <= lastStep; t1 *= stepGrowth {
		m1 := f.at(t1)
		end := !m1.real()
		if end { // the last real one
			lo, hi := t0, t1
			for mid := lo + (hi-lo)/2; mid > lo && mid < hi; mid = lo + (hi-lo)/2 {
				if f.at(mid).real() {
					lo = mid
				} else {
					hi = mid
				}
			}
			t1, m1 = lo, f.at(lo)
		}
		if visit(t0, t1, m0, m1) || end {
			return
		}
		t0, m0 = t1, m1
	}
}

// find returns the t nearest the beginning whose 1/Qt is invQt.
func (f family) find(invQt float64) (t float64, ok bool) {
	f.walk(func(t0, t1 float64, m0, m1 member) bool {
		if (m0.invQt-invQt)*(m1.invQt-invQt) > 0 {
			return false
		}
		t, ok = bisect(func(t float64) float64 { return f.at(t).invQt - invQt }, t0, t1)
		return ok
	})
	return t, ok
}

func (f family) qtRange() (lo, hi float64) {
	small := f.at(0).invQt
	large := small
	if !f.kind.single() {
		f.walk(func(_, _ float64, _, m member) bool {
			small, large = math.Min(small, m.invQt), math.Max(large, m.invQt)
			return false
		})
	}
	return 1 / large, 1 / small
}

// alignment scales a member to a driver.
func (f family) alignment(m member, s SmallSignal) (Alignment, error) {
	s.Qt = 1 / m.invQt
	a1, a2, a3 := m.a[0], m.a[1], m.a[2]
	// 1/|G|² over y = 1/|s|²
	p := []float64{1, a1*a1 - 2*a2, a2*a2 + 2 - 2*a1*a3, a3*a3 - 2*a2, 1}
	half := append([]float64{-1}, p[1:]...) // = 2 at half power
	y := roots(half, 0, bound(half))
	least := 1.0
	for _, y := range roots([]float64{p[1], 2 * p[2], 3 * p[3], 4}, 0, bound([]float64{p[1], 2 * p[2], 3 * p[3], 4})) {
		least = math.Min(least, horner(p, y))
	}
	fb := m.h * s.Fs
	if len(y) == 0 || !positive(s.Vas/m.alpha, fb, math.Sqrt(s.Fs*fb/y[0])) {
		return Alignment{}, fmt.Errorf("enclosure: a box of %v for Fs %g Hz, Qt %g and Vas %g m³ would have %g m³ and fb %g Hz, want finite values > 0", f.kind, s.Fs, s.Qt, s.Vas, s.Vas/m.alpha, fb)
	}
	return Alignment{
		Kind: f.kind, QL: f.ql, Driver: s, Vb: s.Vas / m.alpha, Fb: fb, Alpha: m.alpha, H: m.h,
		F3: math.Sqrt(s.Fs * fb / y[0]), Peak: level.PowerDB(1 / least), Parameter: m.parameter,
	}, nil
}
