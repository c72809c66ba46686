package release

import (
	"cmp"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
)

// Dip is a stretch where the measurement falls below its surroundings, against the
// prediction.
type Dip struct {
	From   float64 `col:"from" unit:"Hz" fmt:"%.0f"`
	To     float64 `col:"to" unit:"Hz" fmt:"%.0f"`
	At     float64 `col:"at" unit:"Hz" fmt:"%.0f"`     // of its bottom
	Depth  float64 `col:"depth" unit:"dB" fmt:"%.1f"`  // below the surroundings, > 0
	Around float64 `col:"around" unit:"dB" fmt:"%.1f"` // the error of the surroundings at the bottom
}

// dips finds the stretches of from … to at which an error, in dB, is below the median
// of its surroundings by half of Bounds.Dip, and at their bottom by all of it. The
// surroundings are twice the width of the narrowest section to each side: a dip that
// fills them is none, and a section may follow it.
func (b Bounds) dips(e freq.Curve, from, to float64) (out []Dip) {
	g := e.Grid()
	// The width of a peak between the points of half its gain in dB (R.
	// Bristow-Johnson's definition): 1/Q = 2·sinh(ln2/2·N), N octaves.
	side := math.Exp2(2 * 2 / math.Ln2 * math.Asinh(1/(2*b.Q)))
	i0, i1 := g.Between(from, to)
	type point struct{ value, share float64 }
	var around []point
	open := false
	for i := i0; i < i1; i++ {
		// On both sides alike, or a slope at the end of the band were a dip.
		reach := min(side, g.At(i)/g.At(i0), g.At(i1-1)/g.At(i))
		lo, hi := g.Between(g.At(i)/reach*(1-1e-12), g.At(i)*reach*(1+1e-12))
		around = around[:0]
		var half float64
		for k := lo; k < hi; k++ {
			around = append(around, point{e.At(k), share(g, k)})
			half += share(g, k) / 2
		}
		slices.SortFunc(around, func(a, b point) int { return cmp.Compare(a.value, b.value) })
		var median float64
		for _, p := range around {
			median = p.value
			if half -= p.share; half <= 0 {
				break
			}
		}
		depth := median - e.At(i)
		if depth < b.Dip/2 {
			open = false
			continue
		}
		if !open {
			out = append(out, Dip{From: g.At(i)})
			open = true
		}
		d := &out[len(out)-1]
		d.To = g.At(i)
		if depth > d.Depth {
			d.At, d.Depth, d.Around = g.At(i), depth, median
		}
	}
	return slices.DeleteFunc(out, func(d Dip) bool { return d.Depth < b.Dip })
}
