package tune

import (
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// points are what a fit looks at: frequencies, what is needed there (source − target,
// nepers), and how much each counts, Σw² = 1.
type points struct {
	grid   *freq.Grid
	need   []float64
	weight []float64
}

// coarse returns fewer points that stand for blocks of n neighbours: the mean of what
// they need, weighted, at the mean of their ln f, with all of their weight. A filter of
// moderate Q changes little within a block, so that the minimum is nearly the same.
func (p points) coarse(n int) (points, error) {
	var hz []float64
	var out points
	for i := 0; i < len(p.need); i += n {
		var w2, need, lnf float64
		j := min(i+n, len(p.need))
		for k := i; k < j; k++ {
			w := p.weight[k] * p.weight[k]
			w2 += w
			need += w * p.need[k]
			lnf += math.Log(p.grid.At(k)) / float64(j-i)
		}
		if w2 > 0 {
			need /= w2
		}
		hz = append(hz, math.Exp(lnf))
		out.need, out.weight = append(out.need, need), append(out.weight, math.Sqrt(w2))
	}
	var err error
	out.grid, err = freq.NewGrid(hz)
	return out, err
}
