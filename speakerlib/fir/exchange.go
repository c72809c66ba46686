package fir

import (
	"fmt"
	"math"
	"slices"
)

// exchange is the state of the search: the grid, and the interpolation through
// the r+1 extremals.
type exchange struct {
	r          int
	x, want, w []float64 // cos 2πf, the goal and its weight, on the grid
	first      []bool    // a point that begins a goal
	coarse     []int     // where the error is looked at first
	err        []float64
	seen       []int // where it is known, in this exchange
	stamp      []int // the exchange in which it became known
	turn       int

	at        []int     // extremals
	node, val []float64 // their x and the value of P there
	bary      []float64
	dev       float64
	found     []int
}

func newExchange(sampleRate float64, taps int, goals []Goal) *exchange {
	e := &exchange{r: (taps + 1) / 2}
	step := 0.5 / float64(density*e.r)
	for _, b := range goals {
		lo, hi := b.Lo/sampleRate, math.Min(b.Hi/sampleRate, 0.5)
		begin := true
		add := func(f float64) {
			want, w := b.Gain, b.Weight
			if taps%2 == 0 {
				c := math.Cos(math.Pi * f)
				if c < math.Pi*step/2 {
					return // the zero of the factor
				}
				want, w = want/c, w*c
			}
			e.x = append(e.x, math.Cos(2*math.Pi*f))
			e.want, e.w = append(e.want, want), append(e.w, w)
			e.first = append(e.first, begin)
			begin = false
		}
		f := lo
		for ; f+step <= hi; f += step {
			add(f)
		}
		add(hi)
	}
	e.err, e.stamp = make([]float64, len(e.x)), make([]int, len(e.x))
	// Every fourth point, a quarter of a lobe, but all of them near the ends of
	// goals, where lobes are narrow.
	last := 0
	for i := range e.x {
		if e.first[i] {
			last = i
		}
		next := i
		for next < len(e.x) && next <= i+2*density && (next == i || !e.first[next]) {
			next++
		}
		if i-last <= 2*density || next <= i+2*density || (i-last)%4 == 0 {
			e.coarse = append(e.coarse, i)
		}
	}
	n := e.r + 1
	e.at = make([]int, n)
	e.node, e.val, e.bary = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range e.at {
		e.at[i] = i * (len(e.x) - 1) / e.r
	}
	return e
}

func (e *exchange) run() (int, error) {
	const most = 100
	for n := 1; n <= most; n++ {
		e.interpolate()
		e.turn++
		// At the extremals the error is known, and its sign must not be lost.
		sign := e.dev
		for _, i := range e.at {
			e.err[i], e.stamp[i] = sign, e.turn
			sign = -sign
		}
		e.look()
		worst := e.search()
		settled := func() bool { return slices.Equal(e.found, e.at) || worst <= math.Abs(e.dev)*(1+1e-13) }
		if settled() { // as far as it was looked at
			for i := range e.x {
				e.know(i)
			}
			worst = e.search()
		}
		if math.IsNaN(worst) || len(e.found) != e.r+1 {
			return n, fmt.Errorf("fir: equal ripple with %d coefficients lost its alternation in exchange %d, at a ripple of %.3g: the goals leave more room than the taps need, want fewer taps", e.r, n, math.Abs(e.dev))
		}
		if settled() {
			return n, nil
		}
		copy(e.at, e.found)
	}
	return most, fmt.Errorf("fir: equal ripple with %d coefficients did not settle in %d exchanges, at a ripple of %.3g: the goals leave more room than the taps need, want fewer taps", e.r, most, math.Abs(e.dev))
}

// know returns the weighted error at point i.
func (e *exchange) know(i int) float64 {
	if e.stamp[i] != e.turn {
		e.err[i] = e.w[i] * (e.want[i] - e.value(e.x[i]))
		e.stamp[i] = e.turn
	}
	return e.err[i]
}

// look finds the error at the coarse points, and from the tops among them climbs
// to the tops of the grid.
func (e *exchange) look() {
	for _, i := range e.coarse {
		e.know(i)
	}
	for k, i := range e.coarse {
		v := math.Abs(e.err[i])
		if k > 0 && math.Abs(e.err[e.coarse[k-1]]) > v || k+1 < len(e.coarse) && math.Abs(e.err[e.coarse[k+1]]) > v {
			continue
		}
		for _, step := range [2]int{-1, 1} {
			for at := i; ; {
				from := at
				if step > 0 {
					from = at + 1
				}
				if from >= len(e.x) || e.first[from] || math.Abs(e.know(at+step)) <= math.Abs(e.err[at]) {
					break
				}
				at += step
			}
		}
	}
}

// interpolate finds the deviation and the values at the extremals, and the
// weights of the barycentric formula through all of them.
func (e *exchange) interpolate() {
	for k, i := range e.at {
		e.node[k] = e.x[i]
	}
	for k, x := range e.node {
		// Twice the difference: the interval −1 … 1 has the capacity ½.
		p, q := 1.0, 1.0
		for _, y := range e.node[:k] {
			p *= 2 * (x - y)
		}
		for _, y := range e.node[k+1:] {
			q *= 2 * (x - y)
		}
		e.bary[k] = 1 / (p * q)
	}
	var num, den float64
	sign := 1.0
	for k, i := range e.at {
		num += e.bary[k] * e.want[i]
		den += sign * e.bary[k] / e.w[i]
		sign = -sign
	}
	e.dev = num / den
	sign = 1
	for k, i := range e.at {
		e.val[k] = e.want[i] - sign*e.dev/e.w[i]
		sign = -sign
	}
}

// value returns P at x: Σ wₖyₖ/(x−xₖ) over Σ wₖ/(x−xₖ). Four terms share one
// division, which is what the time goes into.
func (e *exchange) value(x float64) float64 {
	node, val, bary := e.node, e.val, e.bary
	val, bary = val[:len(node)], bary[:len(node)]
	var num, den float64
	k := 0
	for ; k+4 <= len(node); k += 4 {
		a, b, c, d := x-node[k], x-node[k+1], x-node[k+2], x-node[k+3]
		ab, cd := a*b, c*d
		if ab*cd == 0 {
			break
		}
		r := 1 / (ab * cd)
		ra, rc := r*cd, r*ab
		a, b, c, d = bary[k]*(ra*b), bary[k+1]*(ra*a), bary[k+2]*(rc*d), bary[k+3]*(rc*c)
		den += (a + b) + (c + d)
		num += (a*val[k] + b*val[k+1]) + (c*val[k+2] + d*val[k+3])
	}
	for ; k < len(node); k++ {
		d := x - node[k]
		if d == 0 {
			return val[k]
		}
		d = bary[k] / d
		den += d
		num += d * val[k]
	}
	return num / den
}

// search finds the extremals of the error that alternate in sign, and returns the
// largest error. If there are too many it drops the smallest, so that signs go on
// alternating.
func (e *exchange) search() float64 {
	e.found, e.seen = e.found[:0], e.seen[:0]
	for i, turn := range e.stamp {
		if turn == e.turn {
			e.seen = append(e.seen, i)
		}
	}
	var worst float64
	floor := math.Abs(e.dev) * (1 - 1e-9)
	for k, i := range e.seen {
		v := e.err[i]
		a := math.Abs(v)
		worst = math.Max(worst, a)
		if math.IsNaN(v) {
			return v
		}
		if a < floor {
			continue
		}
		up := v > 0
		if k > 0 && !e.first[i] {
			if u := e.err[e.seen[k-1]]; u != v && (u > v) == up {
				continue // the one before is further out
			}
		}
		if k+1 < len(e.seen) && !e.first[e.seen[k+1]] {
			if u := e.err[e.seen[k+1]]; u != v && (u > v) == up {
				continue
			}
		}
		if n := len(e.found); n > 0 && (e.err[e.found[n-1]] > 0) == up {
			if a > math.Abs(e.err[e.found[n-1]]) {
				e.found[n-1] = i
			}
			continue
		}
		e.found = append(e.found, i)
	}
	size := func(k int) float64 { return math.Abs(e.err[e.found[k]]) }
	for len(e.found) > e.r+1 {
		n := len(e.found)
		if n == e.r+2 {
			if size(0) < size(n-1) {
				e.found = e.found[:copy(e.found, e.found[1:])]
			} else {
				e.found = e.found[:n-1]
			}
			break
		}
		// The smaller end alone, or the smallest neighbours together.
		at, least := -1, math.Min(size(0), size(n-1))
		for k := range n - 1 {
			if m := math.Max(size(k), size(k+1)); m < least {
				at, least = k, m
			}
		}
		switch {
		case at >= 0:
			e.found = slices.Delete(e.found, at, at+2)
		case size(0) < size(n-1):
			e.found = slices.Delete(e.found, 0, 1)
		default:
			e.found = e.found[:n-1]
		}
	}
	return worst
}

// bulge returns the largest |P| over 4r points of all frequencies relative to the
// largest goal, and where it is.
func (e *exchange) bulge(sampleRate float64) (ratio, hz float64) {
	var top float64
	for _, v := range e.want {
		top = math.Max(top, math.Abs(v))
	}
	for i := range 4*e.r + 1 {
		f := float64(i) / float64(8*e.r)
		if v := math.Abs(e.value(math.Cos(2 * math.Pi * f))); v > ratio {
			ratio, hz = v, f*sampleRate
		}
	}
	return ratio / (top + math.Abs(e.dev)), hz
}

// coefficients returns the r coefficients a of P = Σ a[k]·cos(kω), from 2r−1
// equally spaced samples of it.
func (e *exchange) coefficients() []float64 {
	r := e.r
	n := 2*r - 1
	cos := make([]float64, n)
	for k := range cos {
		cos[k] = math.Cos(2 * math.Pi * float64(k) / float64(n))
	}
	p := make([]float64, r)
	for m := range p {
		p[m] = e.value(cos[m])
	}
	a := make([]float64, r)
	for k := range a {
		sum := p[0] / 2
		at := 0
		for m := 1; m < r; m++ {
			if at += k; at >= n {
				at -= n
			}
			sum += p[m] * cos[at]
		}
		a[k] = 4 * sum / float64(n)
	}
	a[0] /= 2
	return a
}
