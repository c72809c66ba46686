package placement

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/level"
)

// Committed returns the controls with the filter of every position committed to an
// arithmetic ([dsp.Realise]). A processor runs the programs of the positions that are chosen,
// one after the other, and then those of the ways.
func (c *Controls) Committed(a dsp.Arithmetic, o dsp.Options) (*Controls, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	out := &Controls{Reachable: c.Reachable, Shipped: slices.Clone(c.Shipped)}
	for _, k := range c.Controls {
		positions := make([]Position, len(k.Positions))
		for i, p := range k.Positions {
			r, err := dsp.Realise(dsp.Chain{Sections: p.Cascade}, a, o)
			if err != nil {
				return nil, fmt.Errorf("placement: %s, %s: %w", k.Name, p.Name, err)
			}
			p.Program = r.Program
			positions[i] = p
		}
		k.Positions = positions
		out.Controls = append(out.Controls, k)
	}
	return out, nil
}

// checkProgram reports a program that does not fit the controls, or controls that lack theirs.
func (w Way) checkProgram(c *Controls) error {
	if w.Program == nil {
		return nil
	}
	if err := w.Program.Validate(); err != nil {
		return fmt.Errorf("placement: way %q: %w", w.Name, err)
	}
	if w.Chain == nil {
		return fmt.Errorf("placement: way %q has a program and no chain, want the chain that it is of", w.Name)
	}
	for _, k := range c.Controls {
		for _, p := range k.Positions {
			q := p.Program
			if q == nil {
				return fmt.Errorf("placement: way %q has a program, position %q of %q has none, want Controls.Committed", w.Name, p.Name, k.Name)
			}
			if err := q.Validate(); err != nil {
				return fmt.Errorf("placement: position %q of %q: %w", p.Name, k.Name, err)
			}
			if q.Arithmetic != w.Program.Arithmetic || q.SampleRate != w.Program.SampleRate {
				return fmt.Errorf("placement: position %q of %q is for %v at %g Hz, want %v at %g Hz as way %q", p.Name, k.Name, q.Arithmetic, q.SampleRate, w.Program.Arithmetic, w.Program.SampleRate, w.Name)
			}
			if q.Delay != 0 || len(q.FIR) != 0 {
				return fmt.Errorf("placement: position %q of %q has a delay of %d samples and %d FIR filters, want sections and a gain", p.Name, k.Name, q.Delay, len(q.FIR))
			}
		}
	}
	return nil
}

// inside looks at the sums inside the programs of controls and way. What positions differ in by
// their gain alone has the same norms.
type inside struct {
	controls *Controls
	norms    map[string][]dsp.Node
}

func newInside(c *Controls) *inside { return &inside{c, map[string][]dsp.Node{}} }

const (
	sums         = "sums inside, a sine"
	accumulators = "accumulators, any signal"
)

// row is the programs of a combination and a way as one long one, its gains in between apart:
// they are factors of all norms behind them.
type row struct {
	dsp.Program
	key    string    // what the norms depend on
	places []string  // of each section
	scale  []float64 // of each section: the gains before it
	behind []float64 // the largest factor of its output up to the next section
	factor float64   // of what comes behind the last section
	input  float64   // the largest factor before the first section, at least 1
}

func (in *inside) row(at Choice, way *dsp.Program) row {
	r := row{Program: dsp.Program{SampleRate: way.SampleRate, Arithmetic: way.Arithmetic, Gain: way.Gain, FIR: way.FIR}, key: fmt.Sprintf("%p", way), factor: 1, input: 1}
	add := func(what string, sections []dsp.Section) {
		for n, s := range sections {
			r.Sections = append(r.Sections, s)
			r.scale, r.behind = append(r.scale, r.factor), append(r.behind, r.factor)
			r.places = append(r.places, fmt.Sprintf("%s, section %d (%s)", what, n+1, s.Design))
		}
	}
	for i, k := range in.controls.Controls {
		p := k.Positions[at[i]]
		if len(p.Program.Sections) > 0 {
			r.key += fmt.Sprintf(" %d.%d", i, at[i])
		}
		add(k.Name+" "+p.Name, p.Program.Sections)
		if p.Program.Gain != nil {
			r.factor *= math.Abs(p.Program.Gain.Float())
		}
		if n := len(r.behind); n > 0 {
			r.behind[n-1] = max(r.behind[n-1], r.factor)
		} else {
			r.input = max(r.input, r.factor)
		}
	}
	add("way", way.Sections)
	return r
}

// factorOf returns by what the norms of a node count, and where it is.
func (r row) factorOf(n dsp.Node) (factor float64, where string) {
	switch k := n.Section - len(r.Sections); {
	case k == 0:
		return r.factor, "way, gain"
	case k > 0:
		return r.factor, fmt.Sprintf("way, FIR filter %d", k)
	}
	factor = r.scale[n.Section]
	if net := r.Sections[n.Section].Network(r.Arithmetic); net.Variables[net.Output] == n.Sum {
		factor = max(factor, r.behind[n.Section])
	}
	return factor, r.places[n.Section] + ": " + n.Sum
}

// rooms returns what is left to the fullest sum and to the fullest accumulator, nothing in
// floating point.
func (in *inside) rooms(at Choice, way *dsp.Program) ([]Room, error) {
	if way.Arithmetic.Signal.Number != dsp.FixedPoint {
		return nil, nil
	}
	r := in.row(at, way)
	nodes, known := in.norms[r.key]
	if !known {
		var err error
		if nodes, err = r.Headroom(); err != nil {
			return nil, err
		}
		in.norms[r.key] = nodes
	}
	sine := Room{Limit: sums, DB: level.DB(way.Arithmetic.Signal.Limit() / r.input), Where: "input"}
	wrap := Room{Limit: accumulators, DB: math.Inf(1)}
	for _, n := range nodes {
		f, where := r.factorOf(n)
		if db := level.DB(n.Limit / (f * n.LInf)); db < sine.DB {
			sine = Room{sums, db, n.Peak, where}
		}
		if db := level.DB(n.Accumulator / (f * n.L1)); db < wrap.DB {
			wrap = Room{accumulators, db, 0, where}
		}
	}
	return []Room{sine, wrap}, nil
}
