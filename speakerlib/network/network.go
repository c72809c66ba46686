package network

import (
	"fmt"
	"slices"
)

// Network is a passive network between its input and ground. It is immutable.
type Network struct {
	input NodeID
	parts []Part
	index map[NodeID]int // of the unknown nodes; ground is −1, the input −2
	nodes []NodeID       // the unknown ones, in the order of their first part
}

const (
	atGround = -1
	atInput  = -2
)

// New returns the network of the parts that is fed between input and [Ground]. It refuses
// parts of one name, a part whose ends are on one node, a node that only one end of a part
// is on (a name misspelt, most often), and nodes without a path of parts to ground: what
// hangs on a transformer alone has no voltage against ground until one of its nodes is
// grounded. Every error names part or node.
func New(input NodeID, parts ...Part) (*Network, error) {
	if input == "" || input == Ground {
		return nil, fmt.Errorf("network: input is node %q, want a node of its own", input)
	}
	n := &Network{input: input, parts: slices.Clone(parts), index: map[NodeID]int{Ground: atGround, input: atInput}}
	names := map[string]bool{}
	ends := map[NodeID]int{}
	next := map[NodeID][]NodeID{}
	for i, p := range parts {
		if p == nil {
			return nil, fmt.Errorf("network: part %d is nil, want a part", i)
		}
		switch q := p.(type) {
		case Resistor, Inductor, Capacitor, Load:
		case Transformer:
			q.Windings = slices.Clone(q.Windings)
			n.parts[i] = q
		default:
			return nil, fmt.Errorf("network: part %d is a %T, want a value and not a pointer", i, p)
		}
		if p.Label() == "" {
			return nil, fmt.Errorf("network: part %d has no name, want one", i)
		}
		if names[p.Label()] {
			return nil, fmt.Errorf("network: two parts are called %q, want different names", p.Label())
		}
		names[p.Label()] = true
		if err := p.Validate(); err != nil {
			return nil, err
		}
		for _, e := range p.ends() {
			if e[0] == "" || e[1] == "" {
				return nil, fmt.Errorf("network: an end of %q is on no node, want the names of two", p.Label())
			}
			if e[0] == e[1] {
				return nil, fmt.Errorf("network: both ends of %q are on node %q, want two nodes", p.Label(), e[0])
			}
			for k, id := range e {
				ends[id]++
				next[id] = append(next[id], e[1-k])
				if _, known := n.index[id]; !known {
					n.index[id] = len(n.nodes)
					n.nodes = append(n.nodes, id)
				}
			}
		}
	}
	if ends[input] == 0 {
		return nil, fmt.Errorf("network: no part is on the input %q, want at least 1", input)
	}
	for _, id := range n.nodes {
		if ends[id] == 1 {
			return nil, fmt.Errorf("network: node %q is the end of one part only, want two or more", id)
		}
	}
	grounded := map[NodeID]bool{Ground: true}
	for queue := []NodeID{Ground}; len(queue) > 0; queue = queue[1:] {
		for _, id := range next[queue[0]] {
			if !grounded[id] {
				grounded[id] = true
				queue = append(queue, id)
			}
		}
	}
	for _, id := range append([]NodeID{input}, n.nodes...) {
		if !grounded[id] {
			return nil, fmt.Errorf("network: no path of parts leads from node %q to ground", id)
		}
	}
	return n, nil
}

// Input returns the node that is fed.
func (n *Network) Input() NodeID { return n.input }

// Parts returns a copy of the list of parts.
func (n *Network) Parts() []Part { return slices.Clone(n.parts) }

// Part returns the part of that name.
func (n *Network) Part(name string) (Part, error) {
	i, err := n.find(name)
	if err != nil {
		return nil, err
	}
	return n.parts[i], nil
}

// With returns the network with the part of the same name replaced by p.
func (n *Network) With(p Part) (*Network, error) {
	if p == nil {
		return nil, fmt.Errorf("network: replacement is nil, want a part")
	}
	i, err := n.find(p.Label())
	if err != nil {
		return nil, err
	}
	parts := n.Parts()
	parts[i] = p
	return New(n.input, parts...)
}

func (n *Network) find(name string) (int, error) {
	for i, p := range n.parts {
		if p.Label() == name {
			return i, nil
		}
	}
	return 0, fmt.Errorf("network: no part is called %q", name)
}

// at returns the index of a node.
func (n *Network) at(id NodeID) (int, error) {
	i, ok := n.index[id]
	if !ok {
		return 0, fmt.Errorf("network: no node is called %q", id)
	}
	return i, nil
}
