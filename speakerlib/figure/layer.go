package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
)

// layer is a field on the axes of a plot.
type layer struct {
	sheet sheet
	known *sheet // 1 where the field is known, 0 where it is not; nil: it is everywhere
	steps []float64
	inks  []rgba // one more than steps
	// filled are the ranges on the vertical axis that were filled in, in pairs.
	filled []float64
}

// frame is the place of a plot on the page; top is its distance from that of the page.
type frame struct{ left, top, width, height vg.Length }

// at is a place of the plot as the canvas counts it.
func (r frame) at(e *easel, p place) vg.Point {
	return vg.Point{X: r.left + r.width*vg.Length(p.x), Y: e.height - (r.top + r.height) + r.height*vg.Length(p.y)}
}

// layer is the field on the axes x and y, of which xPer and yPer are the shown units. The
// lowest shade is that share of the way to the darkest one.
func (f Field) layer(x, y scale, xPer, yPer float64, steps []float64, lowest float64) *layer {
	s := sheet{}
	for _, v := range f.X {
		s.x = append(s.x, clamp(x.pos(v/xPer)))
	}
	for _, v := range f.Y {
		s.y = append(s.y, clamp(y.pos(v/yPer)))
	}
	floor := steps[0] - 1e3*(1+math.Abs(steps[0]))
	for _, row := range f.Z {
		r := slices.Clone(row)
		for i := range r {
			r[i] = max(r[i], floor)
		}
		s.z = append(s.z, r)
	}
	l := &layer{sheet: s, steps: steps}
	for k := range len(steps) + 1 {
		if f.TwoSided {
			l.inks = append(l.inks, sideOf(k-len(steps)/2, len(steps)/2))
		} else {
			l.inks = append(l.inks, shadeOf(lowest+(1-lowest)*float64(k)/float64(len(steps))))
		}
	}
	l.known = l.sheet.holes()
	for j := range f.Filled {
		if !f.Filled[j] {
			continue
		}
		from, to := (s.y[j]+s.y[max(j-1, 0)])/2, (s.y[j]+s.y[min(j+1, len(s.y)-1)])/2
		if n := len(l.filled); n > 0 && f.Filled[j-1] {
			l.filled[n-1] = to
		} else {
			l.filled = append(l.filled, from, to)
		}
	}
	return l
}

// holes takes what is not a number out of a sheet and returns where it was, or nil. A node
// that is not known continues its neighbours straight: the triangle that a cell of three
// known corners has left is drawn as if its plane went on.
func (s sheet) holes() *sheet {
	known := sheet{x: s.x, y: s.y}
	any := false
	for _, row := range s.z {
		r := make([]float64, len(row))
		for i, v := range row {
			if r[i] = 1; math.IsNaN(v) {
				r[i], any = 0, true
			}
		}
		known.z = append(known.z, r)
	}
	if !any {
		return nil
	}
	in := func(i, j int) bool { return i >= 0 && j >= 0 && i < len(s.x) && j < len(s.y) && known.z[j][i] == 1 }
	// A node that is in no cell of three known corners bounds no region.
	var lone [][2]int
	for j, row := range s.z {
		for i := range row {
			cells := func(d [2]int) bool {
				n := 0
				for _, c := range [][2]int{{i + d[0], j}, {i, j + d[1]}, {i + d[0], j + d[1]}} {
					if in(c[0], c[1]) {
						n++
					}
				}
				return n >= 2
			}
			if !slices.ContainsFunc(diagonals(), cells) {
				lone = append(lone, [2]int{i, j})
			}
		}
	}
	for _, c := range lone {
		known.z[c[1]][c[0]] = 0
	}
	for j, row := range s.z {
		for i := range row {
			if in(i, j) {
				continue
			}
			sum, n := 0.0, 0.0
			for _, d := range diagonals() {
				if in(i+d[0], j) && in(i, j+d[1]) && in(i+d[0], j+d[1]) {
					sum += s.z[j][i+d[0]] + s.z[j+d[1]][i] - s.z[j+d[1]][i+d[0]]
					n++
				}
			}
			row[i] = sum / max(n, 1)
		}
	}
	return &known
}

// diagonals are the ways from a node across its four cells.
func diagonals() [][2]int { return [][2]int{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}} }

// outlines are those of the region that is known.
func (l *layer) outlines() [][]place { return l.known.above(1 - 1e-9) }

// shadeOf is the shade of a share of the range: from near white to the first pen.
func shadeOf(share float64) rgba { return mix(0xf3f4fa, 0x1426a8, share) }

// sideOf is the shade of a step away from zero, of so many to either side: grey in the
// middle, blue below, brown above, as dark on both sides.
func sideOf(step, of int) rgba {
	const grey, blue, brown rgba = 0xededed, 0x1426a8, 0x7a2c00
	if share := float64(step) / float64(of); share < 0 {
		return mix(grey, blue, -share)
	} else {
		return mix(grey, brown, share)
	}
}

// mix is a colour between two that have no opacity.
func mix(from, to rgba, share float64) rgba {
	var c rgba
	for _, shift := range []int{16, 8, 0} {
		a, b := float64(from>>shift&0xff), float64(to>>shift&0xff)
		c = c<<8 | rgba(math.Round(a+(b-a)*share))
	}
	return c<<8 | 0xff
}

// entries are the legend of the shades.
func (f Field) entries(steps []float64, inks []rgba) (all []entry) {
	unit := f.Unit
	if unit != "" {
		unit = " " + unit
	}
	for k := len(steps); k >= 0; k-- {
		name := ""
		switch {
		case k == len(steps):
			name = "from " + number(steps[k-1]) + unit
		case k == 0:
			name = "below " + number(steps[0]) + unit
		default:
			name = number(steps[k-1]) + " to " + number(steps[k]) + unit
		}
		all = append(all, entry{label: name, swatch: inks[k]})
	}
	return all
}

// draw fills a field from the lowest step up. Where the axes go on beyond the field nothing
// is known, and nothing is drawn: the lowest shade would say that it is low.
func (l *layer) draw(e *easel, in frame) {
	bottom := in.top + in.height
	x, y := l.sheet.x, l.sheet.y
	e.rectangle(l.inks[0], in.left+in.width*vg.Length(x[0]), bottom-in.height*vg.Length(y[len(y)-1]),
		in.left+in.width*vg.Length(x[len(x)-1]), bottom-in.height*vg.Length(y[0]))
	for k, step := range l.steps {
		e.fill(l.inks[k+1], in, l.sheet.above(step))
	}
	if l.known == nil {
		return
	}
	// What is not known is cut out: the frame of the field and a little more, run through
	// the other way than the outlines of what is known.
	const more = 2e-3
	a, b := place{x[0] - more, y[0] - more}, place{x[len(x)-1] + more, y[len(y)-1] + more}
	e.fill(white, in, append([][]place{{a, {a.x, b.y}, b, {b.x, a.y}}}, l.outlines()...))
	for _, ring := range l.outlines() {
		var path []vg.Point
		for _, p := range append(slices.Clip(ring), ring[0]) {
			path = append(path, in.at(e, p))
		}
		e.stroke(pen{colour: faint, width: 0.5}, path...)
	}
}

// margin marks beside the plot which rows of the field were filled in.
func (l *layer) margin(e *easel, in frame) {
	const gap, width = 4, 3
	at := func(share float64) vg.Length { return in.top + in.height*(1-vg.Length(share)) }
	for k := 0; k < len(l.filled); k += 2 {
		e.rectangle(faint, in.left+in.width+gap, at(l.filled[k+1]), in.left+in.width+gap+width, at(l.filled[k]))
	}
}

// fill fills rings of a plot by winding number.
func (e *easel) fill(c rgba, in frame, rings [][]place) {
	var path vg.Path
	for _, ring := range rings {
		for i, p := range simplified(ring, in.width, in.height) {
			if at := in.at(e, p); i == 0 {
				path.Move(at)
			} else {
				path.Line(at)
			}
		}
		path.Close()
	}
	if len(path) > 0 {
		e.SetColor(c)
		e.Fill(path)
	}
}
