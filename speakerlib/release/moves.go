package release

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/report"
)

// Move is a requirement whose value is another one with other coefficients.
type Move struct {
	Name   string        `col:"requirement"`
	From   *float64      `col:"from"` // in the unit, as shown; nil: there was no value
	To     *float64      `col:"to"`
	Unit   report.Unit   `col:"unit"`
	Margin *float64      `col:"margin by"` // change of the margin, in the unit: positive is farther on the good side
	Was    report.Status `col:"was"`
	Is     report.Status `col:"is"`
	// Beyond says whether the change is more than both guard bands in quadrature: more
	// than the uncertainties explain. A change of the coefficients that are compared by
	// one model is none of its uncertainty; with values measured twice it matters.
	Beyond bool `col:"beyond the guard bands"`
}

// Turned reports whether the verdict changed.
func (m Move) Turned() bool { return m.Was != m.Is }

// Moves returns what requirements, evaluated with two releases, changed: those whose
// verdict turned first, worse before better, then by how much of the margin they
// took. Both must be the same requirements with the same limits.
func Moves(was, is report.Requirements) ([]Move, error) {
	for _, r := range []report.Requirements{was, is} {
		if err := r.Err(); err != nil {
			return nil, err
		}
		for i, q := range r {
			if slices.ContainsFunc(r[:i], func(o report.Requirement) bool { return o.Name() == q.Name() }) {
				return nil, fmt.Errorf("release: two requirements are called %q, want names that differ", q.Name())
			}
		}
	}
	if len(was) != len(is) {
		return nil, fmt.Errorf("release: %d requirements before and %d after, want the same: coefficients are compared, not briefs", len(was), len(is))
	}
	var out []Move
	for _, a := range was {
		k := slices.IndexFunc(is, func(q report.Requirement) bool { return q.Name() == a.Name() })
		if k < 0 {
			return nil, fmt.Errorf("release: requirement %q is there before and not after, want the same", a.Name())
		}
		b := is[k]
		if a.Unit() != b.Unit() || a.Limit() != b.Limit() {
			return nil, fmt.Errorf("release: requirement %q asks for %s before and %s after, want the same", a.Name(), a.Limit(), b.Limit())
		}
		m := Move{Name: a.Name(), Unit: a.Unit(), Was: a.Status(), Is: b.Status()}
		x, had := a.Value()
		y, has := b.Value()
		if had {
			m.From = &x
		}
		if has {
			m.To = &y
		}
		if had && has {
			p, _ := a.Margin()
			q, _ := b.Margin()
			d := q - p
			m.Margin, m.Beyond = &d, math.Abs(y-x) > math.Hypot(a.Guard(), b.Guard())
		}
		const rounding = 1e-9
		same := had == has && math.Abs(y-x) <= rounding*max(math.Abs(x), math.Abs(y))
		if same && !m.Turned() {
			continue
		}
		out = append(out, m)
	}
	slices.SortStableFunc(out, func(a, b Move) int {
		if c := rank(a) - rank(b); c != 0 {
			return c
		}
		switch x, y := a.lost(), b.lost(); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return out, nil
}

// rank puts what got worse first.
func rank(m Move) int {
	good := func(s report.Status) bool { return s == report.Pass || s == report.Waived }
	switch {
	case !m.Turned():
		return 3
	case good(m.Was) && !good(m.Is):
		return 0
	case !good(m.Was) && good(m.Is):
		return 2
	}
	return 1
}

// lost is by how much the margin shrank, of what the value was.
func (m Move) lost() float64 {
	if m.Margin == nil || *m.From == 0 {
		return 0
	}
	return -*m.Margin / math.Abs(*m.From)
}
