package figure

import (
	"fmt"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/freq"
)

// Ceiling draws the highest level over frequency, and what stops it where. The
// segments must cover the curve in the order of frequency; their names stand
// above the plot over a bar of their colour, and the curve has that colour. Other
// curves (a demand, the ceiling of another version) are drawn for comparison.
func Ceiling(o Options, ceiling freq.Curve, causes []Span, others ...freq.Curve) *Figure {
	if ceiling.Grid() == nil || ceiling.Unit() != "dB" {
		return failed(fmt.Errorf("figure: ceiling %q is in %q, want a level in dB", ceiling.Label(), ceiling.Unit()))
	}
	if len(causes) == 0 {
		return failed(fmt.Errorf("figure: ceiling %q without a cause", ceiling.Label()))
	}
	for i, s := range causes {
		if s.Label == "" || !(s.From <= s.To) || i > 0 && !(s.From >= causes[i-1].To) {
			return failed(fmt.Errorf("figure: segment %q of the ceiling from %g to %g Hz, want a name and segments in the order of frequency", s.Label, s.From, s.To))
		}
	}
	f := Magnitude(o, append([]freq.Curve{ceiling}, others...)...)
	if f.err != nil {
		return f
	}
	// The pens of causes come after those of the curves that are drawn whole,
	// from the end of the list backwards.
	var names []string
	for _, s := range causes {
		if !slices.Contains(names, s.Label) {
			names = append(names, s.Label)
		}
	}
	all := pens()
	if len(names)+len(others) > len(all) {
		return failed(fmt.Errorf("figure: %d causes and %d other curves, want at most %d together", len(names), len(others), len(all)))
	}
	free := slices.Concat(all[:1], all[1+len(others):])
	if len(others) == 0 {
		free = all
	}
	penOf := func(label string) pen {
		p := free[slices.Index(names, label)]
		p.dashes, p.width = nil, 2.4
		return p
	}
	// The first line is the ceiling: cut it.
	p := &f.panels[0]
	whole := p.lines[0]
	for _, v := range o.Valid {
		if v.Curve == ceiling.Label() {
			return failed(fmt.Errorf("figure: a ceiling has no range of validity, had one for %q", v.Curve))
		}
	}
	var parts []line
	next := 0
	for i, s := range causes {
		first := next
		for next < len(whole.x) && whole.x[next] <= s.To*(1+1e-9) {
			if whole.x[next] < s.From*(1-1e-9) {
				return failed(fmt.Errorf("figure: the ceiling has no cause at %g Hz", whole.x[next]))
			}
			next++
		}
		if next == first {
			continue
		}
		end := min(next+1, len(whole.x)) // joined to the next segment
		pen := penOf(s.Label)
		parts = append(parts, line{label: s.Label, x: whole.x[first:end], y: whole.y[first:end], pen: pen})
		to := whole.x[end-1]
		if i == len(causes)-1 {
			to = s.To
		}
		if from, to := max(s.From, f.x.min), min(to, f.x.max); from < to {
			f.strip = append(f.strip, flag{from: from, to: to, label: s.Label, pen: &pen})
		}
	}
	if next < len(whole.x) {
		return failed(fmt.Errorf("figure: the ceiling has no cause at %g Hz", whole.x[next]))
	}
	p.lines = append(parts, p.lines[1:]...)
	f.strip = merge(f.strip)
	// In the legend a cause stands for the ceiling.
	var legend []entry
	for _, n := range names {
		legend = append(legend, entry{label: ceiling.Label() + ": " + n, pen: penOf(n)})
	}
	f.legend = append(legend, f.legend[1:]...)
	var words []string
	for _, g := range f.strip {
		if g.segment() {
			words = append(words, fmt.Sprintf("%s from %s to %s Hz", g.label, number(g.from), number(g.to)))
		}
	}
	f.alt += " The ceiling is set by: " + strings.Join(words, ", ") + "."
	return f
}

// merge joins neighbouring segments of the same name.
func merge(strip []flag) []flag {
	var out []flag
	for _, g := range strip {
		if n := len(out); n > 0 && g.segment() && out[n-1].segment() && out[n-1].label == g.label {
			out[n-1].to = g.to
			continue
		}
		out = append(out, g)
	}
	return out
}
