package limits

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
)

// Plateaus returns the plateau that each bound would allow alone, for sines of any
// frequency within lo … hi, in ascending level: the first is that of [Ceiling.Plateau].
// A bound that never binds in the range is left out.
func (c *Ceiling) Plateaus(lo, hi, from, to float64) ([]Plateau, error) {
	var out []Plateau
	for k, b := range c.bounds {
		input := make([]float64, len(c.per[k]))
		for i, x := range c.per[k] {
			input[i] = b.Peak / x
		}
		p, err := c.plateau(input, lo, hi, from, to)
		if err != nil {
			return nil, err
		}
		if p.Bound = b; !math.IsInf(p.Input, 1) {
			out = append(out, p)
		}
	}
	slices.SortStableFunc(out, func(a, b Plateau) int { return cmp.Compare(a.Input, b.Input) })
	return out, nil
}

// Condition is a state of a loudspeaker and its ceiling: cold or hot, neutral or
// with a user setting at its extreme.
type Condition struct {
	Name    string
	Ceiling *Ceiling
}

// Setting is a user setting at one of its extremes: a tone control turned up, a switch
// for a wall.
type Setting struct {
	Name  string
	Stage freq.Transfer // that it puts in front of the chain
}

// With returns the way with a setting, in front of its chain and, as it is made of
// numbers, in front of what digital full scale bounds.
func (w Way) With(s Setting) Way {
	w.Chain = freq.Series{s.Stage, w.chain()}
	if w.Digital != nil {
		w.Digital = freq.Series{s.Stage, w.Digital}
	}
	return w
}

// Conditions returns the ceilings of a way alone in the states that a study must
// show: neutral and with each setting, each cold and with the coil as warm as is
// allowed. Without a network in Coil.Thermal there is no hot state.
func (w Way) Conditions(g *freq.Grid, settings ...Setting) ([]Condition, error) {
	var out []Condition
	add := func(name string, w Way) error {
		c, err := w.Ceiling(g)
		if err != nil {
			return fmt.Errorf("%w (state %q)", err, name)
		}
		out = append(out, Condition{Name: name, Ceiling: c})
		return nil
	}
	for _, s := range append([]Setting{{Name: "neutral"}}, settings...) {
		state := w
		if s.Stage != nil {
			state = w.With(s)
		}
		if err := add(s.Name+", cold", state); err != nil {
			return nil, err
		}
		if len(w.Coil.Thermal) == 0 {
			continue
		}
		if err := add(s.Name+", hot", state.Hottest()); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// StateSetup says what a table of states asks for.
type StateSetup struct {
	From, To               float64 // Hz, the sines that must be possible
	PlateauFrom, PlateauTo float64 // Hz, the band whose mean is the level
	Level                  float64 // wanted, dB SPL rms
}

// StateRow is one bound in one state.
type StateRow struct {
	Condition string  `col:"state"`
	Bound     string  `col:"bound"`
	Binds     bool    `col:"binds"` // the lowest of its state
	Level     float64 `col:"plateau" unit:"dB" fmt:"%.1f"`
	Change    float64 `col:"against the first state" unit:"dB" fmt:"%+.1f"` // of this bound
	Headroom  float64 `col:"headroom at the wanted level" unit:"dB" fmt:"%+.1f"`
	At        float64 `col:"at" unit:"Hz" fmt:"%.0f"`
	Input     float64 `col:"input" unit:"V" fmt:"%.2f"` // peak
}

// StateTable sets the ceilings of several states side by side: for each, in the order
// given, the plateau that every bound allows, in ascending level, so that the first
// row of a state is its ceiling, and digital headroom is a row like the others. The
// changes are against the same bound in the first state, 0 if it was not there.
func StateTable(conditions []Condition, s StateSetup) ([]StateRow, error) {
	if math.IsNaN(s.Level) || math.IsInf(s.Level, 0) {
		return nil, fmt.Errorf("limits: wanted level is %g dB, want a finite one", s.Level)
	}
	var out []StateRow
	first := map[string]float64{}
	for i, c := range conditions {
		if c.Ceiling == nil {
			return nil, fmt.Errorf("limits: state %q has no ceiling", c.Name)
		}
		plateaus, err := c.Ceiling.Plateaus(s.From, s.To, s.PlateauFrom, s.PlateauTo)
		if err != nil {
			return nil, fmt.Errorf("%w (state %q)", err, c.Name)
		}
		for k, p := range plateaus {
			name := p.Bound.String()
			if _, known := first[name]; i == 0 && !known {
				first[name] = p.Level
			}
			row := StateRow{Condition: c.Name, Bound: name, Binds: k == 0, Level: p.Level, Headroom: p.Level - s.Level, At: p.At, Input: p.Input}
			if before, known := first[name]; known {
				row.Change = p.Level - before
			}
			out = append(out, row)
		}
	}
	return out, nil
}

// Binding returns the rows of a table that bind: one a state.
func Binding(rows []StateRow) (out []StateRow) {
	for _, r := range rows {
		if r.Binds {
			out = append(out, r)
		}
	}
	return out
}
