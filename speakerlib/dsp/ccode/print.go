package ccode

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/loudspeaker/speakerlib/dsp"
)

// printer prints one way.
type printer struct {
	name    string // prefix and way
	program *dsp.Program
	a       dsp.Arithmetic
	fixed   bool
	wide    bool
	sample  string // type of samples and states
	local   string // type of variables within a sample
}

func newPrinter(name string, p *dsp.Program) *printer {
	out := &printer{name: name, program: p, a: p.Arithmetic}
	switch p.Arithmetic.Signal.Number {
	case dsp.Binary32:
		out.sample, out.local = "float", "float"
	case dsp.Binary64:
		out.sample, out.local = "double", "double"
	default:
		out.fixed, out.wide = true, p.Arithmetic.Accumulator > 64
		out.sample, out.local = "int32_t", "int64_t"
		if p.Arithmetic.Signal.Word() > 32 {
			out.sample = "int64_t"
		}
	}
	return out
}

func (p *printer) header(h *writer, w Way) {
	h.line("")
	h.comment(fmt.Sprintf("%s: %.12g Hz, %v", w.Name, w.Program.SampleRate, w.Program.Arithmetic))
	h.line("typedef %s %s_sample;", p.sample, p.name)
	h.line("typedef struct {")
	empty := true
	field := func(format string, args ...any) {
		h.line("\t"+format+";", args...)
		empty = false
	}
	for i, s := range p.program.Sections {
		n := s.Network(p.a)
		for _, v := range n.States {
			field("%s s%d_%s", p.sample, i+1, n.Variables[v])
		}
		for _, r := range n.Rows {
			for k := range r.Feedback {
				field("int64_t s%d_%s_e%d", i+1, n.Variables[r.Variable], k+1)
			}
		}
	}
	for i, f := range p.program.FIR {
		field("%s fir%d[%d]", p.sample, i+1, len(f.Taps))
		field("size_t fir%d_at", i+1)
	}
	if p.program.Delay > 0 {
		field("%s line[%d]", p.sample, p.program.Delay)
		field("size_t line_at")
	}
	if empty {
		field("%s none", p.sample)
	}
	h.line("} %s_state;", p.name)
	h.line("void %s_init(%s_state *state);", p.name, p.name)
	h.line("void %s_process(%s_state *state, %s_sample *out, const %s_sample *in, size_t n);", p.name, p.name, p.name, p.name)
}

func (p *printer) source(c *writer, w Way) {
	c.line("")
	c.comment(fmt.Sprintf("%s: %.12g Hz, %v", w.Name, w.Program.SampleRate, w.Program.Arithmetic))
	for i, f := range p.program.FIR {
		p.taps(c, i, f)
	}
	c.line("")
	c.line("void %s_init(%s_state *state)", p.name, p.name)
	c.line("{")
	if len(p.program.FIR) > 0 || p.program.Delay > 0 {
		c.line("\tsize_t i;")
	}
	empty := true
	for i, s := range p.program.Sections {
		n := s.Network(p.a)
		for _, v := range n.States {
			c.line("\tstate->s%d_%s = 0;", i+1, n.Variables[v])
			empty = false
		}
		for _, r := range n.Rows {
			for k := range r.Feedback {
				c.line("\tstate->s%d_%s_e%d = 0;", i+1, n.Variables[r.Variable], k+1)
			}
		}
	}
	clear := func(name string, n int) {
		c.line("\tfor (i = 0; i < %d; i++)", n)
		c.line("\t\tstate->%s[i] = 0;", name)
		c.line("\tstate->%s_at = 0;", name)
		empty = false
	}
	for i, f := range p.program.FIR {
		clear(fmt.Sprintf("fir%d", i+1), len(f.Taps))
	}
	if p.program.Delay > 0 {
		clear("line", p.program.Delay)
	}
	if empty {
		c.line("\tstate->none = 0;")
	}
	c.line("}")

	c.line("")
	c.line("void %s_process(%s_state *state, %s_sample *out, const %s_sample *in, size_t n)", p.name, p.name, p.name, p.name)
	c.line("{")
	c.line("\tsize_t i;")
	if empty {
		c.line("\t(void)state;")
	}
	c.line("\tfor (i = 0; i < n; i++) {")
	if p.fixed {
		c.line("\t\tint64_t now = %s;", p.limit("in[i]"))
	} else {
		c.line("\t\t%s now = in[i];", p.local)
	}
	for i, s := range p.program.Sections {
		p.section(c, i, s)
	}
	if g := p.program.Gain; g != nil {
		c.line("\t\t/* gain %.9g */", g.Float())
		c.line("\t\t{")
		c.line("\t\t\tconst %s x = now;", p.local)
		p.row(c, g.Row(p.a), "now", func(int) string { return "x" }, "")
		c.line("\t\t}")
	}
	for i, f := range p.program.FIR {
		p.fir(c, i, f)
	}
	if p.program.Delay > 0 {
		c.line("\t\t/* delay %d samples */", p.program.Delay)
		c.line("\t\tout[i] = state->line[state->line_at];")
		c.line("\t\tstate->line[state->line_at] = %s;", p.store("now"))
		c.line("\t\tif (++state->line_at == %d)", p.program.Delay)
		c.line("\t\t\tstate->line_at = 0;")
	} else {
		c.line("\t\tout[i] = %s;", p.store("now"))
	}
	c.line("\t}")
	c.line("}")
}

// store converts a variable to the type of samples.
func (p *printer) store(v string) string {
	if p.fixed && p.sample != p.local {
		return "(" + p.sample + ")" + v
	}
	return v
}

// limit brings a narrow number to the signal's range.
func (p *printer) limit(v string) string {
	word := p.a.Signal.Word()
	return fmt.Sprintf("saturate(%s, %s, %s)", v, integer(-1<<(word-1)), integer(1<<(word-1)-1))
}

func integer(v int64) string { return "INT64_C(" + strconv.FormatInt(v, 10) + ")" }

// float writes a number exactly.
func (p *printer) float(v float64) string {
	s := strconv.FormatFloat(v, 'x', -1, 64)
	if p.sample == "float" {
		s += "f"
	}
	if strings.HasPrefix(s, "-") {
		s = "(" + s + ")"
	}
	return s
}

// coefficient tells a coefficient as it is committed.
func (p *printer) coefficient(k dsp.Coefficient) string {
	if !p.fixed {
		return fmt.Sprintf("%.17g", k.Value)
	}
	s := fmt.Sprintf("%d / 2^%d", k.Word, k.Shift)
	if k.LowBits > 0 {
		s += fmt.Sprintf(" + %d / 2^%d", k.Low, k.Shift+k.LowBits)
	}
	return s + fmt.Sprintf(" = %.12g", k.Float())
}

// section prints a structure: local variables, rows, moves.
func (p *printer) section(c *writer, index int, s dsp.Section) {
	n := s.Network(p.a)
	isState := func(v int) bool { return slices.Contains(n.States, v) }
	name := func(v int) string {
		if isState(v) {
			return fmt.Sprintf("state->s%d_%s", index+1, n.Variables[v])
		}
		return n.Variables[v]
	}
	used := map[int]bool{n.Output: true}
	for _, r := range n.Rows {
		for _, t := range r.Terms {
			used[t.Variable] = true
		}
	}
	for _, m := range n.Moves {
		used[m[1]] = true
	}
	c.line("\t\t/* %d. %s: %v", index+1, harmless(s.Design), s.Structure)
	for i, k := range s.Coefficients {
		c.line("\t\t   %s = %s", s.Structure.Names()[i], p.coefficient(k))
	}
	c.line("\t\t */")
	c.line("\t\t{")
	if used[0] {
		c.line("\t\t\tconst %s x = now;", p.local)
	}
	for _, r := range n.Rows {
		if !isState(r.Variable) && used[r.Variable] {
			c.line("\t\t\t%s %s;", p.local, n.Variables[r.Variable])
		}
	}
	for _, r := range n.Rows {
		if isState(r.Variable) || used[r.Variable] {
			p.row(c, r, name(r.Variable), name, fmt.Sprintf("state->s%d_%s", index+1, n.Variables[r.Variable]))
		}
	}
	for _, m := range n.Moves {
		from := name(m[1])
		if !isState(m[1]) {
			from = p.store(from)
		}
		c.line("\t\t\t%s = %s;", name(m[0]), from)
	}
	c.line("\t\t\tnow = %s;", n.Variables[n.Output])
	c.line("\t\t}")
}
