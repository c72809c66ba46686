package figure

import "math"

// alike is the part of the range of values within which they are the same: more than
// rounding leaves, and less than anybody reads off.
const alike = 1e-9

// extremes returns where rows of values are highest and lowest, as column and row. NaN is
// no value. Of places that are alike the first is named: on what is symmetric the last digit
// would decide between a place and its mirror image, and that is another one on another
// processor.
func extremes(rows ...[]float64) (hi, lo [2]int) {
	most, least := math.Inf(-1), math.Inf(1)
	floor := math.Inf(1) // the least that is finite: silence has no level
	for _, row := range rows {
		for _, v := range row {
			if math.IsNaN(v) {
				continue
			}
			most, least = max(most, v), min(least, v)
			if !math.IsInf(v, -1) {
				floor = min(floor, v)
			}
		}
	}
	slack := 0.0
	if floor < most {
		slack = alike * (most - floor)
	}
	first := func(is func(v float64) bool) [2]int {
		for j, row := range rows {
			for i, v := range row {
				if is(v) {
					return [2]int{i, j}
				}
			}
		}
		return [2]int{}
	}
	return first(func(v float64) bool { return v >= most-slack }), first(func(v float64) bool { return v <= least+slack })
}
