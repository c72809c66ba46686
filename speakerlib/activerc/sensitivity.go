package activerc

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Sensitivity says how the level at the output follows the value of a part: the change of the
// level per relative change of the value, in dB. A hundredth of it is what 1 % does.
type Sensitivity struct {
	Part  string
	Kind  Kind
	Level freq.Curve
}

// DerivativesTo writes ∂H/∂ln v of every part, in the order of [Circuit.Parts], into dst, a
// row of the grid's length for each (nil allocates, another length panics), and returns it.
// They are exact, by the adjoint network:
//
//	∂H/∂ln R = +(Z_a − Z_b)·(V_a − V_b)/R,   ∂H/∂ln C = −(Z_a − Z_b)·(V_a − V_b)·jωC
//
// with V the voltages and Z the transfer impedances from the part's ends to the output.
func (c *Circuit) DerivativesTo(dst []complex128, g *freq.Grid) []complex128 {
	n := g.Len()
	dst = freq.Dst(dst, n*len(c.parts))
	w := c.workspace()
	for i, om := range g.Omega() {
		w.solve(om)
		w.adjoint(c.load)
		for k, p := range c.parts {
			s := &w.stamps[k]
			d := (w.into(s.a) - w.into(s.b)) * (w.voltage(s.a) - w.voltage(s.b))
			if p.Kind == Resistor {
				dst[k*n+i] = d * complex(s.g, 0)
			} else {
				dst[k*n+i] = -d * complex(0, om*s.c)
			}
		}
	}
	return dst
}

// Sensitivities returns those of every part:
//
//	∂(20·lg|H|)/∂ln v = 20·lg e·Re(∂H/∂ln v / H)
//
// It is an error if the response is 0 somewhere, where there is no level.
func (c *Circuit) Sensitivities(g *freq.Grid) ([]Sensitivity, error) {
	h := c.ResponseTo(nil, g)
	d := c.DerivativesTo(nil, g)
	n := g.Len()
	all := make([]Sensitivity, len(c.parts))
	for k, p := range c.parts {
		row := make([]float64, n)
		for i := range row {
			row[i] = neper * real(d[k*n+i]/h[i])
		}
		curve, err := freq.NewCurve(g, row, "sensitivity to "+p.Name, "dB", freq.Basis{})
		if err != nil {
			return nil, fmt.Errorf("activerc: sensitivity to %q: %w", p.Name, err)
		}
		all[k] = Sensitivity{p.Name, p.Kind, curve}
	}
	return all, nil
}

// neper is 20·lg e: decibels in a neper.
var neper = level.DB(math.E)
