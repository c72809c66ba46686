package diffraction_test

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"example.org/loudspeaker/speakerlib/diffraction"
)

// Whatever outline is taken for a cabinet is a convex body (Euler's formula holds, and its
// corners turn one way), and a source in the middle of its front has a finite response
// everywhere, of the order of 1.
func FuzzOutline(f *testing.F) {
	f.Add(0.0, 0.0, 0.2, 0.0, 0.2, 0.3, 0.0, 0.3, 0.25, 0.01)
	f.Add(0.0, 0.0, 0.2, 0.1, 0.2, 0.0, 0.0, 0.1, 0.25, 0.0)
	f.Add(0.0, 0.0, 2.0, 0.0, 0.5, 0.5, 0.0, 2.0, 0.1, 0.0)
	g := grid(f, 50, 1000)
	f.Fuzz(func(t *testing.T, x0, y0, x1, y1, x2, y2, x3, y3, depth, radius float64) {
		outline := []r2.Vec{{X: x0, Y: y0}, {X: x1, Y: y1}, {X: x2, Y: y2}, {X: x3, Y: y3}}
		edges := diffraction.Rounding{}
		if radius > 0 {
			edges = diffraction.Rounding{Chamfer: radius}
		}
		c, err := diffraction.NewPrism(outline, depth, edges, diffraction.Rounding{})
		if err != nil {
			return
		}
		corners := 8
		if radius > 0 {
			corners = 12
		}
		if corners-c.Edges()+c.Faces() != 2 {
			t.Fatalf("%d corners, %d edges and %d faces of %v", corners, c.Edges(), c.Faces(), outline)
		}
		front := c.Outline(0)
		var x, y, size float64
		for i, v := range front {
			x, y = x+v.X/4, y+v.Y/4
			a, b := front[(i+1)%4], front[(i+2)%4]
			if (a.X-v.X)*(b.Y-a.Y)-(a.Y-v.Y)*(b.X-a.X) < 0 {
				t.Fatalf("the front %v is not convex", front)
			}
			size = math.Max(size, math.Hypot(v.X-front[0].X, v.Y-front[0].Y))
		}
		if size < 0.01 || size > 3 || depth > 3 {
			return // no cabinet, and too much work
		}
		p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: c, Air: still, Grid: g, Receivers: orbits()[:36], Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		h, err := p.NewState().SolveTo(nil, diffraction.Source{Elements: point(x, y, 0)})
		if err != nil {
			return // too near an edge of a sliver
		}
		for i, v := range h {
			if !(cmplx.Abs(v) < 4) {
				t.Fatalf("value %d is %v for %v, %v m deep", i, v, outline, depth)
			}
		}
	})
}
