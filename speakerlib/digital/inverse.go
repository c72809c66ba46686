package digital

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Inverse returns the cascade that takes this one back to unity, zeros and poles
// exchanged. Only a cascade of minimum phase has one: a zero on or outside the unit
// circle, or a delay, is an error that says where and by how much. What the cascade
// cuts deeply its inverse boosts as much: mind headroom, excursion and heat.
func (c *Cascade) Inverse() (*Cascade, error) {
	if c.delay != 0 {
		return nil, fmt.Errorf("digital: inverse of a cascade with a delay of %d samples, want none: it would be early", c.delay)
	}
	d := c.copy()
	d.gain = 1 / c.gain
	d.sections, d.designs = make([]Biquad, len(c.sections)), make([]string, len(c.sections))
	for i, b := range c.sections {
		if b.B0 == 0 {
			return nil, fmt.Errorf("digital: inverse of section %d of %d, %s: b0 is 0, a delay, want minimum phase", i+1, len(c.sections), c.designs[i])
		}
		for _, z := range b.Zeros() {
			if r := cmplx.Abs(z); !(r < 1) {
				hz := math.Abs(cmplx.Phase(z)) / (2 * math.Pi) * c.sampleRate
				return nil, fmt.Errorf("digital: inverse of section %d of %d, %s: a zero at %.6g Hz has the radius 1 %+.3g, want < 1: minimum phase", i+1, len(c.sections), c.designs[i], hz, r-1)
			}
		}
		inv, err := over(b.B0, 1, b.A1, b.A2, b.B1, b.B2)
		if err != nil {
			return nil, fmt.Errorf("digital: inverse of section %d of %d, %s: %w", i+1, len(c.sections), c.designs[i], err)
		}
		d.sections[i], d.designs[i] = inv, "inverse of "+c.designs[i]
	}
	if !positive(d.gain) {
		return nil, fmt.Errorf("digital: gain of the inverse cascade is %g, want a finite value > 0", d.gain)
	}
	d.compile()
	return d, nil
}
