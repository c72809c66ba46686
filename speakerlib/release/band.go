package release

import (
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Band is the error of the shape in a band.
type Band struct {
	From  float64 `col:"from" unit:"Hz" fmt:"%.0f"`
	To    float64 `col:"to" unit:"Hz" fmt:"%.0f"`
	Mean  float64 `col:"mean" unit:"dB" fmt:"%.2f"` // by log frequency
	RMS   float64 `col:"rms" unit:"dB" fmt:"%.2f"`
	Worst float64 `col:"worst" unit:"dB" fmt:"%.2f"` // of the largest magnitude
	At    float64 `col:"at" unit:"Hz" fmt:"%.0f"`
}

// Span is a stretch of frequencies beyond a bound.
type Span struct {
	From  float64 `col:"from" unit:"Hz" fmt:"%.0f"`
	To    float64 `col:"to" unit:"Hz" fmt:"%.0f"`
	Worst float64 `col:"worst" unit:"dB" fmt:"%.2f"` // the value farthest beyond
	At    float64 `col:"at" unit:"Hz" fmt:"%.0f"`
}

// beyond lists the stretches of points from i0 on at which the magnitude is above a
// bound.
func beyond(c freq.Curve, i0 int, bound []float64) (out []Span) {
	g, open := c.Grid(), false
	for k, most := range bound {
		f, v := g.At(i0+k), c.At(i0+k)
		if math.Abs(v) <= most {
			open = false
			continue
		}
		if !open {
			out = append(out, Span{From: f})
			open = true
		}
		s := &out[len(out)-1]
		s.To = f
		if math.Abs(v) >= math.Abs(s.Worst) {
			s.Worst, s.At = v, f
		}
	}
	return out
}

// edges returns the edges of the bands within from … to, both included.
func (j Judge) edges(from, to float64) []float64 {
	all := j.Bands
	if all == nil {
		for k := -6; k <= 5; k++ {
			all = append(all, 1000*math.Exp2(float64(k)-0.5))
		}
	}
	out := []float64{from}
	for _, f := range all {
		if f > from && f < to {
			out = append(out, f)
		}
	}
	return append(out, to)
}

// bands returns the errors between edges; a band without a point is left out.
func bands(c freq.Curve, edges []float64) (out []Band) {
	g := c.Grid()
	for k := range len(edges) - 1 {
		i, j := g.Between(edges[k], edges[k+1])
		if k+2 < len(edges) && j > i && g.At(j-1) == edges[k+1] {
			j-- // belongs to the next
		}
		if i == j {
			continue
		}
		b := Band{From: edges[k], To: edges[k+1]}
		var weight, mean, square float64
		for ; i < j; i++ {
			v, w := c.At(i), share(g, i)
			weight, mean, square = weight+w, mean+w*v, square+w*v*v
			if math.Abs(v) >= math.Abs(b.Worst) {
				b.Worst, b.At = v, g.At(i)
			}
		}
		b.Mean, b.RMS = mean/weight, math.Sqrt(square/weight)
		out = append(out, b)
	}
	return out
}

// share is what a point stands for in ln f.
func share(g *freq.Grid, i int) float64 {
	if g.Len() == 1 {
		return 1
	}
	lo, hi := max(0, i-1), min(g.Len()-1, i+1)
	return math.Log(g.At(hi)/g.At(lo)) / float64(hi-lo)
}
