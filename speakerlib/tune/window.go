package tune

import (
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// window is the power average at one point of a grid as a linear function of the
// values from point first on.
type window struct {
	first  int
	weight []float64
}

func (w window) of(v []float64) (sum float64) {
	for k, x := range w.weight {
		sum += x * v[w.first+k]
	}
	return sum
}

// windows returns the averages of [freq.Response.SmoothPower] over 1/n octave: values
// linear over ln f between the points, the window cut on both sides alike near the
// ends.
func windows(g *freq.Grid, perOctave float64) []window {
	n := g.Len()
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Log(g.At(i))
	}
	out := make([]window, n)
	for i := range out {
		half := min(math.Ln2/(2*perOctave), x[i]-x[0], x[n-1]-x[i])
		if half <= 0 {
			out[i] = window{i, []float64{1}}
			continue
		}
		a, b := x[i]-half, x[i]+half
		first := i
		for first > 0 && x[first] > a {
			first--
		}
		last := i
		for last < n-1 && x[last] < b {
			last++
		}
		w := make([]float64, last-first+1)
		for k := first; k < last; k++ {
			// ∫ over the part of the interval inside a … b, by its middle: exact of
			// a straight line.
			lo, hi := max(a, x[k]), min(b, x[k+1])
			if hi <= lo {
				continue
			}
			t := ((lo+hi)/2 - x[k]) / (x[k+1] - x[k])
			w[k-first] += (1 - t) * (hi - lo) / (b - a)
			w[k-first+1] += t * (hi - lo) / (b - a)
		}
		out[i] = window{first, w}
	}
	return out
}
