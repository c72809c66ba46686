package measure

import (
	"fmt"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
)

// Residual returns what is left between two responses that [Splice] has joined: the
// upper one over the lower one with the gain and the delay of the join, on a grid
// within what is known of both. It is a ratio, 1 where they agree; its DB(1) and
// Phase are the curves to show beside a splice, over the band of the join and beyond
// it, where they tell how each of the two goes wrong.
func (j Join) Residual(lower, upper freq.Response, g *freq.Grid) (freq.Response, error) {
	if !(j.Gain > 0) {
		return freq.Response{}, fmt.Errorf("measure: residual of a join with a gain of %g, want one that Splice gave", j.Gain)
	}
	if lower.Basis() != upper.Basis() {
		return freq.Response{}, fmt.Errorf("measure: residual of %q (%v) and %q (%v), want the same basis", lower.Label(), lower.Basis(), upper.Label(), upper.Basis())
	}
	l, err := Resample(lower, g)
	if err != nil {
		return freq.Response{}, err
	}
	u, err := Resample(upper, g)
	if err != nil {
		return freq.Response{}, err
	}
	v := u.Values()
	for i, w := range g.Omega() {
		v[i] /= l.At(i) * cmplx.Rect(j.Gain, -w*j.Delay)
	}
	return freq.NewResponse(g, v, upper.Label()+" over "+lower.Label(), freq.Basis{})
}
