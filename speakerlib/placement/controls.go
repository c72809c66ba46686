package placement

import (
	"fmt"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
)

// Position is one position of a control, and the filter that it puts before all ways.
type Position struct {
	Name    string
	Cascade *digital.Cascade
	Program *dsp.Program // the filter as it is committed; nil: it is not
}

// Control is what a user can set: positions of which one is chosen.
type Control struct {
	Name      string
	Positions []Position
	Neutral   int // the position in which the loudspeaker was voiced; of a sensitivity that of unity gain
}

// Choice is a position of every control, by index, in the order of the controls.
type Choice []int

// Controls are all that a user can set.
type Controls struct {
	Controls []Control
	// Reachable tells which combinations the hardware allows; nil: all.
	Reachable func(Choice) bool
	// Shipped is the combination in which a unit is delivered; nil: it is not stated. It need
	// not be the neutral one, such as an input in its least sensitive position. Whether it
	// keeps all limits [Headroom.ShippedSafe] says.
	Shipped Choice
}

// MaxCombinations is the most combinations that are gone through.
const MaxCombinations = 100_000

// Validate reports controls without positions or names, positions without a filter, filters
// of different sample rates, names that occur twice, a neutral combination that cannot be
// reached, and a shipped one that is stated and is not a position of every control, or cannot
// be reached.
func (c *Controls) Validate() error {
	if len(c.Controls) == 0 {
		return fmt.Errorf("placement: no controls, want at least 1")
	}
	rate, all := 0.0, 1.0
	names := map[string]bool{}
	for _, k := range c.Controls {
		if k.Name == "" || names[k.Name] {
			return fmt.Errorf("placement: control is called %q, want a name of its own", k.Name)
		}
		names[k.Name] = true
		if k.Neutral < 0 || k.Neutral >= len(k.Positions) {
			return fmt.Errorf("placement: neutral position of %q is %d, want one of its %d positions", k.Name, k.Neutral, len(k.Positions))
		}
		of := map[string]bool{}
		for _, p := range k.Positions {
			if p.Name == "" || of[p.Name] {
				return fmt.Errorf("placement: position of %q is called %q, want a name of its own", k.Name, p.Name)
			}
			of[p.Name] = true
			if p.Cascade == nil {
				return fmt.Errorf("placement: position %q of %q has no filter, want a cascade (an empty one is a wire)", p.Name, k.Name)
			}
			if p.Cascade.Delay() != 0 || p.Cascade.Inverted() {
				return fmt.Errorf("placement: position %q of %q has a delay of %d samples or inverts, want sections and a gain", p.Name, k.Name, p.Cascade.Delay())
			}
			if rate == 0 {
				rate = p.Cascade.SampleRate()
			}
			if p.Cascade.SampleRate() != rate {
				return fmt.Errorf("placement: position %q of %q is at %g Hz, want %g Hz as the others", p.Name, k.Name, p.Cascade.SampleRate(), rate)
			}
		}
		all *= float64(len(k.Positions))
	}
	if all > MaxCombinations {
		return fmt.Errorf("placement: %g combinations of positions, want at most %d", all, MaxCombinations)
	}
	if c.Reachable != nil && !c.Reachable(c.Neutral()) {
		return fmt.Errorf("placement: neutral combination %s cannot be reached, want one that can", c.Words(c.Neutral()))
	}
	return c.validateShipped()
}

func (c *Controls) validateShipped() error {
	if c.Shipped == nil {
		return nil
	}
	if len(c.Shipped) != len(c.Controls) {
		return fmt.Errorf("placement: shipped are positions of %d controls, want one of each of %d, or nil", len(c.Shipped), len(c.Controls))
	}
	for i, k := range c.Controls {
		if p := c.Shipped[i]; p < 0 || p >= len(k.Positions) {
			return fmt.Errorf("placement: shipped position of %q is %d, want one of its %d positions", k.Name, p, len(k.Positions))
		}
	}
	if c.Reachable != nil && !c.Reachable(slices.Clone(c.Shipped)) {
		return fmt.Errorf("placement: shipped combination %s cannot be reached, want one that can", c.Words(c.Shipped))
	}
	return nil
}

// Neutral returns the combination of all neutral positions.
func (c *Controls) Neutral() Choice {
	n := make(Choice, len(c.Controls))
	for i, k := range c.Controls {
		n[i] = k.Neutral
	}
	return n
}

// Words tells a combination: "placement wall, tone neutral". It panics of one that these
// controls do not have.
func (c *Controls) Words(at Choice) string {
	if len(at) != len(c.Controls) {
		panic("placement: words for a choice of another number of controls")
	}
	var w []string
	for i, k := range c.Controls {
		if at[i] < 0 || at[i] >= len(k.Positions) {
			panic("placement: words for a choice of a position that there is not")
		}
		w = append(w, k.Name+" "+k.Positions[at[i]].Name)
	}
	return strings.Join(w, ", ")
}

// Cascade returns the filter of a combination: those of its positions, one after the other.
func (c *Controls) Cascade(at Choice) (*digital.Cascade, error) {
	if len(at) != len(c.Controls) {
		return nil, fmt.Errorf("placement: choice of %d positions, want one of each of %d controls", len(at), len(c.Controls))
	}
	var all *digital.Cascade
	for i, k := range c.Controls {
		if at[i] < 0 || at[i] >= len(k.Positions) {
			return nil, fmt.Errorf("placement: position %d of %q, want one of %d", at[i], k.Name, len(k.Positions))
		}
		p := k.Positions[at[i]].Cascade
		if all == nil {
			all = p
			continue
		}
		var err error
		if all, err = all.Then(p); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// Combinations returns all that can be reached, the last control counting fastest.
func (c *Controls) Combinations() ([]Choice, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	var all []Choice
	at := make(Choice, len(c.Controls))
	for {
		if own := append(Choice(nil), at...); c.Reachable == nil || c.Reachable(own) {
			all = append(all, own)
		}
		k := len(at) - 1
		for ; k >= 0; k-- {
			if at[k]++; at[k] < len(c.Controls[k].Positions) {
				break
			}
			at[k] = 0
		}
		if k < 0 {
			return all, nil
		}
	}
}

// OneAtATime returns the neutral combination and those in which one control is off neutral,
// as far as they can be reached: the rows of a table of ceilings, beside the worst of all.
func (c *Controls) OneAtATime() ([]Choice, error) {
	all, err := c.Combinations()
	if err != nil {
		return nil, err
	}
	out := []Choice{c.Neutral()}
	for _, at := range all {
		if c.off(at) == 1 {
			out = append(out, at)
		}
	}
	return out, nil
}

// off counts the controls that are not neutral.
func (c *Controls) off(at Choice) (n int) {
	for i, k := range c.Controls {
		if at[i] != k.Neutral {
			n++
		}
	}
	return n
}

// Sets returns the positions of all controls as a coefficient document holds them, for every
// way alike: export.Way.Sets. Those of the shipped combination, if it is stated, are the
// defaults.
func (c *Controls) Sets() ([]export.Set, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	var sets []export.Set
	for i, k := range c.Controls {
		for j, p := range k.Positions {
			sets = append(sets, export.Set{
				Setting: k.Name, Name: p.Name, Gain: p.Cascade.Gain(), Sections: export.SectionsOf(p.Cascade), Program: p.Program,
				Default: c.Shipped != nil && c.Shipped[i] == j,
			})
		}
	}
	return sets, nil
}
