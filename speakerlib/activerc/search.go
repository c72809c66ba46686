package activerc

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"
)

// finder keeps the combinations of values whose transfer is nearest to a target.
//
// The error is the largest deviation of the complex response over the points, |H − H_t|
// relative to |H_t| or, where the target is below a hundredth of its largest, to that
// hundredth: 0.01 is 0.087 dB or 0.57°.
type finder struct {
	points []point
	keep   int
	enough float64 // squares of the error below this are alike
	weigh  func(v []float64) float64
	found  []candidate // ascending
	tried  int
}

type point struct {
	w, w2    float64
	h        complex128
	inverse2 float64 // 1/weight²
}

type candidate struct {
	error2, cost float64
	values       []float64
}

const floor = 0.01

// newFinder takes the points from a decade below the lowest corner of the target to a decade
// above its highest, 6 to the decade, and more around every corner. weigh tells apart what is
// alike; nil is nothing.
func newFinder(target ratio, keep int, enough float64, weigh func(v []float64) float64) *finder {
	var corners, around []float64
	for _, p := range [][4]float64{target.d, target.n} {
		switch {
		case p[2] != 0 && p[0] != 0:
			w := math.Sqrt(math.Abs(p[0] / p[2]))
			half := math.Abs(p[1]/p[2]) / (2 * w)
			corners = append(corners, w)
			half = min(half, 1)
			for _, k := range []float64{-2, -1, -0.5, 0.5, 1, 2} {
				around = append(around, w*math.Exp(k*half))
			}
		case p[1] != 0 && p[0] != 0:
			corners = append(corners, math.Abs(p[0]/p[1]))
		}
	}
	// zeros four decades away from the poles are no part of what is seen of them
	const far = 1e4
	corners = slices.DeleteFunc(corners, func(w float64) bool { return !(w > corners[0]/far && w < corners[0]*far) })
	ws := append(slices.Clone(corners), around...)
	lo, hi := slices.Min(corners)/10, slices.Max(corners)*10
	for k, n := 0, int(math.Ceil(6*math.Log(hi/lo)/math.Ln10)); k <= n; k++ {
		ws = append(ws, lo*math.Pow(hi/lo, float64(k)/float64(n)))
	}
	f := &finder{keep: keep, enough: enough * enough, weigh: weigh}
	most := 0.0
	for _, w := range ws {
		h := target.at(w)
		most = max(most, cmplx.Abs(h))
		f.points = append(f.points, point{w: w, w2: w * w, h: h})
	}
	for i := range f.points {
		p := &f.points[i]
		weight := max(cmplx.Abs(p.h), floor*most)
		p.inverse2 = 1 / (weight * weight)
	}
	return f
}

// error2 returns the square of the error, or some value above limit as soon as it is there.
func (f *finder) error2(r *ratio, limit float64) float64 {
	worst := 0.0
	for i := range f.points {
		p := &f.points[i]
		nr, ni := r.n[0]-r.n[2]*p.w2, p.w*(r.n[1]-r.n[3]*p.w2)
		dr, di := r.d[0]-r.d[2]*p.w2, p.w*(r.d[1]-r.d[3]*p.w2)
		er := nr - (real(p.h)*dr - imag(p.h)*di)
		ei := ni - (real(p.h)*di + imag(p.h)*dr)
		e, d := (er*er+ei*ei)*p.inverse2, dr*dr+di*di
		if e > worst*d {
			worst = e / d
			if worst > limit {
				return worst
			}
		}
	}
	return worst
}

// consider keeps the values if they are among the best. It copies them.
func (f *finder) consider(r ratio, values []float64) {
	f.tried++
	limit := math.Inf(1)
	if len(f.found) == f.keep {
		limit = max(f.found[f.keep-1].error2, f.enough)
	}
	e := f.error2(&r, limit)
	if e > limit {
		return
	}
	c := candidate{error2: e, values: values}
	if f.weigh != nil {
		c.cost = f.weigh(values)
	}
	i, _ := slices.BinarySearchFunc(f.found, c, f.compare)
	if i == f.keep || i < len(f.found) && slices.Equal(f.found[i].values, values) {
		return
	}
	if len(f.found) == f.keep {
		c.values = append(f.found[f.keep-1].values[:0], values...)
		copy(f.found[i+1:], f.found[i:])
	} else {
		c.values = slices.Clone(values)
		f.found = slices.Insert(f.found, i, candidate{})
	}
	f.found[i] = c
}

// compare orders by error, and what is alike by cost.
func (f *finder) compare(a, b candidate) int {
	if x := cmp.Compare(max(a.error2, f.enough), max(b.error2, f.enough)); x != 0 {
		return x
	}
	return cmp.Compare(a.cost, b.cost)
}

// search returns the values of the layout that come nearest to the target, and their error.
// It enumerates all combinations near solutions of the design equations, keeps the best, and
// improves each of these by moving any two of its values by up to three steps of their series
// until nothing is gained.
func (l *layout) search(target ratio, b bin, enough float64) (values []float64, e float64, tried int) {
	if l.inverts {
		for i := range target.n {
			target.n[i] = -target.n[i]
		}
	}
	middle := math.Log(math.Sqrt(b.r[0] * b.r[len(b.r)-1]))
	weigh := func(v []float64) float64 {
		sum := 0.0
		for i, s := range l.slots {
			if s.kind == Resistor {
				d := math.Log(v[i]) - middle
				sum += d * d
			}
		}
		return sum
	}
	f := newFinder(target, 48, enough, weigh)
	b.last = make([]float64, 0, len(l.slots))
	l.enumerate(b, func(v []float64) { f.consider(l.ideal(v), v) })
	if len(f.found) == 0 {
		return nil, 0, f.tried
	}
	best := candidate{error2: math.Inf(1)}
	for _, c := range f.found {
		if c = l.climb(f, c, b); f.compare(c, best) < 0 {
			best = c
		}
	}
	return best.values, math.Sqrt(best.error2), f.tried
}

// climb moves two values at a time as long as that helps.
func (l *layout) climb(f *finder, c candidate, b bin) candidate {
	const steps = 3
	n := len(l.slots)
	lists := make([][]float64, n)
	at := make([]int, n)
	v := slices.Clone(c.values)
	for i, s := range l.slots {
		lists[i] = b.of(s.kind)
		at[i] = nearest(lists[i], v[i])
	}
	try := func(best *candidate) bool {
		f.tried++
		r := l.ideal(v)
		e := f.error2(&r, max(best.error2, f.enough))
		if e > max(best.error2, f.enough) {
			return false
		}
		t := candidate{error2: e, cost: f.weigh(v), values: v}
		if f.compare(t, *best) >= 0 {
			return false
		}
		best.error2, best.cost = t.error2, t.cost
		copy(best.values, v)
		return true
	}
	best := candidate{c.error2, c.cost, slices.Clone(v)}
	for range 100 {
		start := slices.Clone(best.values)
		improved := false
		for i := range n {
			for di := -steps; di <= steps; di++ {
				if at[i]+di < 0 || at[i]+di >= len(lists[i]) {
					continue
				}
				v[i] = lists[i][at[i]+di]
				for j := i + 1; j < n; j++ {
					for dj := -steps; dj <= steps; dj++ {
						if at[j]+dj < 0 || at[j]+dj >= len(lists[j]) {
							continue
						}
						v[j] = lists[j][at[j]+dj]
						improved = try(&best) || improved
					}
					v[j] = start[j]
				}
				if n == 1 {
					improved = try(&best) || improved
				}
			}
			v[i] = start[i]
		}
		if !improved {
			break
		}
		copy(v, best.values)
		for i := range v {
			at[i] = nearest(lists[i], v[i])
		}
	}
	return best
}
