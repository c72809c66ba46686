package figure

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// disc is the plot of a polar figure.
type disc struct {
	title      string
	turn       Turn
	floor, top float64 // dB at the centre and at the rim
	half       half
	traces     []trace
}

// Sizes of a disc, in points.
const (
	discRadius vg.Length = 152
	wideRadius vg.Length = 196 // of a half that lies on its diameter
	hub        vg.Length = 14  // spokes begin there
	angleGap   vg.Length = 7   // between the rim and the labels of angles
	ringGap    vg.Length = 24  // least distance of rings
	ringLabel            = textSize * 1.15
)

// spokeStep is the distance of spokes, in degrees.
const spokeStep = 30

func (d *disc) radius() vg.Length {
	if left, right, down, up := d.half.reach(); left == right && down != up {
		return wideRadius
	}
	return discRadius
}

func (d *disc) height() vg.Length {
	_, _, down, up := d.half.reach()
	return textSize*lead + 2*(angleGap+textSize) + (down+up)*d.radius()
}

// middle is the centre of the circle, from the top of the page.
func (d *disc) middle(top vg.Length) (x, y vg.Length) {
	left, right, _, up := d.half.reach()
	return leftMargin + plotWidth/2 - (right-left)/2*d.radius(), top + textSize*lead + angleGap + textSize + up*d.radius()
}

// rings are the levels of the rings, the rim last.
func (d *disc) rings() []float64 {
	perDB := d.radius() / vg.Length(d.top-d.floor)
	step := niceStep(float64(ringGap / perDB))
	var all []float64
	for k := math.Floor(d.floor/step+1e-9) + 1; k*step < d.top-1e-9; k++ {
		if vg.Length(k*step-d.floor)*perDB > hub/2 {
			all = append(all, k*step)
		}
	}
	return append(all, d.top)
}

func (d *disc) draw(e *easel, top vg.Length) {
	x, y := d.middle(top)
	radius := d.radius()
	e.text(d.title, leftMargin, top+textSize*0.55, left, textSize, false, faint)
	at := func(degrees float64, r vg.Length) vg.Point {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		return vg.Point{X: x + r*vg.Length(cos), Y: e.height - y + r*vg.Length(sin)}
	}
	far := func(db float64) vg.Length { return radius * vg.Length((db-d.floor)/(d.top-d.floor)) }
	around := func(r vg.Length) (path []vg.Point) {
		const steps = 180
		for k := range steps + 1 {
			path = append(path, at(d.half.from+(d.half.to-d.half.from)*float64(k)/steps, r))
		}
		return path
	}
	rings := d.rings()
	for i, db := range rings {
		p := pen{colour: hair, width: 0.6}
		if db == 0 || i == len(rings)-1 {
			p = pen{colour: rule, width: 0.8}
		}
		e.stroke(p, around(far(db))...)
	}
	for a := d.half.from; a <= d.half.to; a += spokeStep {
		if a == -180 && d.half.to == 180 {
			continue
		}
		p, from := pen{colour: hair, width: 0.6}, hub
		if math.Mod(a, 90) == 0 {
			p, from = pen{colour: rule, width: 0.8}, 0
		}
		e.stroke(p, at(a, from), at(a, radius))
		d.angle(e, a, at(a, radius+angleGap))
	}
	var drawn [][]vg.Point
	for _, pale := range []bool{true, false} {
		for _, t := range d.traces {
			p := t.pen
			if pale {
				p = p.pale()
			}
			for _, r := range t.runs {
				if r.pale != pale {
					continue
				}
				path := r.path(func(degrees, db float64) vg.Point { return at(degrees, far(db)) })
				drawn = append(drawn, path)
				if len(path) == 1 {
					e.DrawGlyph(draw.GlyphStyle{Color: p.colour, Radius: dotRadius, Shape: draw.CircleGlyph{}}, path[0])
				} else {
					e.stroke(p, path...)
				}
			}
		}
	}
	boxes, names := d.names(e.fonts, rings, drawn, func(degrees, db float64) vg.Point { return at(degrees, far(db)) })
	for i, b := range boxes {
		e.FillPolygon(veil, []vg.Point{b.Min, {X: b.Max.X, Y: b.Min.Y}, b.Max, {X: b.Min.X, Y: b.Max.Y}})
		e.text(names[i], b.Min.X+1, e.height-b.Min.Y-textSize*0.28, left, textSize, false, faint)
	}
}

// angle writes the angle of a spoke outside of the rim, and the name of the side.
func (d *disc) angle(e *easel, a float64, at vg.Point) {
	name := number(a) + "°"
	if side := d.turn.sides()[int(a)]; side != "" {
		name += ", " + side
	} else if a == -180 {
		name += ", " + d.turn.sides()[180]
	}
	sin, cos := math.Sincos(a * math.Pi / 180)
	e.text(name, at.X, e.height-at.Y+textSize*vg.Length(0.34-0.4*sin), (cos-1)/2, textSize, false, ink)
}

// path is the run on the page, straight over the angle between its points.
func (r arcRun) path(at func(degrees, db float64) vg.Point) []vg.Point {
	all := []vg.Point{at(r.degrees[0], r.db[0])}
	for i := 1; i < len(r.degrees); i++ {
		n := math.Ceil(r.degrees[i] - r.degrees[i-1])
		for k := 1.0; k <= n; k++ {
			s := k / n
			all = append(all, at(r.degrees[i-1]+s*(r.degrees[i]-r.degrees[i-1]), r.db[i-1]+s*(r.db[i]-r.db[i-1])))
		}
	}
	return all
}

// names returns the names of the rings and their places: all on the one ray beside the
// spokes on which the fewest are over curves. A ring whose name finds no room has none;
// the rim and 0 dB come first.
func (d *disc) names(fonts faces, rings []float64, curves [][]vg.Point, at func(degrees, db float64) vg.Point) (boxes []vg.Rectangle, names []string) {
	first := slices.Clone(rings)
	slices.Reverse(first)
	slices.SortStableFunc(first[1:], func(a, b float64) int { return cmp.Compare(min(math.Abs(a), 1), min(math.Abs(b), 1)) })
	const beside = spokeStep / 4.0
	span := d.half.to - d.half.from
	least := math.Inf(1)
	for k := beside; k < span; k += beside {
		// Begun beside the upright spoke, towards the rear.
		ray := d.half.from + math.Mod(k+270, span)
		if math.Mod(ray, spokeStep) == 0 {
			continue
		}
		var there []vg.Rectangle
		var words []string
		cost := 0.0
		for _, db := range first {
			p := at(ray, db)
			word := number(db) + " dB"
			width := fonts.width(word, textSize, false) + 2
			b := between(p.X-width/2, p.Y-ringLabel/2, p.X+width/2, p.Y+ringLabel/2)
			if slices.ContainsFunc(there, func(o vg.Rectangle) bool { return overlap(o, b) }) {
				if cost += 0.5; db == 0 {
					cost++ // the level to which most are relative
				}
				continue
			}
			there, words = append(there, b), append(words, word)
			for _, c := range curves {
				if slices.ContainsFunc(c, func(p vg.Point) bool { return overlap(b, vg.Rectangle{Min: p, Max: p}) }) {
					cost++
				}
			}
		}
		if cost < least {
			boxes, names, least = there, words, cost
		}
	}
	return boxes, names
}
