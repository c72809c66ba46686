package placement

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
)

// Ceiling is one limit of a way, in one state of the loudspeaker.
type Ceiling struct {
	Name string
	// Most is the largest gain of the controls that the limit bears at each frequency, in dB,
	// at a stated input of the loudspeaker; its grid is its own.
	Most freq.Curve
}

// CeilingsOf returns the bounds of a ceiling as limits of a way, at an input of the
// loudspeaker in V peak, such as that of the level that is asked for (limits.Ceiling.InputFor):
//
//	20·lg(x_max/x)
//
// with x the bounded quantity at that input and x_max what is allowed. The state is part of
// their names.
func CeilingsOf(state string, c *limits.Ceiling, volts float64) ([]Ceiling, error) {
	if c == nil || !(volts > 0) || math.IsInf(volts, 0) {
		return nil, fmt.Errorf("placement: ceilings of %q at an input of %g V peak, want some at a finite value > 0", state, volts)
	}
	used, err := c.Usage(volts)
	if err != nil {
		return nil, err
	}
	var out []Ceiling
	for i, b := range c.Bounds() {
		v := used[i].Values()
		for k, x := range v {
			v[k] = level.DB(b.Peak / x)
		}
		name := state + ": " + b.String()
		most, err := freq.NewCurve(used[i].Grid(), v, name, "dB", freq.Basis{})
		if err != nil {
			return nil, err
		}
		out = append(out, Ceiling{name, most})
	}
	return out, nil
}

// room returns what a filter leaves to the limit.
func (l Ceiling) room(filter *digital.Cascade) Room {
	r := Room{Limit: l.Name, DB: math.Inf(1)}
	for i, db := range level.OfComplex(nil, filter.ResponseTo(nil, l.Most.Grid())) {
		if m := l.Most.At(i) - db; m < r.DB {
			r.DB, r.At = m, l.Most.Grid().At(i)
		}
	}
	return r
}

// checkCeilings reports ceilings that are none, or beyond what a filter at the sample rate
// has a response at.
func (w Way) checkCeilings(rate float64) error {
	of := map[string]bool{}
	for _, l := range w.Ceilings {
		if l.Name == "" || of[l.Name] || l.Most.Grid() == nil || l.Most.Unit() != "dB" {
			return fmt.Errorf("placement: ceiling %q of %q is in %q, want one in dB with a name of its own", l.Name, w.Name, l.Most.Unit())
		}
		of[l.Name] = true
		if last := l.Most.Grid().Last(); last >= rate/2 {
			return fmt.Errorf("placement: ceiling %q of %q goes to %g Hz, want less than half the sample rate of %g Hz", l.Name, w.Name, last, rate)
		}
	}
	return nil
}
