package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Axis is what an axis of an [XY] figure shows. Values are in SI units and
// divided by Per to be shown: Axis{"Vent length", "mm", si.Millimetre}.
type Axis struct {
	Name, Unit string
	Per        float64 // SI value of one shown unit; zero is 1
}

// Series is a row of points with a name, in SI units. X must not decrease, unless
// they are drawn as points only.
type Series struct {
	Label  string
	X, Y   []float64
	Points bool // no line from one to the next
}

// XYPanel is one of the plots of an [XY] figure.
type XYPanel struct {
	Y           Axis
	Series      []Series
	Bottom, Top float64 // in SI; both zero: from the series
	Limits      []Limit
}

// XYOptions are the settings of an [XY] figure.
type XYOptions struct {
	Title string
	Note  string // the caption
	Dots  bool   // mark the points: they were computed, what is between them was not
	Marks []Mark // places on the horizontal axis, in SI
	Spans []Span // ranges on it, in SI: shaded
}

// XY draws what depends on something else than frequency response: the price of a
// choice, in as many panels as it has sides, over one horizontal axis. Series
// with the same label have the same pen in all panels.
func XY(o XYOptions, x Axis, panels ...XYPanel) *Figure {
	for _, a := range append([]Axis{x}, axes(panels)...) {
		if p := a.per(); !(p > 0) || math.IsInf(p, 0) {
			return failed(fmt.Errorf("figure: one shown unit of %q is %g in SI, want a finite value > 0", a.Name, p))
		}
	}
	if len(panels) == 0 {
		return failed(fmt.Errorf("figure: no panel, want at least 1"))
	}
	f := &Figure{title: o.Title, xTitle: x.title(), caption: o.Note}
	b := &builder{f: f, panels: len(panels)}
	horizontal := newReach(false)
	for _, p := range panels {
		for _, s := range p.Series {
			if err := s.check(); err != nil {
				return failed(err)
			}
			horizontal.add(s.X, s.X, math.Inf(-1), math.Inf(1))
		}
		if len(p.Series) == 0 {
			return failed(fmt.Errorf("figure: panel %q without a series", p.Y.Name))
		}
	}
	if !(horizontal.lo < horizontal.hi) {
		return failed(fmt.Errorf("figure: all points are at %g %s, want a range", horizontal.lo/x.per(), x.Unit))
	}
	lo, hi := horizontal.lo/x.per(), horizontal.hi/x.per()
	if err := drawable(lo, hi); err != nil {
		return failed(err)
	}
	f.x = linearScale(lo, hi, niceStep((hi-lo)/10))
	for _, p := range panels {
		if err := b.xyPanel(o, x, p); err != nil {
			return failed(err)
		}
	}
	for _, r := range o.Spans {
		if !(r.From < r.To) || !(r.To > horizontal.lo && r.From < horizontal.hi) || r.Label == "" {
			return failed(fmt.Errorf("figure: range %q from %g to %g, want a name and a part of %g to %g", r.Label, r.From, r.To, horizontal.lo, horizontal.hi))
		}
		f.strip = append(f.strip, flag{from: r.From / x.per(), to: r.To / x.per(), label: r.Label})
	}
	for _, m := range o.Marks {
		if !(m.At >= horizontal.lo && m.At <= horizontal.hi) || m.Label == "" {
			return failed(fmt.Errorf("figure: mark %q at %g, want a name and a place from %g to %g", m.Label, m.At, horizontal.lo, horizontal.hi))
		}
		f.strip = append(f.strip, flag{from: m.At / x.per(), to: m.At / x.per(), label: m.Label})
	}
	if err := f.name(); err != nil {
		return failed(err)
	}
	var parts []string
	if o.Title != "" {
		parts = append(parts, o.Title)
	}
	parts = append(parts, fmt.Sprintf("Over %s from %s to %s", f.xTitle, number(f.x.min), number(f.x.max)))
	parts = append(parts, b.words...)
	parts = append(parts, f.limits()...)
	for _, r := range o.Spans {
		parts = append(parts, fmt.Sprintf("From %s to %s: %s", number(r.From/x.per()), number(r.To/x.per()), r.Label))
	}
	for _, m := range o.Marks {
		parts = append(parts, fmt.Sprintf("Mark at %s: %s", number(m.At/x.per()), m.Label))
	}
	f.alt = strings.TrimSpace(strings.Join(parts, ". ") + ". " + o.Note)
	return f
}

func (b *builder) xyPanel(o XYOptions, x Axis, p XYPanel) error {
	out := panel{title: p.Y.title(), height: plainHeight(b.panels)}
	reach := newReach(false)
	var words, seen []string
	for _, s := range p.Series {
		if slices.Contains(seen, s.Label) {
			return fmt.Errorf("figure: two series are named %q in one panel", s.Label)
		}
		seen = append(seen, s.Label)
		pen, err := b.penOf(s.Label)
		if err != nil {
			return err
		}
		n := line{label: s.Label, pen: pen, dots: o.Dots || s.Points, bare: s.Points}
		for i := range s.X {
			n.x, n.y = append(n.x, s.X[i]/x.per()), append(n.y, s.Y[i]/p.Y.per())
		}
		word, ok := reach.add(n.x, n.y, math.Inf(-1), math.Inf(1))
		if !ok {
			return fmt.Errorf("figure: series %q has nothing to draw", s.Label)
		}
		words = append(words, s.Label+" "+word)
		out.lines = append(out.lines, n)
	}
	for _, l := range p.Limits {
		l.From, l.To = l.From/x.per(), l.To/x.per()
		n, err := b.limit(l, 1/p.Y.per())
		if err != nil {
			return err
		}
		reach.include(n.y)
		out.fences = append(out.fences, n)
	}
	var err error
	if out.y, err = reach.scale(p.Bottom/p.Y.per(), p.Top/p.Y.per(), labelsOn(out.height), niceStep); err != nil {
		return err
	}
	b.words = append(b.words, out.title+": "+strings.Join(words, "; "))
	b.f.panels = append(b.f.panels, out)
	return nil
}

func axes(panels []XYPanel) (a []Axis) {
	for _, p := range panels {
		a = append(a, p.Y)
	}
	return a
}

func (a Axis) per() float64 {
	if a.Per == 0 {
		return 1
	}
	return a.Per
}

func (a Axis) title() string {
	if a.Unit == "" {
		return a.Name
	}
	return a.Name + " (" + a.Unit + ")"
}

func (s Series) check() error {
	if s.Label == "" {
		return fmt.Errorf("figure: a series has no name")
	}
	least := 2
	if s.Points {
		least = 1
	}
	if len(s.X) != len(s.Y) || len(s.X) < least {
		return fmt.Errorf("figure: series %q has %d places and %d values, want as many of both and at least %d", s.Label, len(s.X), len(s.Y), least)
	}
	for i, v := range s.X {
		if math.IsNaN(v) || math.IsInf(v, 0) || math.IsNaN(s.Y[i]) || !s.Points && i > 0 && v < s.X[i-1] {
			return fmt.Errorf("figure: point %d of series %q is (%g, %g), want numbers, the places in order", i+1, s.Label, v, s.Y[i])
		}
	}
	return nil
}

// Trace is a signal over time.
type Trace struct {
	Label  string
	Values []float64 // the first at time zero
}

// Step draws step responses over time in milliseconds; y is what they are, with
// its unit.
func Step(o XYOptions, y Axis, sampleRate float64, traces ...Trace) *Figure {
	if !(sampleRate > 0) || math.IsInf(sampleRate, 0) {
		return failed(fmt.Errorf("figure: sample rate of %g Hz, want a finite value > 0", sampleRate))
	}
	p := XYPanel{Y: y}
	for _, t := range traces {
		s := Series{Label: t.Label, X: make([]float64, len(t.Values)), Y: t.Values}
		for i := range s.X {
			s.X[i] = float64(i) / sampleRate
		}
		p.Series = append(p.Series, s)
	}
	return XY(o, Axis{"Time", "ms", 1e-3}, p)
}
