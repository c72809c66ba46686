package figure

import (
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A spot is a limit over so short a range that its line alone would be missed:
// a demand at one frequency. It is drawn over the curves as a thick bar of at
// least some width, with a tick where the middle of its range is and with its
// name beside it.
const (
	spotRange vg.Length = 24  // a limit that is drawn shorter is a spot
	spotWidth vg.Length = 12  // of the bar, at least
	spotTick  vg.Length = 6   // how far the tick goes into the allowed side
	spotBar   vg.Length = 2.8 // thickness of the bar
)

// spot tells whether a limit is one. What lies outside of the axis is not: its
// range is cut there.
func (f *Figure) spot(n fence) bool {
	if n.far || len(n.x) != 2 {
		return false
	}
	a, b := f.px(n.x[0]), f.px(n.x[1])
	return b-a < spotRange && a < leftMargin+plotWidth && b > leftMargin
}

// drawSpots draws the spots of a panel. A name stands where it touches no other
// spot and, if possible, no curve.
func (f *Figure) drawSpots(e *easel, area draw.Canvas, p panel, point func(x, y float64) vg.Point) {
	type spot struct {
		name     string
		at       vg.Point     // middle of the bar
		half     vg.Length    // half the length of the bar
		outwards vg.Length    // +1 if the forbidden side is above, −1 if below
		body     vg.Rectangle // all but the name
	}
	var spots []spot
	var taken []vg.Rectangle
	var curves [][]vg.Point
	for _, n := range p.lines {
		curves = append(curves, runs(n, p.y.log, point)...)
	}
	for _, n := range p.fences {
		if !f.spot(n) {
			curves = append(curves, runs(line{x: n.x, y: n.y}, false, point)...)
			continue
		}
		a, b := point(n.x[0], n.y[0]), point(n.x[1], n.y[1])
		if a.Y < area.Min.Y || a.Y > area.Max.Y {
			continue // outside of the axis that was asked for
		}
		s := spot{name: n.label, at: vg.Point{X: (a.X + b.X) / 2, Y: a.Y}, half: max(b.X-a.X, spotWidth) / 2, outwards: 1}
		if n.side == AtLeast {
			s.outwards = -1
		}
		s.body = between(s.at.X-s.half, s.at.Y-s.outwards*spotTick, s.at.X+s.half, s.at.Y+s.outwards*fenceDepth)
		spots, taken = append(spots, s), append(taken, s.body)
	}
	for _, s := range spots {
		shaded := between(s.at.X-s.half, s.at.Y, s.at.X+s.half, s.at.Y+s.outwards*fenceDepth)
		area.FillPolygon(shade, area.ClipPolygonXY([]vg.Point{
			shaded.Min, {X: shaded.Max.X, Y: shaded.Min.Y}, shaded.Max, {X: shaded.Min.X, Y: shaded.Max.Y},
		}))
		stroke := func(width vg.Length, a, b vg.Point) {
			area.StrokeLines(draw.LineStyle{Color: crimson, Width: width}, area.ClipLinesXY([]vg.Point{a, b})...)
		}
		stroke(spotBar, vg.Point{X: s.at.X - s.half, Y: s.at.Y}, vg.Point{X: s.at.X + s.half, Y: s.at.Y})
		stroke(1.2, vg.Point{X: s.at.X, Y: s.at.Y - s.outwards*spotTick}, vg.Point{X: s.at.X, Y: s.at.Y + s.outwards*fenceDepth})

		box := f.beside(e.fonts, area, s.name, s.body, s.outwards, taken, curves)
		taken = append(taken, box)
		e.FillPolygon(veil, []vg.Point{box.Min, {X: box.Max.X, Y: box.Min.Y}, box.Max, {X: box.Min.X, Y: box.Max.Y}})
		e.text(s.name, box.Min.X+1, e.height-box.Min.Y-textSize*0.28, left, textSize, false, crimson)
	}
}

// beside returns the best place for the name of a spot: to the right of it, to
// the left, on its forbidden side, on its allowed side.
func (f *Figure) beside(fonts faces, area draw.Canvas, name string, body vg.Rectangle, outwards vg.Length, taken []vg.Rectangle, curves [][]vg.Point) vg.Rectangle {
	width, height := fonts.width(name, textSize, false)+2, textSize*1.15
	const gap = 2
	middle := vg.Point{X: (body.Min.X + body.Max.X) / 2, Y: (body.Min.Y + body.Max.Y) / 2}
	outer, inner := body.Max.Y+gap, body.Min.Y-gap-height
	if outwards < 0 {
		outer, inner = inner, outer
	}
	right, left := body.Max.X+gap, body.Min.X-gap-width
	var best vg.Rectangle
	least := -1
	for _, at := range []vg.Point{
		{X: right, Y: middle.Y - height/2}, {X: left, Y: middle.Y - height/2},
		{X: middle.X - width/2, Y: outer}, {X: right, Y: outer}, {X: left, Y: outer},
		{X: right, Y: inner}, {X: left, Y: inner}, {X: middle.X - width/2, Y: inner},
	} {
		box := between(at.X, at.Y, at.X+width, at.Y+height)
		cost := 0
		if box.Min.X < area.Min.X || box.Max.X > area.Max.X || box.Min.Y < area.Min.Y || box.Max.Y > area.Max.Y {
			cost += 10000
		}
		for _, o := range taken {
			if overlap(box, o) {
				cost += 100
			}
		}
		clip := draw.Canvas{Canvas: area.Canvas, Rectangle: box}
		if slices.ContainsFunc(curves, func(run []vg.Point) bool { return len(clip.ClipLinesXY(run)) > 0 }) {
			cost++
		}
		if least < 0 || cost < least {
			best, least = box, cost
		}
	}
	return best
}

// between is the rectangle between two corners, whichever they are.
func between(x0, y0, x1, y1 vg.Length) vg.Rectangle {
	return vg.Rectangle{Min: vg.Point{X: min(x0, x1), Y: min(y0, y1)}, Max: vg.Point{X: max(x0, x1), Y: max(y0, y1)}}
}

// overlap tells whether two rectangles have a point inside of both.
func overlap(a, b vg.Rectangle) bool {
	return a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y
}
