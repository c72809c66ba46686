package activerc

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

// Row is a line of the list of parts.
type Row struct {
	Designator string `col:"part"`
	Stage      int    `col:"stage"`
	Topology   string `col:"circuit"`
	Kind       string `col:"kind"`
	Value      string `col:"value"`
	From       string `col:"from"` // node; of an amplifier both inputs, + first
	To         string `col:"to"`   // node
}

// PartsList returns the resistors, capacitors and amplifiers of the chain, those of the n-th
// stage numbered from n01, and the nodes that they join, named as in [Chain.Netlist]. Rails,
// their decoupling and what drives the first stage are not in it.
func (c *Chain) PartsList() []Row {
	var rows []Row
	for k, s := range c.stages {
		count := [2]int{}
		for _, p := range s.circuit.parts {
			rows = append(rows, Row{
				Designator: designator(p.Kind, k, &count), Stage: k + 1, Topology: s.topology.String(),
				Kind: p.Kind.String(), Value: engineering(p.Value) + p.Kind.Unit(), From: c.node(k, p.A), To: c.node(k, p.B),
			})
		}
		for i, o := range s.circuit.opamps {
			rows = append(rows, Row{
				Designator: fmt.Sprintf("U%d%02d", k+1, i+1), Stage: k + 1, Topology: s.topology.String(),
				Kind: "amplifier", Value: o.Amplifier.Name, From: c.node(k, o.Plus) + ", " + c.node(k, o.Minus), To: c.node(k, o.Out),
			})
		}
	}
	return rows
}

// node returns the name that a node of stage k has in the chain.
func (c *Chain) node(k int, n Node) string {
	switch {
	case n == Ground:
		return "0"
	case n == Input && k == 0:
		return "in"
	case n == Input:
		return fmt.Sprintf("out%d", k)
	case n == c.stages[k].circuit.out && k == len(c.stages)-1:
		return "out"
	}
	return fmt.Sprintf("%s%d", n, k+1)
}

func designator(k Kind, stage int, count *[2]int) string {
	count[k]++
	return fmt.Sprintf("%c%d%02d", "RC"[k], stage+1, count[k])
}

// engineering writes a value with a multiple of its unit.
func engineering(v float64) string {
	for _, m := range []struct {
		f float64
		s string
	}{{1e6, " M"}, {1e3, " k"}, {1, " "}, {1e-3, " m"}, {1e-6, " µ"}, {1e-9, " n"}, {1e-12, " p"}} {
		if v >= m.f*(1-1e-9) || m.f == 1e-12 {
			return strconv.FormatFloat(v/m.f, 'g', 6, 64) + m.s
		}
	}
	panic("activerc: value without a multiple")
}

// Netlist returns the chain as the element cards of a circuit simulator of the SPICE family:
// input on node in, output on node out. An amplifier is a controlled current into a conductance
// and a capacitance (G, C) and a buffer (E), none of which makes noise; an ideal one has a gain
// of 1e12 that way, since a single source of such a gain costs a simulator's matrix its digits.
// What is white of an amplifier's own noise is
// written as that of resistors at a temperature in kelvin, e²/4kT in front of an input and
// i²/4kT into each, coupled in by controlled sources; at 0 K it is left out. Its part that rises
// as 1/f is not in it. The first line is the title, as the format wants it; there is no
// analysis.
func (c *Chain) Netlist(title string, kelvin float64) (string, error) {
	if !(kelvin >= 0) || math.IsInf(kelvin, 0) {
		return "", fmt.Errorf("activerc: temperature is %g K, want a finite one ≥ 0", kelvin)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "* %s\n", strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, title))
	for k, s := range c.stages {
		count := [2]int{}
		for _, p := range s.circuit.parts {
			fmt.Fprintf(&b, "%s %s %s %s\n", designator(p.Kind, k, &count), c.node(k, p.A), c.node(k, p.B), number(p.Value))
		}
		for i, o := range s.circuit.opamps {
			writeAmplifier(&b, fmt.Sprintf("U%d%02d", k+1, i+1), c.node(k, o.Plus), c.node(k, o.Minus), c.node(k, o.Out), o.Amplifier, kelvin)
		}
	}
	return b.String(), nil
}

func writeAmplifier(b *strings.Builder, u, plus, minus, out string, a Amplifier, kelvin float64) {
	for j, x := range []struct {
		a, b string
		c    float64
	}{{plus, minus, a.Differential}, {plus, "0", a.Common}, {minus, "0", a.Common}} {
		if x.c > 0 && x.a != x.b {
			fmt.Fprintf(b, "C%s%c %s %s %s\n", u, "dpm"[j], x.a, x.b, number(x.c))
		}
	}
	if kelvin > 0 {
		if a.Current > 0 {
			for j, n := range []string{plus, minus} {
				if n != "0" {
					fmt.Fprintf(b, "R%s%c %s%c 0 %s\n", u, "pm"[j], u, "pm"[j], number(a.Current*a.Current/(4*boltzmann*kelvin)))
					fmt.Fprintf(b, "G%s%c 0 %s %s%c 0 1\n", u, "pm"[j], n, u, "pm"[j])
				}
			}
		}
		if a.Voltage > 0 {
			fmt.Fprintf(b, "R%se %se 0 %s\n", u, u, number(a.Voltage*a.Voltage/(4*boltzmann*kelvin)))
			fmt.Fprintf(b, "E%se %sx %s %se 0 1\n", u, u, plus, u)
			plus = u + "x"
		}
	}
	c0, c1 := a.inverse()
	if c0 == 0 && c1 == 0 {
		c0 = 1e-12
	}
	// 1 A per volt into 1/A0 and 1/ωt: V = (V+ − V−)/(c0 + s·c1)
	fmt.Fprintf(b, "G%s 0 %s %s %s 1\n", u, u, plus, minus)
	if c0 > 0 {
		fmt.Fprintf(b, "G%sa %s 0 %s 0 %s\n", u, u, u, number(c0))
	}
	if c1 > 0 {
		fmt.Fprintf(b, "C%s %s 0 %s\n", u, u, number(c1))
	}
	if a.Output > 0 { // a conductance as a source does not hiss
		fmt.Fprintf(b, "G%so %s %so %s %so %s\n", u, out, u, out, u, number(1/a.Output))
		out = u + "o"
	}
	fmt.Fprintf(b, "E%s %s 0 %s 0 1\n", u, out, u)
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
