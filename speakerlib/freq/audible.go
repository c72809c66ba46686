package freq

import "fmt"

// audible are the group delays that are just heard: hertz and seconds.
var audible = [...][2]float64{{500, 3.2e-3}, {1000, 2e-3}, {2000, 1e-3}, {4000, 1.5e-3}, {8000, 2e-3}}

// AudibleDelay returns the peaks of group delay that are just heard, in seconds, of
// all-pass filters in short pulses over headphones: 3.2 ms at 500 Hz, 2 ms at 1 kHz, 1 ms at
// 2 kHz, 1.5 ms at 4 kHz, 2 ms at 8 kHz (J. Blauert and P. Laws, "Group delay
// distortions in electroacoustical systems", J. Acoust. Soc. Am. 63, 1978; values from
// memory). Nothing was measured below and above, so that nothing is known of a bass
// from it; the curve has these five points and no others.
func AudibleDelay() Curve {
	var hz, v []float64
	for _, p := range audible {
		hz, v = append(hz, p[0]), append(v, p[1])
	}
	g, err := NewGrid(hz)
	if err != nil {
		panic("freq: grid of the audible delays")
	}
	c, err := NewCurve(g, v, "just heard (Blauert and Laws)", "s", Basis{})
	if err != nil {
		panic("freq: curve of the audible delays")
	}
	return c
}

// Cycles returns a delay in seconds as a number of periods of each frequency, τ·f: how
// many cycles of a tone have passed before its envelope arrives. It is an error for a
// curve that is not in seconds.
func (c Curve) Cycles() (Curve, error) {
	if c.Unit() != "s" {
		return Curve{}, fmt.Errorf("freq: %q is in %q, want a delay in s", c.Label(), c.Unit())
	}
	v := c.Values()
	for i := range v {
		v[i] *= c.Grid().At(i)
	}
	return NewCurve(c.Grid(), v, c.Label(), "1", c.Basis())
}
