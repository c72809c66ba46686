package ccode

import (
	"fmt"
	"strings"

	"example.org/loudspeaker/speakerlib/dsp"
)

// taps prints the tables of a FIR filter.
func (p *printer) taps(c *writer, index int, f dsp.FIR) {
	table := func(suffix, kind string, text func(dsp.Coefficient) string) {
		c.line("")
		c.comment(fmt.Sprintf("FIR filter %d: %s", index+1, f.Design))
		c.line("static const %s %s_fir%d%s[%d] = {", kind, p.name, index+1, suffix, len(f.Taps))
		var row []string
		for i, t := range f.Taps {
			row = append(row, text(t))
			if len(row) == 4 || i == len(f.Taps)-1 {
				c.line("\t%s,", strings.Join(row, ", "))
				row = row[:0]
			}
		}
		c.line("};")
	}
	if !p.fixed {
		table("", p.sample, func(t dsp.Coefficient) string { return p.float(t.Value) })
		return
	}
	table("", "int64_t", func(t dsp.Coefficient) string { return integer(t.Word) })
	if f.Taps[0].LowBits > 0 {
		table("_low", "int64_t", func(t dsp.Coefficient) string { return integer(t.Low) })
	}
}

// fir prints a FIR filter: the line holds the samples from the newest, at fir_at, on to
// the oldest, around its end.
func (p *printer) fir(c *writer, index int, f dsp.FIR) {
	n := len(f.Taps)
	line, table := fmt.Sprintf("state->fir%d", index+1), fmt.Sprintf("%s_fir%d", p.name, index+1)
	c.line("\t\t/* FIR filter %d */", index+1)
	c.line("\t\t{")
	c.line("\t\t\tsize_t k, at;")
	if p.fixed {
		p.begin(c, "\t\t\t")
	} else {
		c.line("\t\t\t%s sum[4] = {0, 0, 0, 0};", p.local)
	}
	c.line("\t\t\tif (%s_at == 0)", line)
	c.line("\t\t\t\t%s_at = %d;", line, n)
	c.line("\t\t\tat = --%s_at;", line)
	c.line("\t\t\t%s[at] = %s;", line, p.store("now"))
	each := func(body func()) {
		c.line("\t\t\tfor (k = 0, at = %s_at; k < %d; k++) {", line, n)
		body()
		c.line("\t\t\t\tif (++at == %d)", n)
		c.line("\t\t\t\t\tat = 0;")
		c.line("\t\t\t}")
	}
	if !p.fixed {
		each(func() {
			c.line("\t\t\t\tconst %s product = %s[k] * %s[at];", p.local, table, line)
			c.line("\t\t\t\tsum[k & 3u] = sum[k & 3u] + product;")
		})
		c.line("\t\t\tnow = (sum[0] + sum[1]) + (sum[2] + sum[3]);")
		c.line("\t\t}")
		return
	}
	r := f.Row(p.a)
	if r.LowBits > 0 {
		each(func() { p.mac(c, "\t\t\t\t", table+"_low[k]", line+"[at]") })
		p.cut(c, "\t\t\t", r.LowBits)
	}
	each(func() { p.mac(c, "\t\t\t\t", table+"[k]", line+"[at]") })
	p.finish(c, "\t\t\t", r, "now", false, "")
	c.line("\t\t}")
}
