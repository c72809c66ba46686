package diffraction

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// Rounding is how the edges around a front or back are taken off. Its zero value is
// a sharp edge.
type Rounding struct {
	Radius  float64 // m
	Facets  int     // that stand for the radius, 1 or more
	Chamfer float64 // or: what a plane at 45° takes off both faces, m
}

func (r Rounding) validate(what string) error {
	switch {
	case !(r.Radius >= 0) || math.IsInf(r.Radius, 0) || r.Facets < 0 || r.Facets > 32 || (r.Radius > 0) != (r.Facets > 0):
		return fmt.Errorf("diffraction: the %s edges have a radius of %g m in %d facets, want a radius > 0 with 1 … 32 facets, or neither", what, r.Radius, r.Facets)
	case !(r.Chamfer >= 0) || math.IsInf(r.Chamfer, 0) || r.Chamfer > 0 && r.Radius > 0:
		return fmt.Errorf("diffraction: the %s edges have a chamfer of %g m and a radius of %g m, want finite values ≥ 0 and one of them", what, r.Chamfer, r.Radius)
	}
	return nil
}

// arc returns the radius of the arc on which the corners of the facets lie, at equal
// angles, and how many facets there are.
//
// They take as much off the cabinet's section as the edge that they stand for. n chords
// of an arc of radius ρ leave ρ²·(n/2)·sin(π/2n) of its square, the arc itself
// ρ²·π/4, so that
//
//	ρ = r·√((1 − π/4)/(1 − (n/2)·sin(π/2n)))
//
// With that, one facet is nearly as good as two with their corners on the edge's own arc
// would be. How good they are is measured in the description of the package.
func (r Rounding) arc() (radius float64, facets int) {
	switch {
	case r.Chamfer > 0:
		return r.Chamfer, 1
	case r.Radius > 0:
		n := float64(r.Facets)
		return r.Radius * math.Sqrt((1-math.Pi/4)/(1-n/2*math.Sin(math.Pi/(2*n)))), r.Facets
	}
	return 0, 0
}

// NewBox returns the cabinet of a width, height and depth with its front centred on
// the origin.
func NewBox(width, height, depth float64, front, back Rounding) (*Cabinet, error) {
	least, diagonal := math.Min(width, math.Min(height, depth)), math.Hypot(math.Hypot(width, height), depth)
	if !(least > 0 && diagonal >= leastSize && diagonal <= mostSize) {
		return nil, fmt.Errorf("diffraction: a box of %g × %g × %g m, want all of them > 0, in m, and from corner to corner %g … %g m", width, height, depth, leastSize, float64(mostSize))
	}
	return NewPrism([]r2.Vec{
		{X: -width / 2, Y: -height / 2}, {X: width / 2, Y: -height / 2},
		{X: width / 2, Y: height / 2}, {X: -width / 2, Y: height / 2},
	}, depth, front, back)
}

// NewPrism returns the cabinet of a depth whose front has the outline, anticlockwise
// as the listener sees it. Roundings are within the outline and the depth.
// Face 0 is the front, face 1 the back; the others follow the outline ring by ring
// from the front.
func NewPrism(outline []r2.Vec, depth float64, front, back Rounding) (*Cabinet, error) {
	if err := checkOutline(outline); err != nil {
		return nil, err
	}
	if !(depth > 0 && depth <= mostSize) {
		return nil, fmt.Errorf("diffraction: the cabinet is %g m deep, want more than 0 and at most %g m", depth, float64(mostSize))
	}
	if err := front.validate("front"); err != nil {
		return nil, err
	}
	if err := back.validate("back"); err != nil {
		return nil, err
	}
	rf, nf := front.arc()
	rb, nb := back.arc()
	if took := math.Max(front.Radius, rf) + math.Max(back.Radius, rb); took >= depth {
		return nil, fmt.Errorf("diffraction: the edges of front and back take %g m of a depth of %g m, want less", took, depth)
	}
	for _, r := range []Rounding{front, back} { // the edge itself, not its facets
		if _, err := insetOutline(outline, math.Max(r.Radius, r.Chamfer)); err != nil {
			return nil, err
		}
	}
	// Rings of the outline, inset, from the front to the back.
	var vertices []r3.Vec
	rings := 0
	ring := func(inset, z float64) error {
		in, err := insetOutline(outline, inset)
		if err != nil {
			return err
		}
		for _, p := range in {
			vertices = append(vertices, r3.Vec{X: p.X, Y: p.Y, Z: z})
		}
		rings++
		return nil
	}
	for i := 0; i <= nf; i++ {
		sin, cos := quarter(i, nf)
		if err := ring(rf*(1-sin), -rf*(1-cos)); err != nil {
			return nil, err
		}
	}
	for i := nb; i >= 0; i-- {
		sin, cos := quarter(i, nb)
		if err := ring(rb*(1-sin), -depth+rb*(1-cos)); err != nil {
			return nil, err
		}
	}
	n := len(outline)
	first, last := make([]int, n), make([]int, n)
	for k := range n {
		first[k], last[k] = k, rings*n-1-k
	}
	faces := [][]int{first, last}
	for r := range rings - 1 {
		for k := range n {
			a, b := r*n+k, r*n+(k+1)%n
			faces = append(faces, []int{a, a + n, b + n, b})
		}
	}
	return NewCabinet(vertices, faces)
}

// quarter returns the sine and cosine of step i of n on a quarter of a circle; no step
// at all is its end.
func quarter(i, n int) (sin, cos float64) {
	if n == 0 {
		return 1, 0
	}
	return math.Sincos(math.Pi / 2 * float64(i) / float64(n))
}

// NewPlate returns the thin rigid plate of the outline in the plane z = 0. All its
// edges have the open angle 2π.
func NewPlate(outline []r2.Vec) (*Cabinet, error) {
	if err := checkOutline(outline); err != nil {
		return nil, err
	}
	c := &Cabinet{}
	n := len(outline)
	front, back := make([]int, n), make([]int, n)
	for k, p := range outline {
		c.vertices = append(c.vertices, r3.Vec{X: p.X, Y: p.Y})
		front[k], back[k] = k, n-1-k
	}
	if err := c.measureSize(); err != nil {
		return nil, err
	}
	for i, corners := range [][]int{front, back} {
		f, err := c.newFace(i, corners)
		if err != nil {
			return nil, err
		}
		c.faces = append(c.faces, f)
	}
	if c.faces[0].normal.Z < 0 {
		return nil, fmt.Errorf("diffraction: the outline runs clockwise, want anticlockwise as the listener sees it")
	}
	if err := c.join(); err != nil {
		return nil, err
	}
	for i := range c.sides {
		c.sides[i].open, c.sides[i].nu = 2*math.Pi, 0.5
	}
	return c, nil
}

// NewRound returns the outline of a regular polygon with the area of a circle of the
// radius, with a side at the bottom: the stand-in for a round front. A circle around its
// middle fits within its sides up to the radius times √(π/n·cot(π/n)), 0.988 of it for 12.
func NewRound(radius float64, sides int) ([]r2.Vec, error) {
	if !(radius > 0 && radius <= mostSize/2) || sides < 3 || sides > 256 {
		return nil, fmt.Errorf("diffraction: a circle of radius %g m as a polygon of %d sides, want a radius > 0 and at most %g m, and 3 … 256 sides", radius, sides, mostSize/2.)
	}
	step := 2 * math.Pi / float64(sides)
	r := radius * math.Sqrt(step/math.Sin(step))
	v := make([]r2.Vec, sides)
	for k := range v {
		sin, cos := math.Sincos(-math.Pi/2 + (float64(k)+0.5)*step)
		v[k] = r2.Vec{X: r * cos, Y: r * sin}
	}
	return v, nil
}

// checkOutline reports an outline that cannot be that of a front. The finer faults
// are found where the face is made.
func checkOutline(outline []r2.Vec) error {
	if len(outline) < 3 {
		return fmt.Errorf("diffraction: an outline of %d corners, want at least 3", len(outline))
	}
	if len(outline) > mostCorners {
		return fmt.Errorf("diffraction: an outline of %d corners, want at most %d", len(outline), mostCorners)
	}
	var area, size float64
	for k, p := range outline {
		if math.IsNaN(p.X-p.X) || math.IsNaN(p.Y-p.Y) {
			return fmt.Errorf("diffraction: corner %d of the outline is %v, want finite coordinates", k, p)
		}
		if p == outline[(k+1)%len(outline)] {
			return fmt.Errorf("diffraction: corners %d and %d of the outline are both at %v, want every corner once", k, (k+1)%len(outline), p)
		}
		area += r2.Cross(p, outline[(k+1)%len(outline)])
		size = math.Max(size, r2.Norm(r2.Sub(p, outline[0])))
	}
	if !(size >= leastSize && size <= mostSize) {
		return fmt.Errorf("diffraction: the corners of the outline are %g m apart, want %g … %g m, with all coordinates in m", size, leastSize, float64(mostSize))
	}
	// A figure of eight may have either sign; the face will tell that it crosses itself.
	if area < 0 {
		return fmt.Errorf("diffraction: the outline runs clockwise or crosses itself (signed area %g m²), want a convex one, anticlockwise as the listener sees it", area/2)
	}
	return nil
}

// insetOutline moves all sides of a convex outline inwards by a distance.
func insetOutline(outline []r2.Vec, by float64) ([]r2.Vec, error) {
	n := len(outline)
	in := make([]r2.Vec, n)
	for k, p := range outline {
		d, e := r2.Sub(p, outline[(k+n-1)%n]), r2.Sub(outline[(k+1)%n], p)
		d, e = r2.Unit(d), r2.Unit(e)
		// p + by·(inward normals of both sides, scaled to meet)
		sin, cos := r2.Cross(d, e), r2.Dot(d, e)
		t := by * (1 - cos) / sin // tan of half the turn
		if by == 0 {
			t = 0
		}
		in[k] = r2.Add(p, r2.Add(r2.Scale(t, e), r2.Scale(by, r2.Vec{X: -e.Y, Y: e.X})))
	}
	for k, p := range in {
		q := in[(k+1)%n]
		if r2.Dot(r2.Sub(q, p), r2.Sub(outline[(k+1)%n], outline[k])) <= 0 {
			return nil, fmt.Errorf("diffraction: edges that take %g m off leave nothing of side %d of the outline, want less", by, k)
		}
	}
	return in, nil
}
