package dsp

import (
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/digital"
)

// maxAll is the most sections of which all orders are tried.
const maxAll = 7

// ordering weighs orders of sections by the noise at the output, on a grid of
// frequencies on which second-order sections are smooth.
type ordering struct {
	weight []float64   // of each frequency: df, over half the sample rate
	power  [][]float64 // |H|² of each section
	noise  [][]float64 // density of what each adds at its output, times half the sample rate
	norm   Norm
	limit  float64
}

func newOrdering(c *digital.Cascade, choices []Choice, a Arithmetic, o Options) *ordering {
	fs := c.SampleRate()
	out := &ordering{norm: o.Scaling, limit: a.Signal.Limit() / o.Reserve}
	const step = 1. / 24
	var hz []float64
	for x := -14.; x <= 7; x += step {
		e := math.Exp(x)
		hz = append(hz, math.Atan(e)*fs/math.Pi)
		out.weight = append(out.weight, 2/math.Pi*e/(1+e*e)*step)
	}
	for i, ch := range choices {
		alt := ch.Alternatives[ch.Chosen]
		p := &Program{SampleRate: fs, Arithmetic: a}
		h, d := make([]float64, len(hz)), make([]float64, len(hz))
		// It was placed alone before.
		s, err := place(p, c.At(i), "", alt, 0, o)
		if err == nil {
			p.Sections = []Section{s}
			var n *Noise
			if n, err = p.Noise(0.5); err == nil {
				for k, f := range hz {
					d[k] = math.Ldexp(n.at(f), -2*s.Scale)
				}
			}
		}
		if err != nil {
			panic("dsp: a section that was examined cannot be placed")
		}
		for k, f := range hz {
			h[k] = power(c.At(i).At(f, fs))
		}
		out.power, out.noise = append(out.power, h), append(out.noise, d)
	}
	return out
}

// cost is the noise at the output of an order.
func (o *ordering) cost(order []int) float64 {
	// What is added in the chain so far, scaled to the level of the design.
	sum, h := make([]float64, len(o.weight)), make([]float64, len(o.weight))
	for k := range h {
		h[k] = 1
	}
	for _, i := range order {
		var top, energy float64
		for k, p := range o.power[i] {
			h[k] *= p
			sum[k] *= p
			top = math.Max(top, h[k])
			energy += h[k] * o.weight[k]
		}
		n := math.Sqrt(top)
		if o.norm == LTwo {
			n = math.Sqrt(energy)
		}
		scale := 1.
		if o.norm != Unscaled && n > o.limit {
			scale = math.Exp2(2 * math.Ceil(math.Log2(n/o.limit)-1e-9))
		}
		for k, d := range o.noise[i] {
			sum[k] += d * scale
		}
	}
	var total float64
	for k, s := range sum {
		total += s * o.weight[k]
	}
	return total
}

// best searches the order of least cost; of equal ones the first in the order of the
// given sections.
func (o *ordering) best() []int {
	order := make([]int, len(o.power))
	for i := range order {
		order[i] = i
	}
	best, least := slices.Clone(order), o.cost(order)
	try := func(order []int) bool {
		// A gain below a part in 10⁶ is none.
		if c := o.cost(order); c < least*(1-1e-6) {
			best, least = slices.Clone(order), c
			return true
		}
		return false
	}
	if len(order) <= maxAll {
		var walk func(k int)
		walk = func(k int) {
			if k == len(order) {
				try(order)
				return
			}
			for i := k; i < len(order); i++ {
				order[k], order[i] = order[i], order[k]
				walk(k + 1)
				order[k], order[i] = order[i], order[k]
			}
		}
		walk(0)
		return best
	}
	for better := true; better; {
		better = false
		for i := range best {
			for j := range best {
				if i == j {
					continue
				}
				swapped := slices.Clone(best)
				swapped[i], swapped[j] = swapped[j], swapped[i]
				moved := slices.Delete(slices.Clone(best), i, i+1)
				moved = slices.Insert(moved, j, best[i])
				better = try(swapped) || better
				better = try(moved) || better
			}
		}
	}
	return best
}
