package diffraction

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// flat is how far, as a share of the size of a cabinet, a point may be off a plane
// and still count as lying in it.
const flat = 1e-9

// What a cabinet may have at most: beyond, its checks alone take minutes.
const (
	mostCorners  = 1024 // of a face
	mostVertices = 20_000
)

// The sizes of a cabinet, m: beyond, the unit is wrong. The largest is that of the wall
// that a theatre's loudspeakers are built into, and less than that of a bookshelf box in
// centimetres.
const (
	leastSize = 1e-3
	mostSize  = 20
)

// farOff is how many of its sizes a cabinet may be away from the origin: beyond, rounding
// is no longer small against flat.
const farOff = 1e5

// Cabinet is a rigid convex polyhedron, or a thin rigid plate with a convex outline:
// the body at whose edges sound is diffracted. It is immutable.
//
// Coordinates are in metres. The constructors [NewBox], [NewPrism] and [NewPlate]
// put the front into the plane z = 0, with x to the right and y up as the listener
// sees it, z towards the listener and the body at z < 0; its front is face 0 and its
// back face 1.
type Cabinet struct {
	vertices []r3.Vec
	faces    []face
	sides    []side
	edges    int
	size     float64 // largest distance of two vertices
}

// face is a convex polygon.
type face struct {
	corners []int // anticlockwise as seen from outside
	normal  r3.Vec
	offset  float64 // normal·x of the points of its plane
	sides   []int
}

// side is an edge as seen from one of its two faces. Angles about it are counted
// from this face through the air to the other one, and z runs along it from p.
type side struct {
	face, twin int // index of the face, and of the same edge seen from the other face
	edge       int
	p, e, t, n r3.Vec // start, along the edge, into the face, out of the face
	length     float64
	open       float64 // θw, the angle that the air fills, π < θw ≤ 2π
	nu         float64 // ν = π/θw
}

// NewCabinet returns the convex polyhedron with the given vertices and faces. A face
// lists the indices of its corners anticlockwise as seen from outside. It refuses
// what is no closed convex body: open or doubly used edges, faces that are not plane
// (to 1e-9 of the size), not convex, cross themselves or go around more than once,
// neighbours in one plane, vertices outside the plane of a face or of no face, more than
// one body, a body more than 1e5 of its sizes away from the origin, and one that is smaller
// than 1 mm or larger than 20 m from vertex to vertex, which is a wrong unit.
func NewCabinet(vertices []r3.Vec, faces [][]int) (*Cabinet, error) {
	if len(vertices) < 4 || len(faces) < 4 {
		return nil, fmt.Errorf("diffraction: a cabinet of %d vertices and %d faces, want at least 4 of both", len(vertices), len(faces))
	}
	if len(vertices) > mostVertices || len(faces) > mostVertices {
		return nil, fmt.Errorf("diffraction: a cabinet of %d vertices and %d faces, want at most %d of both", len(vertices), len(faces), mostVertices)
	}
	c := &Cabinet{vertices: append([]r3.Vec(nil), vertices...)}
	if err := c.measureSize(); err != nil {
		return nil, err
	}
	for i, corners := range faces {
		f, err := c.newFace(i, corners)
		if err != nil {
			return nil, err
		}
		c.faces = append(c.faces, f)
	}
	if err := c.join(); err != nil {
		return nil, err
	}
	for i, f := range c.faces {
		for k, v := range c.vertices {
			if h := r3.Dot(f.normal, v) - f.offset; h > flat*c.size {
				return nil, fmt.Errorf("diffraction: vertex %d is %g m outside the plane of face %d: the cabinet is concave there or the face is listed clockwise, want a convex body with faces anticlockwise as seen from outside", k, h, i)
			}
		}
	}
	if err := c.measureAngles(); err != nil {
		return nil, err
	}
	return c, c.checkWhole()
}

// checkWhole reports vertices that no face has, and faces that close around more than one
// body: of a single one vertices − edges + faces is 2 (Euler).
func (c *Cabinet) checkWhole() error {
	used := make([]bool, len(c.vertices))
	for _, f := range c.faces {
		for _, k := range f.corners {
			used[k] = true
		}
	}
	for k, u := range used {
		if !u {
			return fmt.Errorf("diffraction: vertex %d is in no face, want every vertex in three at least", k)
		}
	}
	if n := len(c.vertices) - c.edges + len(c.faces); n != 2 {
		return fmt.Errorf("diffraction: %d vertices, %d edges and %d faces are no single convex body, want vertices − edges + faces to be 2, which is %d: a body is listed twice, or turns in itself", len(c.vertices), c.edges, len(c.faces), n)
	}
	return nil
}

func (c *Cabinet) measureSize() error {
	away := 0.0
	for i, v := range c.vertices {
		if !finite(v) {
			return fmt.Errorf("diffraction: vertex %d is %v, want finite coordinates", i, v)
		}
		away = math.Max(away, r3.Norm(v))
		for _, w := range c.vertices[:i] {
			c.size = math.Max(c.size, r3.Norm(r3.Sub(v, w)))
		}
	}
	if !(c.size >= leastSize && c.size <= mostSize) {
		return fmt.Errorf("diffraction: the vertices are %g m apart at most, want %g … %g m, with all coordinates in m", c.size, leastSize, float64(mostSize))
	}
	if !(away <= farOff*c.size) {
		return fmt.Errorf("diffraction: a cabinet of %g m is %g m away from the origin, want at most %g m, or coordinates lose their digits", c.size, away, farOff*c.size)
	}
	return nil
}

func finite(v r3.Vec) bool {
	s := v.X + v.Y + v.Z
	return !math.IsNaN(s-s) && !math.IsInf(s, 0)
}

// newFace checks a face by itself.
func (c *Cabinet) newFace(i int, corners []int) (face, error) {
	f := face{corners: append([]int(nil), corners...)}
	n := len(corners)
	if n < 3 {
		return f, fmt.Errorf("diffraction: face %d has %d corners, want at least 3", i, n)
	}
	if n > mostCorners {
		return f, fmt.Errorf("diffraction: face %d has %d corners, want at most %d", i, n, mostCorners)
	}
	seen := map[int]bool{}
	for _, k := range corners {
		if k < 0 || k >= len(c.vertices) {
			return f, fmt.Errorf("diffraction: face %d names vertex %d, want 0 … %d", i, k, len(c.vertices)-1)
		}
		if seen[k] {
			return f, fmt.Errorf("diffraction: face %d names vertex %d twice, want every corner once", i, k)
		}
		seen[k] = true
	}
	// Newell's normal: twice the area, also of a polygon that is not quite flat.
	base := c.vertices[corners[0]]
	var normal r3.Vec
	for k := range corners {
		a, b := r3.Sub(c.corner(f, k), base), r3.Sub(c.corner(f, k+1), base)
		normal = r3.Add(normal, r3.Cross(a, b))
	}
	if area := r3.Norm(normal); area < flat*c.size*c.size {
		return f, fmt.Errorf("diffraction: face %d has an area of %.3g m² (that it may have lost where it crosses itself), want at least %.3g m² in a cabinet of %.4g m", i, area/2, flat*c.size*c.size/2, c.size)
	}
	f.normal = r3.Unit(normal)
	f.offset = r3.Dot(f.normal, base)
	for _, k := range corners {
		if h := r3.Dot(f.normal, c.vertices[k]) - f.offset; math.Abs(h) > flat*c.size {
			return f, fmt.Errorf("diffraction: vertex %d is %g m off the plane of face %d, want plane faces", k, h, i)
		}
	}
	return f, c.checkOutline(i, f)
}

func (c *Cabinet) corner(f face, k int) r3.Vec {
	return c.vertices[f.corners[k%len(f.corners)]]
}

// checkOutline reports a polygon that is not convex, and which kind of fault it has.
func (c *Cabinet) checkOutline(i int, f face) error {
	n := len(f.corners)
	for a := range n { // crossings first: they are the graver fault
		for b := a + 2; b < n; b++ {
			if (b+1)%n == a {
				continue
			}
			if c.cross(f, a, b) {
				return fmt.Errorf("diffraction: the outline of face %d crosses itself (sides %d and %d), want a convex polygon", i, a, b)
			}
		}
	}
	around := 0.0
	for k := range n {
		d, e := r3.Sub(c.corner(f, k+1), c.corner(f, k)), r3.Sub(c.corner(f, k+2), c.corner(f, k+1))
		if r3.Norm(d) < 1e-6*c.size {
			return fmt.Errorf("diffraction: side %d of face %d is %g m long, want at least a millionth of the size of the cabinet, %g m", k, i, r3.Norm(d), 1e-6*c.size)
		}
		turn := r3.Dot(r3.Cross(r3.Unit(d), r3.Unit(e)), f.normal)
		if turn < -flat {
			return fmt.Errorf("diffraction: face %d is concave at vertex %d, want a convex polygon: cut it, or the cabinet, into what is convex", i, f.corners[(k+1)%n])
		}
		if turn < 1e-6 {
			return fmt.Errorf("diffraction: face %d goes straight on at vertex %d, want a corner there or no vertex", i, f.corners[(k+1)%n])
		}
		around += math.Atan2(turn, r3.Dot(r3.Unit(d), r3.Unit(e)))
	}
	if around > 3*math.Pi {
		return fmt.Errorf("diffraction: the outline of face %d goes around %.0f times, itself and again, want a convex polygon that goes around once", i, around/(2*math.Pi))
	}
	return nil
}

// cross reports whether two sides of a face that are no neighbours meet.
func (c *Cabinet) cross(f face, a, b int) bool {
	p, q, r, s := c.corner(f, a), c.corner(f, a+1), c.corner(f, b), c.corner(f, b+1)
	turn := func(x, y, z r3.Vec) float64 {
		return r3.Dot(r3.Cross(r3.Sub(y, x), r3.Sub(z, x)), f.normal)
	}
	return turn(p, q, r)*turn(p, q, s) < 0 && turn(r, s, p)*turn(r, s, q) < 0
}

// join finds the two faces of every edge.
func (c *Cabinet) join() error {
	at := map[[2]int]int{}
	for i := range c.faces {
		f := &c.faces[i]
		for k, a := range f.corners {
			b := f.corners[(k+1)%len(f.corners)]
			if other, ok := at[[2]int{a, b}]; ok {
				return fmt.Errorf("diffraction: faces %d and %d both run from vertex %d to %d, want each edge once in each direction: one of them is listed clockwise, or three faces meet there", c.sides[other].face, i, a, b)
			}
			pa, pb := c.vertices[a], c.vertices[b]
			s := side{face: i, p: pa, n: f.normal, length: r3.Norm(r3.Sub(pb, pa))}
			s.e = r3.Unit(r3.Sub(pb, pa))
			s.t = r3.Cross(f.normal, s.e)
			at[[2]int{a, b}] = len(c.sides)
			f.sides = append(f.sides, len(c.sides))
			c.sides = append(c.sides, s)
		}
	}
	for i := range c.faces {
		f := &c.faces[i]
		for k, a := range f.corners {
			b := f.corners[(k+1)%len(f.corners)]
			twin, ok := at[[2]int{b, a}]
			if !ok {
				return fmt.Errorf("diffraction: the edge from vertex %d to %d belongs to face %d alone, want a closed cabinet", a, b, i)
			}
			c.sides[f.sides[k]].twin = twin
		}
	}
	for i := range c.sides {
		if s := &c.sides[i]; i < s.twin {
			s.edge, c.sides[s.twin].edge = c.edges, c.edges
			c.edges++
		}
	}
	return nil
}

// measureAngles finds the open angle at every edge.
func (c *Cabinet) measureAngles() error {
	for i := range c.sides {
		s := &c.sides[i]
		other := c.sides[s.twin]
		s.open = math.Pi + math.Atan2(-r3.Dot(other.t, s.n), -r3.Dot(other.t, s.t))
		if s.open < math.Pi+1e-4 {
			return fmt.Errorf("diffraction: faces %d and %d meet at an open angle of %.6g rad, want more than π by 1e-4 at least: make one face of what is flat", s.face, other.face, s.open)
		}
		s.nu = math.Pi / s.open
	}
	return nil
}

// Faces returns how many faces there are.
func (c *Cabinet) Faces() int { return len(c.faces) }

// Edges returns how many edges there are.
func (c *Cabinet) Edges() int { return c.edges }

// Normal returns the unit vector that points out of a face.
func (c *Cabinet) Normal(face int) r3.Vec { return c.faces[face].normal }

// Outline returns the corners of a face, anticlockwise as seen from outside.
func (c *Cabinet) Outline(face int) []r3.Vec {
	var v []r3.Vec
	for k := range c.faces[face].corners {
		v = append(v, c.corner(c.faces[face], k))
	}
	return v
}

// extent returns the smallest and the largest coordinates of the body.
func (c *Cabinet) extent() (lo, hi r3.Vec) {
	lo, hi = c.vertices[0], c.vertices[0]
	for _, v := range c.vertices {
		lo = r3.Vec{X: math.Min(lo.X, v.X), Y: math.Min(lo.Y, v.Y), Z: math.Min(lo.Z, v.Z)}
		hi = r3.Vec{X: math.Max(hi.X, v.X), Y: math.Max(hi.Y, v.Y), Z: math.Max(hi.Z, v.Z)}
	}
	return lo, hi
}

// away returns how far a point is from the box around the body, whose sides are along the
// axes.
func (c *Cabinet) away(p r3.Vec) float64 {
	lo, hi := c.extent()
	beyond := func(v, lo, hi float64) float64 { return math.Max(0, math.Max(lo-v, v-hi)) }
	return r3.Norm(r3.Vec{X: beyond(p.X, lo.X, hi.X), Y: beyond(p.Y, lo.Y, hi.Y), Z: beyond(p.Z, lo.Z, hi.Z)})
}

// height returns how far a point is in front of the plane of a face.
func (c *Cabinet) height(face int, p r3.Vec) float64 {
	return r3.Dot(c.faces[face].normal, p) - c.faces[face].offset
}

// over reports whether the foot of a point on the plane of a face is within its
// outline.
func (c *Cabinet) over(face int, p r3.Vec) bool { return c.inset(face, p) >= 0 }

// inset returns the distance of the foot of a point to the nearest side of a face,
// negative outside.
func (c *Cabinet) inset(face int, p r3.Vec) float64 {
	d := math.Inf(1)
	for _, i := range c.faces[face].sides {
		s := &c.sides[i]
		d = math.Min(d, r3.Dot(r3.Sub(p, s.p), s.t))
	}
	return d
}

// breadth returns how wide a face is where it is least, between a side and what is farthest
// from it.
func (c *Cabinet) breadth(face int) float64 {
	least := math.Inf(1)
	for _, i := range c.faces[face].sides {
		s, far := &c.sides[i], 0.0
		for _, k := range c.faces[face].corners {
			far = math.Max(far, r3.Dot(r3.Sub(c.vertices[k], s.p), s.t))
		}
		least = math.Min(least, far)
	}
	return least
}
