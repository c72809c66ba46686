package room

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
)

// Pattern gives the response of a loudspeaker towards a direction, a unit vector to the
// right, upward and forward as seen by someone who looks at its front. What it is relative
// to does not matter.
type Pattern func(right, up, forward float64) (freq.Transfer, error)

// Source is a loudspeaker in a room.
type Source struct {
	At Point
	// Facing is the direction of its axis, of which the horizontal part counts; the zero
	// value is straight into the room, {1, 0, 0}.
	Facing Point
	// Pattern is its directivity; nil: alike in all directions, as below a few hundred
	// hertz.
	Pattern Pattern
}

// local turns a direction in the room into one of the loudspeaker.
func (s Source) local(d Point) (right, up, forward float64) {
	f := s.Facing
	if f == (Point{}) {
		f.X = 1
	}
	n := math.Hypot(f.X, f.Y)
	x, y := f.X/n, f.Y/n
	return d.Y*x - d.X*y, d.Z, d.X*x + d.Y*y
}

func (s Source) validate() error {
	n := math.Hypot(s.Facing.X, s.Facing.Y)
	if s.Facing != (Point{}) && !(n > 0) || math.IsNaN(n) || math.IsInf(n, 0) {
		return fmt.Errorf("room: loudspeaker faces %v, want a direction with a horizontal part", s.Facing)
	}
	return nil
}

// Field is what a listener hears of a loudspeaker between walls, relative to its direct
// sound:
//
//	H = 1 + Σ D_i/D_0·ΠR·(r_0/r_i)·e^{−jk(r_i − r_0)}
//
// D is the response of the loudspeaker in the direction in which each path leaves it and R
// the reflection factors of what it meets. It is a transfer: multiplied by the response in
// a free field at the place of the listener it gives that in the room.
type Field struct {
	Paths []Path // the direct one first

	walls   *Walls
	pattern []freq.Transfer // by path; nil: alike in all directions
}

// Heard returns the field at a listener, of all paths up to the longest (see [Walls.Paths]).
// With parallel walls the images are cut off there, which leaves ripple of the size of the
// first paths that are missing; below the Schroeder frequency of a live room a sum of modes
// is the better model.
func (w *Walls) Heard(s Source, listener Point, longest float64) (*Field, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	paths, err := w.Paths(s.At, listener, longest)
	if err != nil {
		return nil, err
	}
	own := *w
	f := &Field{Paths: paths, walls: &own}
	if s.Pattern == nil {
		return f, nil
	}
	for _, p := range paths {
		right, up, forward := s.local(p.Departure)
		t, err := s.Pattern(right, up, forward)
		if err != nil {
			return nil, fmt.Errorf("room: loudspeaker's pattern for the path %v: %w", p, err)
		}
		if t == nil {
			return nil, fmt.Errorf("room: loudspeaker's pattern gives nothing for the path %v, want a transfer", p)
		}
		f.pattern = append(f.pattern, t)
	}
	return f, nil
}

// CheckGrid implements [freq.Sampled]: it also refuses a loudspeaker that is silent towards
// the listener.
func (f *Field) CheckGrid(g *freq.Grid) error {
	if err := f.walls.checkGrid(g); err != nil {
		return err
	}
	for k, t := range f.pattern {
		if err := freq.CheckGrid(t, g); err != nil {
			return fmt.Errorf("room: loudspeaker's pattern for the path %v: %w", f.Paths[k], err)
		}
	}
	if f.pattern != nil {
		for i, v := range f.pattern[0].ResponseTo(nil, g) {
			if v == 0 {
				return fmt.Errorf("room: loudspeaker is silent towards the listener at %g Hz, want a direct sound to relate to", g.At(i))
			}
		}
	}
	return nil
}

// ResponseTo implements [freq.Transfer].
func (f *Field) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	clear(dst)
	part, scratch := make([]complex128, g.Len()), make([]complex128, g.Len())
	var direct []complex128
	if f.pattern != nil {
		direct = f.pattern[0].ResponseTo(nil, g)
	}
	r0 := f.Paths[0].Length
	for k, p := range f.Paths {
		f.walls.reflectTo(part, scratch, p, g)
		if direct != nil {
			for i, d := range f.pattern[k].ResponseTo(scratch, g) {
				part[i] *= d / direct[i]
			}
		}
		late := (p.Length - r0) / f.walls.Air.SpeedOfSound
		for i, w := range g.Omega() {
			dst[i] += part[i] * cmplx.Rect(r0/p.Length, -w*late)
		}
	}
	return dst
}

// reflectTo writes the product of the reflection factors of a path into dst.
func (w *Walls) reflectTo(dst, scratch []complex128, p Path, g *freq.Grid) {
	for i := range dst {
		dst[i] = 1
	}
	for k, n := range p.Hits {
		if n == 0 {
			continue
		}
		for i, r := range w.Surfaces[k].ReflectionTo(scratch, p.Cosine[k/2], g) {
			v := r
			for range n - 1 {
				v *= r
			}
			dst[i] *= v
		}
	}
}

// Cancellation is where one reflection takes most away from the direct sound.
type Cancellation struct {
	Path  Path
	Extra float64 // by which the path is longer than the direct one, m
	Hz    float64
	Depth float64 // |direct + this reflection| over the direct one, an amplitude ratio < 1
}

// Cancellations returns the lowest cancellation of every path of a single reflection, in
// ascending order of frequency: where it arrives in opposite phase for the first time,
//
//	2πf·Δ/c − arg R = π
//
// with R of the walls and, if stated, of the loudspeaker's directivity, between the points of
// the grid; a path whose first one is not within it is left out. With several walls the dips of the sum lie elsewhere
// than each alone, but not far from the deepest. They are for showing: a dip moves with the
// listener, and a filter that fills it here makes a peak there, and costs power.
func (f *Field) Cancellations(g *freq.Grid) ([]Cancellation, error) {
	if err := f.CheckGrid(g); err != nil {
		return nil, err
	}
	var found []Cancellation
	for k, p := range f.Paths {
		if p.Order() != 1 {
			continue
		}
		one := &Field{Paths: []Path{f.Paths[0], p}, walls: f.walls}
		if f.pattern != nil {
			one.pattern = []freq.Transfer{f.pattern[0], f.pattern[k]}
		}
		if c, ok := one.lowest(g); ok {
			found = append(found, c)
		}
	}
	slices.SortStableFunc(found, func(a, b Cancellation) int { return cmp.Compare(a.Hz, b.Hz) })
	return found, nil
}

// lowest returns the first cancellation of the second path: where its lag behind the direct
// sound, which is that of its length and of the phase of what it meets, passes half a turn.
func (f *Field) lowest(g *freq.Grid) (Cancellation, bool) {
	extra := f.Paths[1].Length - f.Paths[0].Length
	h := f.ResponseTo(nil, g)
	var lag, size, turn float64 // at the point before; turn is the phase of the reflection itself
	for i, omega := range g.Omega() {
		flight := omega * extra / f.walls.Air.SpeedOfSound
		r := (h[i] - 1) * cmplx.Rect(1, flight)
		now := turn + math.Remainder(cmplx.Phase(r)-turn, 2*math.Pi)
		late := flight - now
		if late >= math.Pi {
			if i == 0 {
				break
			}
			t := (math.Pi - lag) / (late - lag)
			hz := g.At(i-1) + t*(g.At(i)-g.At(i-1))
			return Cancellation{Path: f.Paths[1], Extra: extra, Hz: hz, Depth: math.Abs(1 - (size + t*(cmplx.Abs(r)-size)))}, true
		}
		lag, size, turn = late, cmplx.Abs(r), now
	}
	return Cancellation{}, false
}
