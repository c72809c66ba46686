// Package system assembles a loudspeaker from its ways and evaluates it.
//
// A [Loudspeaker] is a value that a trial may change. A [Plan] holds what does
// not change from trial to trial and is shared; a [State] is the workspace of
// one goroutine.
package system

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// Source is what a way radiates per volt at its terminals, and what that means.
// A measured [freq.Response] is one; [Model] makes one of a computed transfer.
type Source interface {
	freq.Transfer
	Basis() freq.Basis
}

// Model is a computed source: a transfer with the basis it is in.
type Model struct {
	freq.Transfer
	Stated freq.Basis
}

// Basis implements [Source].
func (m Model) Basis() freq.Basis { return m.Stated }

// CheckGrid implements [freq.Sampled].
func (m Model) CheckGrid(g *freq.Grid) error { return freq.CheckGrid(m.Transfer, g) }

// Way is one way: a driver in its place, and the chain in front of it.
type Way struct {
	Name   string
	Source Source
	Chain  crossover.Chain
}

// Loudspeaker is the complex sum of its ways at one point in space.
type Loudspeaker struct{ Ways []Way }

// Network returns the chains of all ways.
func (l *Loudspeaker) Network() crossover.Active {
	a := crossover.Active{Ways: make([]crossover.Chain, len(l.Ways))}
	for i, w := range l.Ways {
		a.Ways[i] = w.Chain
		if a.Ways[i].Name == "" {
			a.Ways[i].Name = w.Name
		}
	}
	return a
}

// Validate reports missing sources, faulty chains, ways of the same name, and
// sources that are not stated on the same basis, per volt at the terminals:
// those have no common sum.
func (l *Loudspeaker) Validate() error {
	if len(l.Ways) == 0 {
		return fmt.Errorf("system: loudspeaker has no way, want at least 1")
	}
	for i, w := range l.Ways {
		if w.Source == nil || w.Source == (Model{}) {
			return fmt.Errorf("system: way %q has no source", w.Name)
		}
		b := w.Source.Basis()
		if b.Per != freq.PerTerminals {
			return fmt.Errorf("system: source of way %q is %v, want it per volt at the way's terminals", w.Name, b)
		}
		if first := l.Ways[0].Source.Basis(); i > 0 && b != first {
			return fmt.Errorf("system: source of way %q is %v, and that of way %q %v: want the same basis", w.Name, b, l.Ways[0].Name, first)
		}
	}
	return l.Network().Validate()
}

// Basis returns what the sum is: the basis of the ways' sources, per volt at the
// loudspeaker's input.
func (l *Loudspeaker) Basis() freq.Basis {
	b := l.Ways[0].Source.Basis()
	b.Per = freq.PerInput
	return b
}

// Response is the sum and every way of it, per volt at the input.
type Response struct {
	Sum  freq.Response
	Ways []freq.Response
}

// Evaluate solves the loudspeaker once. For many variants of one loudspeaker
// use a [Plan].
func (l *Loudspeaker) Evaluate(g *freq.Grid, label string) (Response, error) {
	p, err := NewPlan(l, g)
	if err != nil {
		return Response{}, err
	}
	st := p.NewState()
	if err := p.SolveTo(st, l); err != nil {
		return Response{}, err
	}
	var out Response
	if out.Sum, err = freq.NewResponse(g, st.Sum(), label, l.Basis()); err != nil {
		return Response{}, err
	}
	for i, w := range l.Ways {
		r, err := freq.NewResponse(g, st.Way(i), w.Name, l.Basis())
		if err != nil {
			return Response{}, err
		}
		out.Ways = append(out.Ways, r)
	}
	return out, nil
}
