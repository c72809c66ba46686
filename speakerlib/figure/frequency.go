package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/loudspeaker/speakerlib/freq"
)

// Side is the side on which a limit allows values.
type Side int

// The sides.
const (
	AtMost  Side = iota // values above the limit are forbidden
	AtLeast             // values below it are
)

// Limit is a constant limit over a range of the horizontal axis. One over so short
// a range that its line would be missed is drawn as a bar with a tick at the
// middle of the range, and its name beside it.
type Limit struct {
	Label    string
	Side     Side
	Value    float64 // SI, dB for levels
	From, To float64 // Hz (or the axis of an XY figure); zero: to the end of the axis
}

// Mask is a limit that varies with frequency: values above Upper and below Lower
// are forbidden. A curve that is not there (the zero Curve) does not limit.
type Mask struct {
	Label        string
	Lower, Upper freq.Curve
}

// Span is a range of the horizontal axis with a name.
type Span struct {
	From, To float64 // Hz (or the axis of an XY figure)
	Label    string
}

// Mark is a place on the horizontal axis with a name.
type Mark struct {
	At    float64 // Hz (or the axis of an XY figure)
	Label string
}

// Valid says from which frequency on a curve is to be trusted: a gated
// measurement knows nothing below the inverse of its gate. Below, it is drawn
// pale and dotted, and the caption says so.
type Valid struct {
	Curve string // its label
	From  float64
}

// Ratio is how many decibels take as much room as a decade of frequency.
type Ratio int

// The ratios.
const (
	AutoRatio Ratio = 0 // 25 dB; 50 dB where that is too tall, 10 dB where curves vary by less than 6 dB
	Ratio10   Ratio = 10
	Ratio25   Ratio = 25
	Ratio50   Ratio = 50
)

// Options are the settings of a figure over frequency. The zero value is a
// figure from 20 Hz to 20 kHz without title, scaled to the curves.
type Options struct {
	Title       string
	Y           string  // what the vertical axis shows, without unit; from the curves if empty
	Note        string  // added to the caption
	From, To    float64 // range of frequencies in Hz; zero: 20 and 20000
	Bottom, Top float64 // range of the vertical axis in SI or dB; both zero: from the curves
	Ratio       Ratio   // of levels in dB
	Limits      []Limit
	Masks       []Mask
	Spans       []Span
	Marks       []Mark
	Valid       []Valid
	// Beyond says what it means where a curve is +∞, such as "wider than was measured": it
	// is then drawn pale along the upper edge. Empty: nothing is drawn there.
	Beyond string
}

// Panel is one of several plots above one another. The Y, Bottom, Top, Limits
// and Masks of the figure's options are not used then: a panel has its own.
type Panel struct {
	Curves      []freq.Curve
	Y           string
	Log         bool    // logarithmic vertical axis; not for dB
	Bottom, Top float64 // in SI or dB; both zero: from the curves
	Limits      []Limit
	Masks       []Mask
}

// Magnitude draws levels in decibels over frequency with a kept ratio of
// decibels to a decade.
func Magnitude(o Options, curves ...freq.Curve) *Figure {
	for _, c := range curves {
		if c.Unit() != "dB" {
			return failed(fmt.Errorf("figure: curve %q is in %q, want a level in dB (other units: Quantity)", c.Label(), c.Unit()))
		}
	}
	return single(o, false, curves)
}

// Quantity draws curves of any unit over frequency on a linear vertical axis.
// Metres are shown as millimetres, seconds as milliseconds, radians as degrees.
func Quantity(o Options, curves ...freq.Curve) *Figure { return single(o, false, curves) }

// LogQuantity is [Quantity] on a logarithmic vertical axis.
func LogQuantity(o Options, curves ...freq.Curve) *Figure { return single(o, true, curves) }

// GroupDelay draws group delays, which are in seconds, in milliseconds.
func GroupDelay(o Options, curves ...freq.Curve) *Figure {
	for _, c := range curves {
		if c.Unit() != "s" {
			return failed(fmt.Errorf("figure: curve %q is in %q, want a group delay in s", c.Label(), c.Unit()))
		}
	}
	if o.Y == "" {
		o.Y = "Group delay"
	}
	return single(o, false, curves)
}

func single(o Options, log bool, curves []freq.Curve) *Figure {
	p := Panel{Curves: curves, Y: o.Y, Log: log, Bottom: o.Bottom, Top: o.Top, Limits: o.Limits, Masks: o.Masks}
	o.Y, o.Bottom, o.Top, o.Limits, o.Masks = "", 0, 0, nil, nil
	return Stack(o, p)
}

// Stack draws panels above one another over one axis of frequency. Curves with
// the same label have the same pen in all of them.
func Stack(o Options, panels ...Panel) *Figure {
	b, err := newBuilder(o, len(panels))
	if err != nil {
		return failed(err)
	}
	for _, p := range panels {
		if err := b.panel(p); err != nil {
			return failed(err)
		}
	}
	return b.finish()
}

// builder gathers a figure over frequency.
type builder struct {
	o        Options
	f        *Figure
	panels   int
	labels   []string // of the curves, in the order of their pens
	bases    []string
	of       []string // the label that a basis belongs to
	words    []string // of the description, a panel each
	trusted  []Valid
	decibels bool
	away     bool // something is beyond the upper edge
}

func newBuilder(o Options, panels int) (*builder, error) {
	if o.From == 0 {
		o.From = 20
	}
	if o.To == 0 {
		o.To = 20000
	}
	if !(o.From >= 1/farthest) || !(o.To > o.From*1.2) || !(o.To <= farthest) {
		return nil, fmt.Errorf("figure: axis from %g to %g Hz, want 0 < from < to ≤ %g, and to at least 1.2 times from", o.From, o.To, float64(farthest))
	}
	if panels == 0 {
		return nil, fmt.Errorf("figure: no panel, want at least 1")
	}
	if o.Y != "" || o.Bottom != 0 || o.Top != 0 || o.Limits != nil || o.Masks != nil {
		return nil, fmt.Errorf("figure: Y, Bottom, Top, Limits or Masks in the options of a stack, want them in its panels")
	}
	if !slices.Contains([]Ratio{AutoRatio, Ratio10, Ratio25, Ratio50}, o.Ratio) {
		return nil, fmt.Errorf("figure: ratio of %d dB per decade, want 10, 25 or 50", o.Ratio)
	}
	f := &Figure{title: o.Title, x: logScale(o.From, o.To, hertz), xTitle: "Frequency (Hz)"}
	return &builder{o: o, f: f, panels: panels}, nil
}

// penOf returns the pen of the curves of that label.
func (b *builder) penOf(label string) (pen, error) {
	all := pens()
	i := slices.Index(b.labels, label)
	if i < 0 {
		i = len(b.labels)
		if i == len(all) {
			return pen{}, fmt.Errorf("figure: more than %d curves of different names, which nobody tells apart: draw two figures", len(all))
		}
		b.labels = append(b.labels, label)
	}
	return all[i], nil
}

// shown gives the unit that people read and the factor to it.
func shown(unit string) (name string, times float64) {
	switch unit {
	case "m":
		return "mm", 1e3
	case "s":
		return "ms", 1e3
	case "rad":
		return "°", 180 / math.Pi
	case "m³/s":
		return "L/s", 1e3
	case "1":
		return "", 1
	}
	return unit, 1
}

func (b *builder) panel(p Panel) error {
	if len(p.Curves) == 0 {
		return fmt.Errorf("figure: a plot without a curve")
	}
	unit := p.Curves[0].Unit()
	name, times := shown(unit)
	out := panel{title: axisTitle(p, unit, name)}
	reach := newReach(p.Log)
	var seen []string
	var words []string
	var beyond [][]line // of each curve that has some
	for _, c := range p.Curves {
		if c.Grid() == nil {
			return fmt.Errorf("figure: an empty curve")
		}
		if c.Label() == "" || slices.Contains(seen, c.Label()) {
			return fmt.Errorf("figure: a curve is named %q, want names that differ", c.Label())
		}
		seen = append(seen, c.Label())
		if c.Unit() != unit {
			return fmt.Errorf("figure: curves %q in %q and %q in %q in one plot, want the same unit", p.Curves[0].Label(), unit, c.Label(), c.Unit())
		}
		pen, err := b.penOf(c.Label())
		if err != nil {
			return err
		}
		b.basis(c)
		x, y := points(c, times)
		word, ok := reach.add(x, y, b.o.From, b.o.To)
		if away := b.beyond(c.Label(), x, y, pen); len(away) > 0 {
			if word != "" {
				word += ", in part "
			}
			word, ok = word+b.o.Beyond, true
			beyond = append(beyond, away)
		}
		if !ok {
			return fmt.Errorf("figure: curve %q has nothing to draw from %g to %g Hz (%v)", c.Label(), b.o.From, b.o.To, c.Grid())
		}
		words = append(words, fmt.Sprintf("%s %s", c.Label(), word))
		out.lines = append(out.lines, b.trust(c, x, y, pen)...)
	}
	for _, l := range p.Limits {
		n, err := b.limit(l, times)
		if err != nil {
			return err
		}
		reach.include(n.y)
		out.fences = append(out.fences, n)
	}
	for _, m := range p.Masks {
		fences, err := b.mask(m, unit, times)
		if err != nil {
			return err
		}
		for _, n := range fences {
			reach.include(n.y)
		}
		out.fences = append(out.fences, fences...)
	}
	if reach.lo > reach.hi && p.Bottom == 0 && p.Top == 0 {
		return fmt.Errorf("figure: %s %s everywhere, want a curve with values, or Bottom and Top", strings.Join(seen, ", "), b.o.Beyond)
	}
	var err error
	if unit == "dB" {
		if p.Log {
			return fmt.Errorf("figure: levels in dB on a logarithmic axis")
		}
		b.decibels = true
		out.y, out.height, b.o.Ratio, err = b.levels(p, reach)
	} else {
		out.height = plainHeight(b.panels)
		step := niceStep
		if name == "°" {
			step = degreeStep
		}
		out.y, err = reach.scale(p.Bottom*times, p.Top*times, labelsOn(out.height), step)
	}
	if err != nil {
		return err
	}
	out.lines = append(out.lines, along(beyond, out)...)
	b.words = append(b.words, out.title+": "+strings.Join(words, "; "))
	b.f.panels = append(b.f.panels, out)
	return nil
}

// plainHeight is that of a plot whose scale is not bound to the decade.
func plainHeight(panels int) vg.Length {
	switch panels {
	case 1:
		return 190
	case 2:
		return 140
	case 3:
		return 110
	}
	return 92 // so that a figure of four leaves room for text on its page
}

// labelsOn is how many labels a vertical axis has room for.
func labelsOn(height vg.Length) int { return int(height / 22) }

// axisTitle is what a vertical axis shows, with its unit.
func axisTitle(p Panel, unit, shown string) string {
	title := p.Y
	if title == "" {
		switch q := p.Curves[0].Basis().Quantity; {
		case unit == "dB" && q == freq.Pressure:
			title = "Sound pressure level"
		case unit == "dB":
			title = "Level"
		case unit == "rad":
			title = "Phase"
		case unit == "s":
			title = "Delay"
		case unit == q.Unit() && q != freq.Dimensionless:
			title = strings.ToUpper(q.String()[:1]) + q.String()[1:]
		default:
			title = p.Curves[0].Label()
		}
	}
	if shown != "" {
		title += " (" + shown + ")"
	}
	return title
}

func points(c freq.Curve, times float64) (x, y []float64) {
	x, y = c.Grid().Hz(), c.Values()
	for i := range y {
		y[i] *= times
	}
	return x, y
}

// basis notes what a curve is, for the caption.
func (b *builder) basis(c freq.Curve) {
	if q := c.Basis(); q != (freq.Basis{Quantity: q.Quantity}) {
		b.bases, b.of = append(b.bases, c.Basis().String()), append(b.of, c.Label())
	}
}

// trust cuts a curve where it begins to be valid.
func (b *builder) trust(c freq.Curve, x, y []float64, p pen) []line {
	for _, v := range b.o.Valid {
		if v.Curve != c.Label() {
			continue
		}
		if !slices.Contains(b.trusted, v) {
			b.trusted = append(b.trusted, v)
		}
		k, _ := slices.BinarySearch(x, v.From)
		var parts []line
		if k > 0 {
			parts = append(parts, line{label: c.Label(), x: x[:min(k+1, len(x))], y: y[:min(k+1, len(y))], pen: p.pale(), pale: true})
		}
		if k < len(x) {
			parts = append(parts, line{label: c.Label(), x: x[k:], y: y[k:], pen: p})
		}
		return parts
	}
	return []line{{label: c.Label(), x: x, y: y, pen: p}}
}

func (b *builder) limit(l Limit, times float64) (fence, error) {
	if math.IsNaN(l.Value) || math.IsInf(l.Value, 0) || l.Label == "" || l.Side != AtMost && l.Side != AtLeast {
		return fence{}, fmt.Errorf("figure: limit %q at %g, want a name, a finite value and a side", l.Label, l.Value)
	}
	from, to := b.f.x.min, b.f.x.max
	if l.From != 0 {
		from = l.From
	}
	if l.To != 0 {
		to = l.To
	}
	if !(from < to) || b.f.x.log && !(from > 0) {
		return fence{}, fmt.Errorf("figure: limit %q from %g to %g, want from < to", l.Label, from, to)
	}
	return fence{label: l.Label, x: []float64{from, to}, y: []float64{l.Value * times, l.Value * times}, side: l.Side}, nil
}

func (b *builder) mask(m Mask, unit string, times float64) ([]fence, error) {
	var out []fence
	for _, s := range []struct {
		c    freq.Curve
		side Side
	}{{m.Upper, AtMost}, {m.Lower, AtLeast}} {
		if s.c.Grid() == nil {
			continue
		}
		if s.c.Unit() != unit {
			return nil, fmt.Errorf("figure: mask %q is in %q and the curves in %q", m.Label, s.c.Unit(), unit)
		}
		x, y := points(s.c, times)
		out = append(out, fence{label: m.Label, x: x, y: y, side: s.side, far: true})
	}
	if len(out) == 0 || m.Label == "" {
		return nil, fmt.Errorf("figure: mask %q, want a name and an upper or a lower curve", m.Label)
	}
	return out, nil
}

// Heights of a plot of levels, in points, and its range.
const (
	tallest  = 350
	shortest = 100
	deepest  = 50 // dB shown below the top, unless asked for
	headroom = 1  // dB kept free above and below the curves
	fine     = 6  // curves that vary by less, in dB, are drawn at 10 dB per decade
)

// levels chooses the range and the ratio of an axis of decibels.
func (b *builder) levels(p Panel, r *reach) (scale, vg.Length, Ratio, error) {
	decade := float64(plotWidth) / b.f.x.decades()
	bottom, top, ratio := p.Bottom, p.Top, b.o.Ratio
	given := bottom != 0 || top != 0
	if !given {
		bottom, top = r.lo, r.hi
	}
	if drawable(bottom, top) != nil || !(bottom < top) && given || top-bottom > 400 {
		return scale{}, 0, 0, fmt.Errorf("figure: levels from %g to %g dB, want bottom < top and at most 400 dB between them", bottom, top)
	}
	small := top-bottom < fine && (ratio == AutoRatio || ratio == Ratio10)
	if !given {
		round := 5.0
		if small {
			round = 1
		}
		top = round * math.Ceil((top+headroom)/round)
		bottom = max(round*math.Floor((bottom-headroom)/round), top-deepest)
	}
	if ratio == AutoRatio {
		switch {
		case small:
			ratio = Ratio10
		case (top-bottom)*decade/25 > tallest:
			ratio = Ratio50
		default:
			ratio = Ratio25
		}
	}
	perDB := decade / float64(ratio)
	for k := 0; !given && (top-bottom)*perDB < shortest; k++ {
		if small && k%2 == 1 {
			top++
		} else {
			bottom--
		}
	}
	return levelScale(bottom, top, perDB), vg.Length((top - bottom) * perDB), ratio, nil
}

func (b *builder) finish() *Figure {
	for _, s := range b.o.Spans {
		if !(s.From > 0) || !(s.To > s.From) || s.Label == "" || s.To < b.o.From || s.From > b.o.To {
			return failed(fmt.Errorf("figure: band %q from %g to %g Hz, want a name and a range on the axis", s.Label, s.From, s.To))
		}
		b.f.strip = append(b.f.strip, flag{from: s.From, to: s.To, label: s.Label})
	}
	for _, m := range b.o.Marks {
		if !(m.At >= b.o.From && m.At <= b.o.To) || m.Label == "" {
			return failed(fmt.Errorf("figure: mark %q at %g Hz, want a name and a frequency from %g to %g Hz", m.Label, m.At, b.o.From, b.o.To))
		}
		b.f.strip = append(b.f.strip, flag{from: m.At, to: m.At, label: m.Label})
	}
	if len(b.trusted) != len(b.o.Valid) {
		return failed(fmt.Errorf("figure: %d curves are said to be valid from some frequency on and %d of them are drawn (%q)", len(b.o.Valid), len(b.trusted), b.labels))
	}
	if err := b.f.name(); err != nil {
		return failed(err)
	}
	b.f.caption = b.caption()
	b.f.alt = b.describe()
	return b.f
}

// caption says what the curves are and how they are scaled.
func (b *builder) caption() string {
	var parts []string
	if names, bases := grouped(b.of, b.bases); len(bases) == 1 {
		parts = append(parts, upper(bases[0]))
	} else if len(bases) > 1 {
		var each []string
		for i, s := range bases {
			each = append(each, list(names[i])+": "+s)
		}
		parts = append(parts, strings.Join(each, "; "))
	}
	if b.decibels {
		parts = append(parts, fmt.Sprintf("%d dB take as much room as a decade", b.o.Ratio))
	}
	names, from := b.gates()
	for i, at := range from {
		who := ""
		if len(from) > 1 {
			who = " (" + list(names[i]) + ")"
		}
		parts = append(parts, fmt.Sprintf("Pale and dotted below %s Hz%s: not valid there", at, who))
	}
	if b.away {
		parts = append(parts, "Pale and dotted along the upper edge: "+b.o.Beyond)
	}
	if b.o.Note != "" {
		parts = append(parts, strings.TrimSuffix(b.o.Note, "."))
	}
	if len(parts) == 0 {
		return ""
	}
	return strings.Join(parts, ". ") + "."
}

// describe puts the figure into words.
func (b *builder) describe() string {
	var parts []string
	if b.f.title != "" {
		parts = append(parts, b.f.title)
	}
	parts = append(parts, fmt.Sprintf("Over frequency from %s to %s Hz", number(b.o.From), number(b.o.To)))
	parts = append(parts, b.words...)
	names, from := b.gates()
	for i, at := range from {
		parts = append(parts, fmt.Sprintf("Not valid below %s Hz: %s", at, list(names[i])))
	}
	parts = append(parts, b.f.limits()...)
	for _, g := range b.f.strip {
		if g.from == g.to {
			parts = append(parts, fmt.Sprintf("Mark at %s Hz: %s", number(g.from), g.label))
		} else {
			parts = append(parts, fmt.Sprintf("From %s to %s Hz: %s", number(g.from), number(g.to), g.label))
		}
	}
	text := strings.Join(parts, ". ") + "."
	if b.f.caption != "" {
		text += " " + b.f.caption
	}
	return text
}

// gates are the frequencies below which curves are not valid, and the curves.
func (b *builder) gates() (names [][]string, from []string) {
	var who, at []string
	for _, v := range b.trusted {
		who, at = append(who, v.Curve), append(at, number(v.From))
	}
	return grouped(who, at)
}

// grouped joins the names of what is the same, in the order of the first of each.
func grouped(names, what []string) (together [][]string, distinct []string) {
	for i, s := range what {
		k := slices.Index(distinct, s)
		if k < 0 {
			k = len(distinct)
			distinct, together = append(distinct, s), append(together, nil)
		}
		if !slices.Contains(together[k], names[i]) {
			together[k] = append(together[k], names[i])
		}
	}
	return together, distinct
}

// list joins names: "a", "a and b", "a, b and c".
func list(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return names[0]
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
