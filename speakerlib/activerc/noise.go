package activerc

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// boltzmann is Boltzmann's constant in J/K (exact since 2019, the SI brochure).
const boltzmann = 1.380649e-23

// RoomTemperature is 300 K, what the inside of a cabinet's electronics has at least.
const RoomTemperature = 300.0

// NoiseTo writes the density of the noise at the output in V²/Hz into dst (nil allocates,
// another length panics) and returns it: of every resistor 4kT/R, of every amplifier the
// voltage and the two currents at its inputs, each with its part that rises as 1/f,
// uncorrelated,
//
//	S = Σ 4kT/R·|Z_ab|² + Σ e²·|H_e|² + Σ i²·(|Z₊|² + |Z₋|²)
//
// with transfers from the adjoint network, one solution for all sources. The input is fed by
// a source that has no noise. It is an error if the temperature in kelvin is not positive.
func (c *Circuit) NoiseTo(dst []float64, g *freq.Grid, kelvin float64) ([]float64, error) {
	return c.noiseTo(dst, nil, g, kelvin)
}

// PartNoise is what one source of noise makes at the output, V²/Hz.
type PartNoise struct {
	Source  string
	Density freq.Curve
}

// NoiseByPart returns the noise at the output by the part that makes it, parts first and then
// amplifiers: what to change when it is too much.
func (c *Circuit) NoiseByPart(g *freq.Grid, kelvin float64) ([]PartNoise, error) {
	rows := make([][]float64, len(c.parts)+len(c.opamps))
	for k := range rows {
		rows[k] = make([]float64, g.Len())
	}
	if _, err := c.noiseTo(nil, rows, g, kelvin); err != nil {
		return nil, err
	}
	var all []PartNoise
	for k, row := range rows {
		name := ""
		if k < len(c.parts) {
			if c.parts[k].Kind == Capacitor {
				continue
			}
			name = c.parts[k].Name
		} else {
			name = c.opamps[k-len(c.parts)].Name
		}
		curve, err := freq.NewCurve(g, row, "noise of "+name, "V²/Hz", freq.Basis{Quantity: freq.Voltage})
		if err != nil {
			return nil, fmt.Errorf("activerc: noise of %q: %w", name, err)
		}
		all = append(all, PartNoise{name, curve})
	}
	return all, nil
}

func (c *Circuit) noiseTo(dst []float64, rows [][]float64, g *freq.Grid, kelvin float64) ([]float64, error) {
	if !(kelvin > 0) || math.IsInf(kelvin, 0) {
		return nil, fmt.Errorf("activerc: temperature is %g K, want a finite one > 0", kelvin)
	}
	dst = freq.Dst(dst, g.Len())
	w := c.workspace()
	for i, om := range g.Omega() {
		hz := g.At(i)
		if k := w.solve(om); k >= 0 {
			return nil, fmt.Errorf("activerc: voltage of node %q is not determined at %g Hz", c.nodes[k], hz)
		}
		w.adjoint(c.load)
		sum := 0.0
		for k, p := range c.parts {
			if p.Kind != Resistor {
				continue
			}
			s := &w.stamps[k]
			v := 4 * boltzmann * kelvin / p.Value * unit * unit * square(w.into(s.a)-w.into(s.b))
			sum += v
			if rows != nil {
				rows[k][i] = v
			}
		}
		for k, m := range c.amps {
			a := &c.opamps[k].Amplifier
			v := a.voltage2(hz)*square(w.y[m.out]) +
				a.current2(hz)*unit*unit*(square(w.into(m.plus))+square(w.into(m.minus)))
			sum += v
			if rows != nil {
				rows[len(c.parts)+k][i] = v
			}
		}
		dst[i] = sum
	}
	return dst, nil
}
