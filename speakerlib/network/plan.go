package network

import (
	"fmt"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
)

// Kind is which value of a part a [Parameter] is.
type Kind int

// The kinds of parameters.
const (
	Value Kind = iota // R of a resistor in Ω, L of a coil in H, C of a capacitor in F
	Loss              // series resistance of a coil or a capacitor, Ω
	Scale             // the factor of a load's impedance, 1 as it was given
)

// String returns the name of the kind.
func (k Kind) String() string {
	return [...]string{"value", "series resistance", "scale of the impedance"}[k]
}

// Parameter is a value that can vary: one per resistor and load, two per coil and
// capacitor. Transformers have none: turns are exact, and the rest hardly matters.
type Parameter struct {
	Part string
	Kind Kind
}

// Plan is a network behind a source on a grid, with everything made that does not change
// with the values of its parts. It is immutable, and shared by any number of goroutines.
type Plan struct {
	net      *Network
	grid     *freq.Grid
	source   []complex128 // Ω; nil is nothing
	branches []branch
	cores    []core
	size     int // unknowns: nodes, then for each core e and the currents of its windings
	params   []Parameter
	nominal  []float64
}

// branch is a part of two ends in admittance form.
type branch struct {
	part  int // in the list of parts
	kind  branchKind
	a, b  int
	param int          // of its first parameter
	load  []complex128 // 1/Z, S
}

type branchKind int

const (
	resistive branchKind = iota
	inductive
	capacitive
	given
)

// core is a transformer, with its unknowns from first on.
type core struct {
	part     int
	first    int
	inverse  float64 // N₁²/L, 1/H; 0 is an ideal core
	windings []Winding
	a, b     []int
}

// NewPlan compiles a network on a grid behind a source. It refuses loads that are not known
// on the grid, are 0 or not finite somewhere, or have a negative resistance, which nothing
// passive has.
func NewPlan(n *Network, g *freq.Grid, s Source) (*Plan, error) {
	if n == nil || g == nil {
		return nil, fmt.Errorf("network: no network or no grid, want both")
	}
	if err := s.Validate(); err != nil {
		return nil, err
	}
	p := &Plan{net: n, grid: g, size: len(n.nodes)}
	for i, part := range n.parts {
		add := func(kind branchKind, load []complex128) {
			e := part.ends()[0]
			p.branches = append(p.branches, branch{part: i, kind: kind,
				a: n.index[e[0]], b: n.index[e[1]], param: len(p.params), load: load})
		}
		vary := func(kind Kind, v float64) {
			p.params = append(p.params, Parameter{part.Label(), kind})
			p.nominal = append(p.nominal, v)
		}
		switch q := part.(type) {
		case Resistor:
			add(resistive, nil)
			vary(Value, q.R)
		case Inductor:
			add(inductive, nil)
			vary(Value, q.L)
			vary(Loss, q.R)
		case Capacitor:
			add(capacitive, nil)
			vary(Value, q.C)
			vary(Loss, q.ESR)
		case Load:
			y, err := impedance(fmt.Sprintf("load %q", q.Name), q.Z, g)
			if err != nil {
				return nil, err
			}
			for k := range y {
				if y[k] == 0 {
					return nil, fmt.Errorf("network: load %q is 0 Ω at %g Hz, want an impedance", q.Name, g.At(k))
				}
				y[k] = 1 / y[k]
			}
			add(given, y)
			vary(Scale, 1)
		case Transformer:
			c := core{part: i, first: p.size, windings: q.Windings, inverse: q.Windings[0].Turns * q.Windings[0].Turns / q.Magnetising}
			for _, w := range q.Windings {
				c.a, c.b = append(c.a, n.index[w.A]), append(c.b, n.index[w.B])
			}
			p.cores = append(p.cores, c)
			p.size += 1 + len(q.Windings)
		}
	}
	if s.R == 0 && s.L == 0 && s.Z == nil {
		return p, nil
	}
	p.source = make([]complex128, g.Len())
	if s.Z != nil {
		z, err := impedance("the source", s.Z, g)
		if err != nil {
			return nil, err
		}
		copy(p.source, z)
	}
	for i, w := range g.Omega() {
		p.source[i] += complex(s.R, w*s.L)
	}
	return p, nil
}

// impedance evaluates a passive impedance.
func impedance(what string, t freq.Transfer, g *freq.Grid) ([]complex128, error) {
	if err := freq.CheckGrid(t, g); err != nil {
		return nil, fmt.Errorf("network: %s: %w", what, err)
	}
	z := t.ResponseTo(nil, g)
	for i, v := range z {
		if cmplx.IsNaN(v) || cmplx.IsInf(v) {
			return nil, fmt.Errorf("network: %s is %v Ω at %g Hz, want a finite impedance", what, v, g.At(i))
		}
		if real(v) < 0 {
			return nil, fmt.Errorf("network: %s has a resistance of %g Ω at %g Hz, want a passive one, ≥ 0", what, real(v), g.At(i))
		}
	}
	return z, nil
}

// Grid returns the grid of the plan.
func (p *Plan) Grid() *freq.Grid { return p.grid }

// Parameters returns a copy of the list of what can vary, in the order of the parts.
func (p *Plan) Parameters() []Parameter { return slices.Clone(p.params) }

// Nominal returns the values of the parameters as the parts have them, a copy that may be
// changed and given to [Plan.SolveTo].
func (p *Plan) Nominal() []float64 { return slices.Clone(p.nominal) }

// Port is a pair of nodes of a plan's network, between which there is a voltage.
type Port struct{ a, b int }

// Port returns the pair of nodes a, which is plus, and b.
func (p *Plan) Port(a, b NodeID) (Port, error) {
	i, err := p.net.at(a)
	if err != nil {
		return Port{}, err
	}
	j, err := p.net.at(b)
	if err != nil {
		return Port{}, err
	}
	return Port{i, j}, nil
}

// Across returns the ends A and B of a part, of a transformer those of its first winding.
func (p *Plan) Across(part string) (Port, error) {
	i, err := p.net.find(part)
	if err != nil {
		return Port{}, err
	}
	e := p.net.parts[i].ends()[0]
	return p.Port(e[0], e[1])
}

// admittance returns 1/Z of a branch at point i with the values v.
func (b *branch) admittance(i int, w float64, v []float64) complex128 {
	switch b.kind {
	case resistive:
		return complex(1/v[b.param], 0)
	case inductive:
		x, r := w*v[b.param], v[b.param+1]
		m := 1 / (r*r + x*x)
		return complex(r*m, -x*m)
	case capacitive:
		y, r := w*v[b.param], v[b.param+1]
		d := y * r
		m := y / (1 + d*d)
		return complex(d*m, m)
	default:
		m := 1 / v[b.param]
		y := b.load[i]
		return complex(real(y)*m, imag(y)*m)
	}
}

// slopes returns what the impedance of a branch changes by per relative change of its
// parameters, dZ/d ln v, in Ω; the second is 0 where there is no second parameter.
func (b *branch) slopes(i int, w float64, v []float64) (first, second complex128) {
	switch b.kind {
	case resistive:
		return complex(v[b.param], 0), 0
	case inductive:
		return complex(0, w*v[b.param]), complex(v[b.param+1], 0)
	case capacitive:
		return complex(0, 1/(w*v[b.param])), complex(v[b.param+1], 0)
	default:
		return complex(v[b.param], 0) / b.load[i], 0
	}
}

// parameters returns how many the branch has.
func (b *branch) parameters() int {
	if b.kind == inductive || b.kind == capacitive {
		return 2
	}
	return 1
}
