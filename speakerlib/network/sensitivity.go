package network

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Sensitivities says how a response of a network changes with the values of its parts: the
// derivative of the complex response per relative change of every parameter.
type Sensitivities struct {
	grid   *freq.Grid
	params []Parameter
	h      []complex128
	slopes [][]complex128 // ∂H/∂ln v, by parameter
}

// Sensitivities returns those of the voltage across a port, at the values that the solution
// was made with. They are exact derivatives by the adjoint network (S. W. Director and R. A.
// Rohrer, "The generalized adjoint network and network sensitivities", IEEE Trans. Circuit
// Theory CT-16, 1969; from memory): a network of these parts is reciprocal and its own
// adjoint, so that with V and I for 1 V at the input, and V̂ for 1 A into the port while the
// input is shorted,
//
//	∂V_port/∂ln v = Y·V·Y·V̂·∂Z/∂ln v,   ∂Y_in/∂ln v = −(Y·V)²·∂Z/∂ln v
//
// at every branch of admittance Y: one factored matrix and two right-hand sides for all
// parameters. The source's impedance Z_s enters with H = V/(1 + Z_s·Y_in).
func (s *Solution) Sensitivities(port Port) (*Sensitivities, error) {
	p := s.plan
	n := len(s.in)
	out := &Sensitivities{grid: p.grid, params: p.params, h: s.VoltageTo(nil, port), slopes: make([][]complex128, len(p.params))}
	for k := range out.slopes {
		out.slopes[k] = make([]complex128, n)
	}
	x, adj := make([]complex128, p.size), make([]complex128, p.size)
	for i, w := range p.grid.Omega() {
		s.assemble(i)
		if k := s.factor(); k >= 0 {
			return nil, p.singular(i, k)
		}
		copy(x, s.rhs)
		s.substitute(x)
		clear(adj)
		if port.a >= 0 {
			adj[port.a]++
		}
		if port.b >= 0 {
			adj[port.b]--
		}
		s.substitute(adj)
		var zs complex128
		if p.source != nil {
			zs = p.source[i]
		}
		for k := range p.branches {
			b := &p.branches[k]
			cur := s.y[k] * (potential(x, b.a, 1) - potential(x, b.b, 1))
			back := s.y[k] * (potential(adj, b.a, 0) - potential(adj, b.b, 0))
			per := s.in[i] * cur * (back + zs*out.h[i]*cur)
			first, second := b.slopes(i, w, s.values)
			out.slopes[b.param][i] = per * first
			if b.parameters() == 2 {
				out.slopes[b.param+1][i] = per * second
			}
		}
	}
	return out, nil
}

// SumSensitivities returns those of Σ H·D, where H are voltages of one solution and D what
// the drivers there make of a volt: how the sum of the ways changes with the parts.
func SumSensitivities(ways []*Sensitivities, drivers []freq.Response) (*Sensitivities, error) {
	if len(ways) == 0 || len(ways) != len(drivers) {
		return nil, fmt.Errorf("network: %d ways and %d drivers, want as many and at least 1", len(ways), len(drivers))
	}
	first := ways[0]
	sum := &Sensitivities{grid: first.grid, params: first.params, h: make([]complex128, len(first.h)), slopes: make([][]complex128, len(first.params))}
	for k := range sum.slopes {
		sum.slopes[k] = make([]complex128, len(first.h))
	}
	for j, way := range ways {
		if !slices.Equal(way.params, first.params) || !way.grid.Equal(first.grid) {
			return nil, fmt.Errorf("network: way %d is of another network or grid, want those of way 0", j)
		}
		if !drivers[j].Grid().Equal(first.grid) {
			return nil, fmt.Errorf("network: driver %d is on %v, want %v", j, drivers[j].Grid(), first.grid)
		}
		if drivers[j].Basis() != drivers[0].Basis() {
			return nil, fmt.Errorf("network: driver %d is %v, want %v as the first", j, drivers[j].Basis(), drivers[0].Basis())
		}
		for i := range sum.h {
			d := drivers[j].At(i)
			sum.h[i] += way.h[i] * d
			for k := range sum.slopes {
				sum.slopes[k][i] += way.slopes[k][i] * d
			}
		}
	}
	return sum, nil
}

// Parameters returns a copy of the list of parameters.
func (s *Sensitivities) Parameters() []Parameter { return slices.Clone(s.params) }

// Derivative returns a copy of ∂H/∂ln v of a parameter, by its place in the list.
func (s *Sensitivities) Derivative(k int) []complex128 { return slices.Clone(s.slopes[k]) }

// Level returns the change of the level per relative change of a parameter,
//
//	∂(20·lg|H|)/∂ln v = 20·lg e·Re(∂H/∂ln v / H)
//
// in dB: a hundredth of it is what 1 % does. At a zero of the response there is none, which
// is an error.
func (s *Sensitivities) Level(k int) (freq.Curve, error) {
	v := make([]float64, len(s.h))
	neper := level.DB(math.E)
	for i, d := range s.slopes[k] {
		if s.h[i] == 0 {
			return freq.Curve{}, fmt.Errorf("network: response is 0 at %g Hz, want one that has a level", s.grid.At(i))
		}
		v[i] = neper * real(d/s.h[i])
	}
	return freq.NewCurve(s.grid, v, s.params[k].Part, "dB", freq.Basis{})
}

// Tolerances are the relative tolerances of the parts, 0.05 for ±5 %, by name.
type Tolerances map[string]Tolerance

// Tolerance is what the values of a part may be off by, either way and relative.
type Tolerance struct {
	Value float64 // R, L, C, or the impedance of a load as a whole
	Loss  float64 // the series resistance of a coil or a capacitor
}

// Spread is how far a level may be off because of the parts, in dB either way.
type Spread struct {
	Worst freq.Curve // all parts at the worst end at once: Σ |S·t|
	RMS   freq.Curve // root of the sum of squares √Σ (S·t)²
}

// Spread returns the bands for the tolerances, to first order: at ±5 % of a part the second
// order is some hundredths of a decibel, more near a deep dip. With tolerances that are k
// standard deviations of independent parts, RMS is k standard deviations of the level. A
// part without a tolerance is exact; a tolerance of an unknown part is refused.
func (s *Sensitivities) Spread(t Tolerances) (Spread, error) {
	worst, square := make([]float64, len(s.h)), make([]float64, len(s.h))
	for _, name := range slices.Sorted(maps.Keys(t)) { // so that of several mistakes always the same is named
		v := t[name]
		if !slices.ContainsFunc(s.params, func(p Parameter) bool { return p.Part == name }) {
			return Spread{}, fmt.Errorf("network: tolerance of %q, and no part with a value is called so", name)
		}
		for _, u := range []float64{v.Value, v.Loss} {
			if !(u >= 0 && u < 1) {
				return Spread{}, fmt.Errorf("network: relative tolerance of %q is %g, want 0 ≤ t < 1", name, u)
			}
		}
	}
	for k, p := range s.params {
		tol := t[p.Part].Value
		if p.Kind == Loss {
			tol = t[p.Part].Loss
		}
		if tol == 0 {
			continue
		}
		c, err := s.Level(k)
		if err != nil {
			return Spread{}, err
		}
		for i := range worst {
			d := c.At(i) * tol
			worst[i] += math.Abs(d)
			square[i] += d * d
		}
	}
	for i := range square {
		square[i] = math.Sqrt(square[i])
	}
	w, err := freq.NewCurve(s.grid, worst, "worst case", "dB", freq.Basis{})
	if err != nil {
		return Spread{}, err
	}
	r, err := freq.NewCurve(s.grid, square, "root of the sum of squares", "dB", freq.Basis{})
	return Spread{Worst: w, RMS: r}, err
}
