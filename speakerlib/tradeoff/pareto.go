package tradeoff

import (
	"cmp"
	"fmt"
	"slices"
)

// Front returns the points that no other one dominates: that is at least as good in
// every objective and better in one. It is exact; points that are alike in all
// objectives are all kept, and a difference of rounding is a difference. The front is in ascending order of the first objective,
// then of the next, then of the points given. Sorted so, none can be dominated by a
// later one, and each is compared with the front before it only (H. T. Kung,
// F. Luccio and F. P. Preparata, "On Finding the Maxima of a Set of Vectors", J. ACM
// 22, 1975, begin alike; from memory).
func Front(points []Point, objectives ...Objective) []Point {
	if len(objectives) == 0 {
		panic("tradeoff: front without an objective")
	}
	all := make([]int, len(points))
	for i := range all {
		all[i] = i
	}
	return front(points, all, objectives)
}

// front is the Front of the points of the indices.
func front(points []Point, indices []int, objectives []Objective) []Point {
	k := len(objectives)
	values := make([]float64, len(indices)*k)
	index := make([]int, len(indices)) // into indices
	for n, i := range indices {
		index[n] = n
		for m, o := range objectives {
			values[n*k+m] = o.of(&points[i])
		}
	}
	of := func(n int) []float64 { return values[n*k : n*k+k] }
	slices.SortFunc(index, func(a, b int) int {
		if c := slices.Compare(of(a), of(b)); c != 0 {
			return c
		}
		return cmp.Compare(a, b)
	})
	var kept []int  // in order
	var ready []int // the same, those that dominated lately nearer to the beginning
	for _, n := range index {
		v := of(n)
		by := slices.IndexFunc(ready, func(m int) bool { return dominates(of(m), v) })
		if by < 0 {
			kept, ready = append(kept, n), append(ready, n)
			continue
		}
		ready[by/2], ready[by] = ready[by], ready[by/2]
	}
	out := make([]Point, len(kept))
	for m, n := range kept {
		out[m] = points[indices[n]]
	}
	return out
}

// Choose returns, of the points that are wanted, the one with the most margin: that
// uses the least of its tightest bound; of equals the first. It is an error if none is
// wanted.
func Choose(points []Point, wanted func(p *Point) bool) (Point, error) {
	best := -1
	for i := range points {
		if wanted(&points[i]) && (best < 0 || points[i].Used < points[best].Used) {
			best = i
		}
	}
	if best < 0 {
		return Point{}, fmt.Errorf("tradeoff: none of %d points is what is wanted", len(points))
	}
	return points[best], nil
}

// dominates reports whether a is nowhere worse than b, and better somewhere.
func dominates(a, b []float64) bool {
	better := false
	for i, x := range a {
		if x > b[i] {
			return false
		}
		better = better || x < b[i]
	}
	return better
}
