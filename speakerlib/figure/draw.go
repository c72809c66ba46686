package figure

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// layout is where the parts of a figure are, as distances from its top.
type layout struct {
	title      []string // wrapped
	legend     []placed
	legendTop  vg.Length
	strip      []placed
	stripTop   vg.Length
	stripRows  int
	panels     []vg.Length // tops of the plots
	axisBottom vg.Length   // of the last plot
	caption    []string
	captionTop vg.Length
	height     vg.Length
}

// placed is a name in a row.
type placed struct {
	x   vg.Length
	row int
}

const (
	legendSample vg.Length = 24 // length of the line in a legend
	swatchSample vg.Length = 14 // of the shade of a field
	legendGap    vg.Length = 14
	rowHeight    vg.Length = 12.5
	barHeight    vg.Length = 4 // of a segment above the plot
)

func (f *Figure) layout(fonts faces) layout {
	var l layout
	y := edge
	if f.title != "" {
		l.title = wrap(f.title, pageWidth-2*edge, func(s string) vg.Length { return fonts.width(s, titleSize, true) })
		y += vg.Length(len(l.title))*titleSize*lead + 2
	}
	l.legendTop = y
	if len(f.legend) > 0 {
		x, row := leftMargin, 0
		for _, e := range f.legend {
			w := e.width(fonts)
			if x > leftMargin && x+w > pageWidth-edge {
				x, row = leftMargin, row+1
			}
			l.legend = append(l.legend, placed{x, row})
			x += w + legendGap
		}
		y += vg.Length(row+1)*rowHeight + 4
	}
	if f.body != nil {
		y += 4
		l.panels = append(l.panels, y)
		y += f.body.height()
	}
	for i, p := range f.panels {
		if p.title != "" {
			y += textSize * lead
		}
		if i == 0 && len(f.strip) > 0 {
			l.stripTop = y
			l.strip, l.stripRows = f.placeStrip(fonts)
			y += vg.Length(l.stripRows)*rowHeight + 2
			y += barHeight + 2
		}
		y += 4
		l.panels = append(l.panels, y)
		y += p.height
		if i+1 < len(f.panels) {
			y += 8
		}
	}
	l.axisBottom = y
	if f.body == nil {
		y += 2 * textSize * lead
	}
	y += 6
	l.captionTop = y
	l.caption = wrap(f.caption, plotWidth, func(s string) vg.Length { return fonts.width(s, captionSize, false) })
	y += vg.Length(len(l.caption)) * captionSize * lead
	l.height = vg.Length(math.Ceil(float64(y + edge)))
	return l
}

// box is the place of a name above the plot, and the thread by which it hangs.
type box struct {
	x0, x1, thread vg.Length
	row            int
}

func (b box) touches(o box) bool { return o.row == b.row && b.x0 < o.x1+6 && o.x0 < b.x1+6 }

func (b box) covers(thread vg.Length) bool { return b.x0-1 < thread && thread < b.x1+1 }

// crosses tells that the thread of one runs through the name of the other.
func (b box) crosses(o box) bool {
	return o.row > b.row && b.covers(o.thread) || o.row < b.row && o.covers(b.thread)
}

// placeStrip puts the names above the plot near the middle of what they name:
// in the lowest row, and there as nearly centred, in which no name touches
// another one or the thread by which another one hangs. It tries from the left
// and from the right, and keeps what crosses least and then is lowest.
func (f *Figure) placeStrip(fonts faces) ([]placed, int) {
	order := make([]int, len(f.strip))
	width := make([]vg.Length, len(f.strip))
	for i := range order {
		order[i] = i
		width[i] = fonts.width(f.strip[i].label, textSize, false)
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(f.thread(f.strip[i]), f.thread(f.strip[j])) })
	best, crossed, rows := f.placeIn(order, width)
	slices.Reverse(order)
	if other, c, r := f.placeIn(order, width); c < crossed || c == crossed && r < rows {
		best, rows = other, r
	}
	return best, rows
}

func (f *Figure) placeIn(order []int, width []vg.Length) (at []placed, crossed, rows int) {
	var boxes []box
	for n, i := range order {
		b := box{thread: f.thread(f.strip[i])}
		fits := func(x vg.Length, ahead bool) bool {
			b.x0 = max(edge, min(x, pageWidth-edge-width[i]))
			b.x1 = b.x0 + width[i]
			if ahead && slices.ContainsFunc(order[n+1:], func(k int) bool { return b.covers(f.thread(f.strip[k])) }) {
				return false
			}
			return !slices.ContainsFunc(boxes, func(o box) bool { return b.touches(o) || b.crosses(o) })
		}
		// Threads of names that are still to come are kept free where that is
		// possible within a few rows.
		const few = 5
		place := func(ahead bool) bool {
			for b.row = 0; b.row < few; b.row++ {
				for _, x := range []vg.Length{b.thread - width[i]/2, b.thread - 2, b.thread - width[i] + 2} {
					if fits(x, ahead) {
						return true
					}
				}
			}
			return false
		}
		if !place(true) && !place(false) {
			b.row = rows // above all others, its thread behind what it crosses
		}
		boxes = append(boxes, b)
		rows = max(rows, b.row+1)
	}
	at = make([]placed, len(order))
	for n, i := range order {
		at[i] = placed{boxes[n].x0, boxes[n].row}
		for _, o := range boxes[:n] {
			if boxes[n].crosses(o) {
				crossed++
			}
		}
	}
	return at, crossed, rows
}

// thread is where a name of the strip hangs.
func (f *Figure) thread(g flag) vg.Length {
	return leftMargin + plotWidth*vg.Length((clamp(f.x.pos(g.from))+clamp(f.x.pos(g.to)))/2)
}

func clamp(v float64) float64 { return min(max(v, 0), 1) }

// wrap breaks a text into lines at spaces and at line feeds.
func wrap(text string, width vg.Length, measure func(string) vg.Length) []string {
	var lines []string
	for paragraph := range strings.SplitSeq(text, "\n") {
		line := ""
		for _, word := range strings.Fields(paragraph) {
			longer := word
			if line != "" {
				longer = line + " " + word
			}
			if line != "" && measure(longer) > width {
				lines = append(lines, line)
				longer = word
			}
			line = longer
		}
		if line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}

// easel draws with distances from the top.
type easel struct {
	draw.Canvas
	fonts  faces
	height vg.Length
}

const (
	left   = 0
	centre = -0.5
	right  = -1
)

// text writes a line with its baseline at y from the top.
func (e *easel) text(s string, x, y vg.Length, align float64, size vg.Length, bold bool, c rgba) {
	face := e.fonts.face(size, bold)
	e.SetColor(c)
	e.FillString(face, vg.Point{X: x + face.Width(s)*vg.Length(align), Y: e.height - y}, s)
}

func (e *easel) stroke(p pen, points ...vg.Point) {
	e.StrokeLines(draw.LineStyle{Color: p.colour, Width: p.width, Dashes: p.dashes}, points)
}

// rule draws a straight line between places from the top.
func (e *easel) line(c rgba, width, x0, y0, x1, y1 vg.Length) {
	e.stroke(pen{colour: c, width: width}, vg.Point{X: x0, Y: e.height - y0}, vg.Point{X: x1, Y: e.height - y1})
}

func (e *easel) rectangle(c rgba, x0, y0, x1, y1 vg.Length) {
	e.FillPolygon(c, []vg.Point{
		{X: x0, Y: e.height - y0}, {X: x1, Y: e.height - y0}, {X: x1, Y: e.height - y1}, {X: x0, Y: e.height - y1},
	})
}

func (f *Figure) draw(c draw.Canvas, l layout, fonts faces) {
	e := &easel{c, fonts, l.height}
	e.rectangle(white, 0, 0, pageWidth, l.height)
	for i, s := range l.title {
		e.text(s, edge, edge+titleSize*(0.8+lead*vg.Length(i)), left, titleSize, true, ink)
	}
	for i, at := range l.legend {
		f.drawEntry(e, f.legend[i], at.x, l.legendTop+rowHeight*(vg.Length(at.row)+0.5))
	}
	for i, p := range f.panels {
		f.drawPanel(e, p, l.panels[i], i == len(f.panels)-1)
		top := l.panels[i] - 4
		if i == 0 && len(f.strip) > 0 {
			top = l.stripTop
		}
		e.text(p.title, leftMargin, top-textSize*0.45, left, textSize, false, faint)
		x := leftMargin + plotWidth + rightMargin - edge
		for _, n := range slices.Backward(p.legend) {
			x -= n.width(fonts)
			f.drawEntry(e, n, x, top-textSize*0.45-textSize*0.34)
			x -= legendGap
		}
	}
	f.drawStrip(e, l)
	y := l.axisBottom
	if f.body != nil {
		f.body.draw(e, l.panels[0])
	} else {
		for _, t := range f.x.ticks {
			if t.label != "" {
				e.text(t.label, f.px(t.at), y+textSize*1.25, centre, textSize, false, ink)
			}
		}
		e.text(f.xTitle, leftMargin+plotWidth/2, y+textSize*2.55, centre, textSize, false, faint)
	}
	for i, s := range l.caption {
		e.text(s, leftMargin, l.captionTop+captionSize*(0.8+lead*vg.Length(i)), left, captionSize, false, faint)
	}
}

// px is the place of a value on the horizontal axis.
func (f *Figure) px(v float64) vg.Length { return leftMargin + plotWidth*vg.Length(f.x.pos(v)) }

func (f *Figure) drawEntry(e *easel, n entry, x, y vg.Length) {
	if n.fence {
		if n.above {
			e.rectangle(shade, x, y-5, x+legendSample, y)
		}
		if n.below {
			e.rectangle(shade, x, y, x+legendSample, y+5)
		}
		e.line(crimson, 1.4, x, y, x+legendSample, y)
	} else if n.swatch != 0 {
		e.rectangle(n.swatch, x, y-4, x+swatchSample, y+4)
		e.line(rule, 0.5, x, y-4, x+swatchSample, y-4)
		e.line(rule, 0.5, x, y+4, x+swatchSample, y+4)
	} else if n.bare {
		e.DrawGlyph(draw.GlyphStyle{Color: n.pen.colour, Radius: dotRadius, Shape: draw.CircleGlyph{}}, vg.Point{X: x + legendSample/2, Y: e.height - y})
	} else {
		e.stroke(n.pen, vg.Point{X: x, Y: e.height - y}, vg.Point{X: x + legendSample, Y: e.height - y})
	}
	e.text(n.label, x+n.sample()+4, y+textSize*0.34, left, textSize, false, ink)
}

// drawStrip draws marks and the ends of bands through all panels, and above them
// bars over what has a width, and the names.
func (f *Figure) drawStrip(e *easel, l layout) {
	if len(f.strip) == 0 {
		return
	}
	bottom := l.stripTop + vg.Length(l.stripRows)*rowHeight
	bar := bottom + barHeight
	for i, g := range f.strip {
		a, b := leftMargin+plotWidth*vg.Length(clamp(f.x.pos(g.from))), leftMargin+plotWidth*vg.Length(clamp(f.x.pos(g.to)))
		base := bottom - rowHeight*(vg.Length(l.strip[i].row)+0.28)
		thread := pen{colour: rule, width: 0.8}
		switch {
		case g.segment():
			e.rectangle(g.pen.colour, a, bottom, max(b, a+1), bar)
		case g.from == g.to:
			thread = pen{faint, []vg.Length{4, 3}, 0.8}
			f.through(e, l, a, bar, thread)
		default:
			e.rectangle(rule, a, bottom+1, b, bar-1)
			for _, x := range []vg.Length{a, b} {
				f.through(e, l, x, bottom+1, pen{rule, []vg.Length{2, 2}, 0.8})
			}
		}
		if end := bottom; l.strip[i].row > 0 || g.from == g.to {
			if g.from == g.to {
				end = bar
			}
			x := f.thread(g)
			e.stroke(thread, vg.Point{X: x, Y: e.height - base - 2.5}, vg.Point{X: x, Y: e.height - end})
		}
	}
	for i, g := range f.strip {
		base := bottom - rowHeight*(vg.Length(l.strip[i].row)+0.28)
		e.text(g.label, l.strip[i].x, base, left, textSize, false, ink)
	}
}

// through draws an upright line through all panels, in the first from top on.
func (f *Figure) through(e *easel, l layout, x, top vg.Length, p pen) {
	for k := range f.panels {
		if k > 0 {
			top = l.panels[k]
		}
		e.stroke(p, vg.Point{X: x, Y: e.height - top}, vg.Point{X: x, Y: e.height - l.panels[k] - f.panels[k].height})
	}
}

func (f *Figure) drawPanel(e *easel, p panel, top vg.Length, last bool) {
	bottom := top + p.height
	py := func(v float64) vg.Length { return bottom - p.height*vg.Length(p.y.pos(v)) }
	if p.layer != nil {
		p.layer.margin(e, frame{leftMargin, top, plotWidth, p.height})
		p.layer.draw(e, frame{leftMargin, top, plotWidth, p.height})
	}
	for _, g := range f.strip {
		if !g.segment() && g.from < g.to {
			a, b := max(f.px(g.from), leftMargin), min(f.px(g.to), leftMargin+plotWidth)
			e.rectangle(band, a, top, b, bottom)
		}
	}
	for _, t := range f.x.ticks {
		c, w := hair, vg.Length(0.6)
		if t.major {
			c, w = rule, 0.8
		}
		e.line(c, w, f.px(t.at), top, f.px(t.at), bottom)
	}
	for _, t := range p.y.ticks {
		c, w := hair, vg.Length(0.6)
		if t.major {
			c, w = rule, 0.8
		}
		e.line(c, w, leftMargin, py(t.at), leftMargin+plotWidth, py(t.at))
		if t.label != "" {
			e.text(t.label, leftMargin-5, py(t.at)+textSize*0.34, right, textSize, false, ink)
		}
	}
	area := draw.Canvas{Canvas: e.Canvas.Canvas, Rectangle: vg.Rectangle{
		Min: vg.Point{X: leftMargin, Y: e.height - bottom}, Max: vg.Point{X: leftMargin + plotWidth, Y: e.height - top},
	}}
	point := func(x, y float64) vg.Point { return vg.Point{X: f.px(x), Y: e.height - py(y)} }
	for _, n := range p.fences {
		if !f.spot(n) {
			f.drawFence(e, area, n, point)
		}
	}
	for _, n := range p.lines {
		style := draw.LineStyle{Color: n.pen.colour, Width: n.pen.width, Dashes: n.pen.dashes}
		if !n.bare {
			for _, run := range runs(n, p.y.log, point) {
				if p.layer != nil {
					area.StrokeLines(draw.LineStyle{Color: white, Width: style.Width + seam}, area.ClipLinesXY(run)...)
				}
				area.StrokeLines(style, area.ClipLinesXY(run)...)
			}
		}
		for i := range n.x {
			if at := point(n.x[i], n.y[i]); (n.dots || n.alone(i)) && area.Contains(at) {
				area.DrawGlyph(draw.GlyphStyle{Color: n.pen.colour, Radius: dotRadius, Shape: draw.CircleGlyph{}}, at)
			}
		}
	}
	f.drawSpots(e, area, p, point)
	if last {
		e.line(ink, 0.9, leftMargin, bottom, leftMargin+plotWidth, bottom)
	} else {
		e.line(rule, 0.8, leftMargin, bottom, leftMargin+plotWidth, bottom)
	}
}

// alone tells whether a point is the only one between two interruptions of its line.
func (n line) alone(i int) bool {
	finite := func(k int) bool { return k >= 0 && k < len(n.y) && !math.IsInf(n.y[k], 0) && !math.IsNaN(n.y[k]) }
	return len(n.y) > 1 && finite(i) && !finite(i-1) && !finite(i+1)
}

// dotRadius is that of a point that was computed.
const dotRadius vg.Length = 2.4

// fenceDepth is how far the forbidden side of a limit is shaded.
const fenceDepth vg.Length = 9

func (f *Figure) drawFence(e *easel, area draw.Canvas, n fence, point func(x, y float64) vg.Point) {
	far := func(at vg.Point) vg.Point {
		switch {
		case n.side == AtMost && n.far:
			at.Y = area.Max.Y
		case n.side == AtMost:
			at.Y += fenceDepth
		case n.far:
			at.Y = area.Min.Y
		default:
			at.Y -= fenceDepth
		}
		return at
	}
	for _, run := range runs(line{x: n.x, y: n.y}, false, point) {
		polygon := slices.Clone(run)
		for _, at := range slices.Backward(run) {
			polygon = append(polygon, far(at))
		}
		area.FillPolygon(shade, area.ClipPolygonXY(polygon))
		area.StrokeLines(draw.LineStyle{Color: crimson, Width: 1.4}, area.ClipLinesXY(run)...)
	}
}

// runs returns the unbroken parts of a line as points. Of the points that share
// a quarter of a point of width only the first, last, lowest and highest stay.
func runs(n line, log bool, point func(x, y float64) vg.Point) [][]vg.Point {
	var all [][]vg.Point
	var run []vg.Point
	end := func() {
		if len(run) > 1 {
			all = append(all, thin(run))
		}
		run = nil
	}
	for i, x := range n.x {
		y := n.y[i]
		if math.IsInf(y, 0) || math.IsNaN(y) || log && y <= 0 {
			end()
			continue
		}
		run = append(run, point(x, y))
	}
	end()
	return all
}

func thin(run []vg.Point) []vg.Point {
	const width = 0.25
	kept := run[:0:0]
	for i := 0; i < len(run); {
		j, lo, hi := i, i, i
		for ; j < len(run) && run[j].X-run[i].X < width && run[j].X >= run[i].X; j++ {
			if run[j].Y < run[lo].Y {
				lo = j
			}
			if run[j].Y > run[hi].Y {
				hi = j
			}
		}
		if j == i {
			j++
		}
		picks := []int{i, lo, hi, j - 1}
		slices.Sort(picks)
		for _, k := range slices.Compact(picks) {
			kept = append(kept, run[k])
		}
		i = j
	}
	return kept
}
