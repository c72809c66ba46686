package freq

// windowMeans returns at each point the mean of v over x within half to both sides,
// v taken as linear over x between the points; the integral is then exact. Near the
// ends of x the window is cut on both sides alike, so that a sloping v is not biased,
// and at the very ends it is the point itself. x must not fall.
func windowMeans(x, v []float64, half float64) []float64 {
	n := len(x)
	out := make([]float64, n)
	lo := 0
	for i := range x {
		h := min(half, x[i]-x[0], x[n-1]-x[i])
		a, b := x[i]-h, x[i]+h
		if a == b { // float64 does not tell the window from the point
			out[i] = v[i]
			continue
		}
		for lo > 0 && x[lo] > a {
			lo--
		}
		for x[lo+1] <= a {
			lo++
		}
		// The pieces of the window are added up afresh: differences of a running
		// sum would lose the precision of a value far below the rest.
		var sum float64
		for k := lo; k+1 < n && x[k] < b; k++ {
			from, to := max(a, x[k]), min(b, x[k+1])
			if from >= to { // points so close that their places are one
				continue
			}
			slope := (v[k+1] - v[k]) / (x[k+1] - x[k])
			sum += (to - from) * (v[k] + slope*((from+to)/2-x[k]))
		}
		out[i] = sum / (b - a)
	}
	return out
}
