package activerc

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
)

// Node is the name of a node.
type Node string

// The nodes that every circuit has.
const (
	Ground Node = "0"  // all voltages are against it
	Input  Node = "in" // fed by a source without impedance
)

// Kind is what a part is.
type Kind int

// The kinds of parts.
const (
	Resistor Kind = iota
	Capacitor
)

// String returns the name of the kind.
func (k Kind) String() string { return [...]string{"resistor", "capacitor"}[k] }

// Unit returns the unit of the value.
func (k Kind) Unit() string { return [...]string{"Ω", "F"}[k] }

// Part is a resistor or a capacitor between two nodes.
type Part struct {
	Name  string
	Kind  Kind
	A, B  Node
	Value float64 // Ω or F, > 0
}

// Opamp is an operational amplifier at its nodes.
type Opamp struct {
	Name             string
	Plus, Minus, Out Node
	Amplifier        Amplifier
}

// Circuit is a network of resistors, capacitors and amplifiers between [Input] and the output
// of an amplifier. It is immutable, and implements [freq.Transfer]: volts at the output per
// volt at the input.
type Circuit struct {
	parts  []Part
	opamps []Opamp
	out    Node
	nodes  []Node       // the unknown ones
	index  map[Node]int // of all
	stamps []stamp      // of the parts, then of what is inside the amplifiers
	amps   []ampStamp
	load   int // index of out
}

const (
	atGround = -1
	atInput  = -2
)

// stamp is an admittance g + s·c between two nodes, in units of 1/unit.
type stamp struct {
	a, b int
	g, c float64
}

// unit makes admittances of the order of the amplifiers' 1, so that pivots can be compared.
const unit = 10e3

type ampStamp struct {
	plus, minus, out int
	c0, c1           float64
}

// NewCircuit returns the circuit of the parts and amplifiers, with its output at the output of
// one of the amplifiers. Every error names the part or node.
func NewCircuit(out Node, opamps []Opamp, parts ...Part) (*Circuit, error) {
	c := &Circuit{
		parts: slices.Clone(parts), opamps: slices.Clone(opamps), out: out,
		index: map[Node]int{Ground: atGround, Input: atInput},
	}
	names := map[string]bool{}
	name := func(s string) error {
		if s == "" {
			return fmt.Errorf("activerc: a part has no name, want one")
		}
		if names[s] {
			return fmt.Errorf("activerc: two parts are called %q, want different names", s)
		}
		names[s] = true
		return nil
	}
	node := func(part string, n Node) (int, error) {
		if n == "" {
			return 0, fmt.Errorf("activerc: a terminal of %q is on no node, want a name", part)
		}
		i, known := c.index[n]
		if !known {
			i = len(c.nodes)
			c.index[n] = i
			c.nodes = append(c.nodes, n)
		}
		return i, nil
	}
	ends := map[int]int{}
	for _, p := range parts {
		if err := name(p.Name); err != nil {
			return nil, err
		}
		if p.Kind != Resistor && p.Kind != Capacitor {
			return nil, fmt.Errorf("activerc: kind of %q is %d, want a resistor or a capacitor", p.Name, int(p.Kind))
		}
		if !(p.Value > 0) || math.IsInf(p.Value, 0) {
			return nil, fmt.Errorf("activerc: value of %q is %g %s, want a finite one > 0", p.Name, p.Value, p.Kind.Unit())
		}
		if p.A == p.B {
			return nil, fmt.Errorf("activerc: both ends of %q are on node %q, want two nodes", p.Name, p.A)
		}
		a, err := node(p.Name, p.A)
		if err != nil {
			return nil, err
		}
		b, err := node(p.Name, p.B)
		if err != nil {
			return nil, err
		}
		ends[a]++
		ends[b]++
		c.stamps = append(c.stamps, stamp{a: a, b: b})
		c.stamps[len(c.stamps)-1].set(p.Kind, p.Value)
	}
	driven := map[Node]string{Ground: "ground", Input: "the source"}
	for _, o := range opamps {
		if err := name(o.Name); err != nil {
			return nil, err
		}
		if err := o.Amplifier.Validate(); err != nil {
			return nil, err
		}
		if by, ok := driven[o.Out]; ok {
			return nil, fmt.Errorf("activerc: output of %q is on node %q, which %s drives", o.Name, o.Out, by)
		}
		if o.Plus == o.Minus {
			return nil, fmt.Errorf("activerc: both inputs of %q are on node %q, want two nodes", o.Name, o.Plus)
		}
		driven[o.Out] = o.Name
		var k [3]int
		for j, n := range []Node{o.Plus, o.Minus, o.Out} {
			i, err := node(o.Name, n)
			if err != nil {
				return nil, err
			}
			ends[i]++
			k[j] = i
		}
		if o.Amplifier.Output > 0 { // a node that nothing else can be on
			inside := len(c.nodes)
			c.nodes = append(c.nodes, "inside "+Node(o.Name))
			c.stamps = append(c.stamps, stamp{a: inside, b: k[2], g: unit / o.Amplifier.Output})
			k[2] = inside
		}
		c0, c1 := o.Amplifier.inverse()
		c.amps = append(c.amps, ampStamp{k[0], k[1], k[2], c0, c1})
		if o.Amplifier.Differential > 0 {
			c.stamps = append(c.stamps, stamp{a: k[0], b: k[1], c: unit * o.Amplifier.Differential})
		}
		if o.Amplifier.Common > 0 {
			for _, i := range k[:2] {
				if i >= 0 {
					c.stamps = append(c.stamps, stamp{a: i, b: atGround, c: unit * o.Amplifier.Common})
				}
			}
		}
	}
	if by := driven[out]; by == "" || out == Ground || out == Input {
		return nil, fmt.Errorf("activerc: node of the output is %q, want the output of an amplifier", out)
	}
	if ends[atInput] == 0 {
		return nil, fmt.Errorf("activerc: nothing is on node %q, want the input of the circuit there", Input)
	}
	for i, n := range c.nodes {
		if ends[i] == 1 && n != out {
			return nil, fmt.Errorf("activerc: node %q is the end of one part only, want two or more", n)
		}
	}
	c.load = c.index[out]
	return c, c.solvable()
}

// set gives the stamp of a part its value.
func (s *stamp) set(k Kind, v float64) {
	if k == Resistor {
		s.g = unit / v
	} else {
		s.c = unit * v
	}
}

// solvable reports a circuit whose voltages are not determined: at a frequency where no
// filter has a pole.
func (c *Circuit) solvable() error {
	w := c.workspace()
	for _, hz := range []float64{10, 997} {
		if k := w.solve(2 * math.Pi * hz); k >= 0 {
			return fmt.Errorf("activerc: voltage of node %q is not determined: no feedback, or no path to ground", c.nodes[k])
		}
	}
	return nil
}

// Parts returns a copy of the list of resistors and capacitors.
func (c *Circuit) Parts() []Part { return slices.Clone(c.parts) }

// Opamps returns a copy of the list of amplifiers.
func (c *Circuit) Opamps() []Opamp { return slices.Clone(c.opamps) }

// Output returns the node of the output.
func (c *Circuit) Output() Node { return c.out }

// With returns the circuit with another amplifier at all places; with Amplifier{} it is the
// ideal circuit of these parts.
func (c *Circuit) With(a Amplifier) (*Circuit, error) {
	o := c.Opamps()
	for i := range o {
		o[i].Amplifier = a
	}
	return NewCircuit(c.out, o, c.parts...)
}

// ResponseTo implements [freq.Transfer]. A frequency at which the voltages are not determined,
// which only a circuit without losses can have, is NaN.
func (c *Circuit) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	return c.workspace().responseTo(dst, g, c.load)
}

// NodeTo writes the voltage of a node per volt at the input into dst (nil allocates, another
// length panics) and returns it: that of an amplifier's output inside shows where a section
// clips first.
func (c *Circuit) NodeTo(dst []complex128, g *freq.Grid, n Node) ([]complex128, error) {
	i, ok := c.index[n]
	if !ok || i < 0 {
		return nil, fmt.Errorf("activerc: no unknown node is called %q", n)
	}
	return c.workspace().responseTo(dst, g, i), nil
}
