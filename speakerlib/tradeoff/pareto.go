package tradeoff

import (
	"cmp"
	"slices"
)

// Front returns the points that no other one dominates: that is at least as good in
// every objective and better in one. It is exact; points that are alike in all
// objectives are all kept. The front is in ascending order of the first objective,
// then of the next, then of the points given. Sorted so, none can be dominated by a
// later one, and each is compared with the front before it only (H. T. Kung,
// F. Luccio and F. P. Preparata, "On Finding the Maxima of a Set of Vectors", J. ACM
// 22, 1975, begin alike; from memory).
func Front(points []Point, objectives ...Objective) []Point {
	k := len(objectives)
	if k == 0 {
		panic("tradeoff: front without an objective")
	}
	values := make([]float64, len(points)*k)
	index := make([]int, len(points))
	for i := range points {
		index[i] = i
		for n, o := range objectives {
			values[i*k+n] = o.of(&points[i])
		}
	}
	of := func(i int) []float64 { return values[i*k : i*k+k] }
	slices.SortFunc(index, func(a, b int) int {
		if c := slices.Compare(of(a), of(b)); c != 0 {
			return c
		}
		return cmp.Compare(a, b)
	})
	var front []int // in order
	var ready []int // the same, those that dominated last in front
	for _, i := range index {
		v := of(i)
		by := slices.IndexFunc(ready, func(j int) bool { return dominates(of(j), v) })
		if by < 0 {
			front, ready = append(front, i), append(ready, i)
			continue
		}
		ready[by/2], ready[by] = ready[by], ready[by/2]
	}
	out := make([]Point, len(front))
	for n, i := range front {
		out[n] = points[i]
	}
	return out
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
