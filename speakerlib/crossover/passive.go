package crossover

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/network"
)

// Passive is a passive dividing network behind an amplifier and a cable. Unlike the chains of
// an [Active] one its ways are not independent: every driver's impedance is part of it.
type Passive struct {
	Network *network.Network
	Source  network.Source
	Ways    []Tap
}

// Tap is where a way is taken from a passive network: the load that is its driver. A driver
// is inverted by the network, where the plus of its load is on the colder node.
type Tap struct{ Name, Load string }

// Validate reports a network without ways, two ways of one name, and a way whose load is not
// in the network.
func (p Passive) Validate() error {
	if p.Network == nil {
		return fmt.Errorf("crossover: passive network is nil, want one")
	}
	if len(p.Ways) == 0 {
		return fmt.Errorf("crossover: network has no way, want at least 1")
	}
	seen := map[string]bool{}
	for _, w := range p.Ways {
		if seen[w.Name] {
			return fmt.Errorf("crossover: two ways are called %q, want different names", w.Name)
		}
		seen[w.Name] = true
		part, err := p.Network.Part(w.Load)
		if err != nil {
			return fmt.Errorf("crossover: way %q: %w", w.Name, err)
		}
		if _, ok := part.(network.Load); !ok {
			return fmt.Errorf("crossover: way %q is at %q, which is a %T, want a load", w.Name, w.Load, part)
		}
	}
	return p.Source.Validate()
}

// On solves the network on a grid.
func (p Passive) On(g *freq.Grid) (*Divided, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	plan, err := network.NewPlan(p.Network, g, p.Source)
	if err != nil {
		return nil, err
	}
	sol, err := plan.Solve()
	if err != nil {
		return nil, err
	}
	d := &Divided{Solution: sol, grid: g}
	for _, w := range p.Ways {
		port, err := plan.Across(w.Load)
		if err != nil {
			return nil, err
		}
		h, err := sol.Voltage(port, w.Name)
		if err != nil {
			return nil, err
		}
		d.ports = append(d.ports, port)
		d.responses = append(d.responses, h)
		d.Ways = append(d.Ways, Chain{Name: w.Name, Stages: freq.Series{h}})
	}
	return d, nil
}

// Divided is a passive network on a grid.
type Divided struct {
	Ways     []Chain           // per volt of the source; known on the grid only
	Solution *network.Solution // for the input impedance, and what the parts have to bear

	grid      *freq.Grid
	ports     []network.Port
	responses []freq.Response
}

// Sum returns Σ H·D of the responses of the drivers per volt at their terminals, in the order of
// the ways, as one per volt of the source. They must be on the grid, of one basis and with one
// time zero.
func (d *Divided) Sum(drivers []freq.Response, label string) (freq.Response, error) {
	if err := d.check(drivers); err != nil {
		return freq.Response{}, err
	}
	sum := make([]complex128, d.grid.Len())
	for j, h := range d.responses {
		for i := range sum {
			sum[i] += h.At(i) * drivers[j].At(i)
		}
	}
	b := drivers[0].Basis()
	b.Per = freq.PerInput
	return freq.NewResponse(d.grid, sum, label, b)
}

// Sensitivities returns how the sum of the ways changes with the parts.
func (d *Divided) Sensitivities(drivers []freq.Response) (*network.Sensitivities, error) {
	if err := d.check(drivers); err != nil {
		return nil, err
	}
	ways := make([]*network.Sensitivities, len(d.ports))
	for j, port := range d.ports {
		var err error
		if ways[j], err = d.Solution.Sensitivities(port); err != nil {
			return nil, err
		}
	}
	return network.SumSensitivities(ways, drivers)
}

func (d *Divided) check(drivers []freq.Response) error {
	if len(drivers) != len(d.Ways) {
		return fmt.Errorf("crossover: %d drivers, want %d, one for each way", len(drivers), len(d.Ways))
	}
	for j, r := range drivers {
		if !r.Grid().Equal(d.grid) {
			return fmt.Errorf("crossover: driver of %q is on %v, want %v", d.Ways[j].Name, r.Grid(), d.grid)
		}
		b := r.Basis()
		if b.Per != freq.PerTerminals {
			return fmt.Errorf("crossover: driver of %q is %v, want a response per volt at its terminals", d.Ways[j].Name, b)
		}
		if b != drivers[0].Basis() {
			return fmt.Errorf("crossover: driver of %q is %v, want %v as that of %q", d.Ways[j].Name, b, drivers[0].Basis(), d.Ways[0].Name)
		}
	}
	return nil
}

// SeriesLoss is what the resistance between source and driver does to a way.
type SeriesLoss struct {
	Level float64    // dB, the mean over the reference band: what a volume control gives back
	Shape freq.Curve // dB, the rest: what it does not
}

// SeriesLoss compares a way with the same network without the resistances of its coils and
// without the source's impedance, as an amplifier at the terminals of the driver has none:
//
//	20·lg|H/H₀| = Level + Shape
//
// with Level the mean over from … to hertz, weighted by log frequency. Where the driver's
// impedance is high, at its resonances, little is lost; where it is low, around the tuning of
// a vent and above the resonances, more. A series resistance R is also Qes·(1 + R/Re): the
// bass that an active sibling loses with it. The series resistances of capacitors, and resistors,
// are left as they are.
func (p Passive) SeriesLoss(way string, g *freq.Grid, from, to float64) (SeriesLoss, error) {
	d, err := p.On(g)
	if err != nil {
		return SeriesLoss{}, err
	}
	stiff := Passive{Ways: p.Ways}
	parts := p.Network.Parts()
	for i, part := range parts {
		if l, ok := part.(network.Inductor); ok {
			l.R = 0
			parts[i] = l
		}
	}
	if stiff.Network, err = network.New(p.Network.Input(), parts...); err != nil {
		return SeriesLoss{}, err
	}
	without, err := stiff.On(g)
	if err != nil {
		return SeriesLoss{}, err
	}
	for j, w := range d.Ways {
		if w.Name != way {
			continue
		}
		ratio, err := d.responses[j].Over(without.responses[j])
		if err != nil {
			return SeriesLoss{}, err
		}
		shape := ratio.DB(1)
		mean, err := shape.Mean(from, to)
		if err != nil {
			return SeriesLoss{}, err
		}
		return SeriesLoss{Level: mean, Shape: shape.Plus(-mean).As("series loss of " + way)}, nil
	}
	return SeriesLoss{}, fmt.Errorf("crossover: network has no way %q", way)
}
