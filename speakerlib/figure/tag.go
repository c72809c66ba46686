package figure

import (
	"cmp"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// tag is a name beside a plane, with a line to what it names.
type tag struct {
	label string
	from  place
	y     vg.Length // of the name, from the bottom of the plot
}

// placeTags puts names into a column beside the plot, each as high as what it names if
// there is room, in such an order that the lines to them do not cross.
func placeTags(names []tag, width, tall vg.Length) {
	slices.SortStableFunc(names, func(a, b tag) int { return cmp.Compare(a.from.y, b.from.y) })
	for round := 0; round <= len(names); round++ {
		spread(names, tall)
		crossed := false
		for i := 1; i < len(names); i++ {
			if a, b := names[i-1], names[i]; crosses(a, b, width, tall) {
				names[i-1], names[i] = b, a
				crossed = true
			}
		}
		if !crossed {
			return
		}
	}
	spread(names, tall)
}

// spread moves names apart, in their order and within the height of the plot, by as little
// as possible in the sum of squares: those that push one another share the way.
func spread(names []tag, tall vg.Length) {
	type group struct{ sum, n vg.Length } // of heights, each less its place in the column
	var groups []group
	for i := range names {
		groups = append(groups, group{tall*vg.Length(names[i].from.y) - tagLead*vg.Length(i), 1})
		for k := len(groups) - 1; k > 0 && groups[k].sum/groups[k].n < groups[k-1].sum/groups[k-1].n; k-- {
			groups[k-1].sum, groups[k-1].n = groups[k-1].sum+groups[k].sum, groups[k-1].n+groups[k].n
			groups = groups[:k]
		}
	}
	i := 0
	for _, g := range groups {
		for range int(g.n) {
			free := tall - tagLead*vg.Length(len(names)-1)
			names[i].y = max(0, min(g.sum/g.n, free)) + tagLead*vg.Length(i)
			i++
		}
	}
}

// crosses tells whether the line to a, which stands under b, crosses that to b.
func crosses(a, b tag, width, tall vg.Length) bool {
	ax, ay := width*vg.Length(a.from.x), tall*vg.Length(a.from.y)
	bx, by := width*vg.Length(b.from.x), tall*vg.Length(b.from.y)
	end := width + tagGap
	// Where the one begins farther right the other is above or below it.
	if ax < bx {
		return ay+(a.y-ay)*(bx-ax)/(end-ax) > by
	}
	return by+(b.y-by)*(ax-bx)/(end-bx) < ay
}

func (p *plane) height() vg.Length { return textSize*lead + p.tall + 2*textSize*lead }

func (p *plane) draw(e *easel, top vg.Length) {
	e.text(p.yTitle, leftMargin, top+textSize*0.55, left, textSize, false, faint)
	in := frame{leftMargin, top + textSize*lead, p.width, p.tall}
	bottom := in.top + in.height
	p.layer.draw(e, in)
	grid := func(t tick) (rgba, vg.Length) {
		if t.major {
			return rule, 0.8
		}
		return hair, 0.6
	}
	for _, t := range p.x.ticks {
		x := in.left + in.width*vg.Length(p.x.pos(t.at))
		c, w := grid(t)
		e.line(c, w, x, in.top, x, bottom)
		e.text(t.label, x, bottom+textSize*1.25, centre, textSize, false, ink)
	}
	for _, t := range p.y.ticks {
		y := bottom - in.height*vg.Length(p.y.pos(t.at))
		c, w := grid(t)
		e.line(c, w, in.left, y, in.left+in.width, y)
		e.text(t.label, in.left-5, y+textSize*0.34, right, textSize, false, ink)
	}
	e.line(ink, 0.9, in.left, bottom, in.left+in.width, bottom)
	half := e.fonts.width(p.xTitle, textSize, false) / 2
	e.text(p.xTitle, max(in.left+in.width/2, edge+half), bottom+textSize*2.55, centre, textSize, false, faint)
	for _, ring := range p.outlines {
		var path []vg.Point
		for _, at := range ring {
			path = append(path, in.at(e, at))
		}
		e.haloed(1.1, true, path...)
	}
	end := in.left + in.width + tagGap
	for _, n := range p.names {
		e.haloed(0.7, false, in.at(e, n.from), vg.Point{X: end - 3, Y: e.height - bottom + n.y})
	}
	for _, n := range p.names {
		e.text(n.label, end, bottom-n.y+textSize*0.34, left, textSize, false, ink)
	}
	for _, at := range p.pins {
		for _, dot := range []struct {
			c rgba
			r vg.Length
		}{{white, 4.6}, {ink, 3.2}} {
			e.DrawGlyph(draw.GlyphStyle{Color: dot.c, Radius: dot.r, Shape: draw.CircleGlyph{}}, in.at(e, at))
		}
	}
}

// haloed strokes a line in ink with a white seam, which is seen on every shade.
func (e *easel) haloed(width vg.Length, closed bool, points ...vg.Point) {
	var path vg.Path
	for i, p := range points {
		if i == 0 {
			path.Move(p)
		} else {
			path.Line(p)
		}
	}
	if closed {
		path.Close()
	}
	e.SetLineDash(nil, 0)
	for _, s := range []pen{{colour: white, width: width + seam}, {colour: ink, width: width}} {
		e.SetColor(s.colour)
		e.SetLineWidth(s.width)
		e.Stroke(path)
	}
}
