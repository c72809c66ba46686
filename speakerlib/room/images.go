package room

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// MaxImages is the most images that are made.
const MaxImages = 1 << 21

// Path is one way of the sound from source to listener.
type Path struct {
	Length float64    // m
	Hits   [walls]int // reflections at each wall, by Wall; all 0: the direct sound
	Image  Point      // where the sound seems to come from
	// Cosine is, by axis X, Y, Z, that of the angle at which walls across it are met.
	Cosine [3]float64
	// Departure is the direction in which the sound leaves the source itself, a unit vector.
	Departure Point
}

// Order returns the number of reflections.
func (p Path) Order() (n int) {
	for _, h := range p.Hits {
		n += h
	}
	return n
}

// String names the walls that are met: "direct", "floor", "front wall and floor".
func (p Path) String() string {
	var met []string
	for k, n := range p.Hits {
		switch {
		case n == 1:
			met = append(met, Wall(k).String())
		case n > 1:
			met = append(met, fmt.Sprintf("%v %d times", Wall(k), n))
		}
	}
	if met == nil {
		return "direct"
	}
	return strings.Join(met, " and ")
}

// image1 is an image along one axis.
type image1 struct {
	at        float64
	near, far int
	mirrored  bool
}

// along returns the images of x along an axis whose walls are at 0 and at l, as far as
// they are within reach of y. (J. B. Allen and D. A. Berkley, "Image method for efficiently
// simulating small-room acoustics", J. Acoust. Soc. Am. 65, 1979.)
func along(x, y, l float64, near, far bool, reach float64) []image1 {
	var all []image1
	add := func(i image1) {
		if math.Abs(i.at-y) <= reach {
			all = append(all, i)
		}
	}
	switch {
	case near && far:
		n := int(math.Ceil(reach/(2*l))) + 1
		for k := -n; k <= n; k++ {
			base := 2 * float64(k) * l
			add(image1{base + x, abs(k), abs(k), false})
			add(image1{base - x, abs(k - 1), abs(k), true})
		}
	case near:
		add(image1{x, 0, 0, false})
		add(image1{-x, 1, 0, true})
	case far:
		add(image1{x, 0, 0, false})
		add(image1{2*l - x, 0, 1, true})
	default:
		add(image1{x, 0, 0, false})
	}
	return all
}

func abs(k int) int { return max(k, -k) }

// images calls f for all images of the source up to the longest path to a listener.
func (w *Walls) images(source, listener Point, longest float64) ([]Path, error) {
	if err := w.Validate(); err != nil {
		return nil, err
	}
	if err := w.inside("source", source); err != nil {
		return nil, err
	}
	if err := w.inside("listener", listener); err != nil {
		return nil, err
	}
	if !(longest >= 0) {
		return nil, fmt.Errorf("room: longest path is %g m, want more than 0, or 0 for all", longest)
	}
	if longest == 0 || math.IsInf(longest, 1) {
		if w.parallel() {
			return nil, fmt.Errorf("room: all paths between parallel walls, of which there is no end: want a longest path")
		}
		longest = math.Inf(1)
	}
	if volume := w.reach(longest); volume > MaxImages {
		return nil, fmt.Errorf("room: about %.3g images up to a path of %g m, want at most %d: lower the longest path", volume, longest, MaxImages)
	}
	s, r, size := source.axes(), listener.axes(), w.size()
	var axis [3][]image1
	for k := range axis {
		axis[k] = along(s[k], r[k], size[k], w.Surfaces[2*k] != nil, w.Surfaces[2*k+1] != nil, longest)
	}
	var paths []Path
	for _, a := range axis[0] {
		for _, b := range axis[1] {
			for _, c := range axis[2] {
				at := Point{a.at, b.at, c.at}
				length := at.To(listener)
				if length > longest {
					continue
				}
				paths = append(paths, pathOf(a, b, c, at, listener, length))
			}
		}
	}
	slices.SortStableFunc(paths, func(p, q Path) int { return cmp.Or(cmp.Compare(p.Order(), q.Order()), cmp.Compare(p.Length, q.Length)) })
	if len(paths) == 0 || paths[0].Order() != 0 {
		return nil, fmt.Errorf("room: longest path is %g m, want more than the direct one of %g m", longest, source.To(listener))
	}
	return paths, nil
}

// reach estimates the number of images.
func (w *Walls) reach(longest float64) float64 {
	n := 1.0
	for k, l := range w.size() {
		switch near, far := w.Surfaces[2*k] != nil, w.Surfaces[2*k+1] != nil; {
		case near && far:
			n *= 2*longest/l + 2
		case near || far:
			n *= 2
		}
	}
	return n
}

func pathOf(a, b, c image1, at, listener Point, length float64) Path {
	p := Path{Length: length, Image: at, Hits: [walls]int{a.near, a.far, b.near, b.far, c.near, c.far}}
	if length == 0 {
		return p
	}
	d := [3]float64{(listener.X - at.X) / length, (listener.Y - at.Y) / length, (listener.Z - at.Z) / length}
	for k, i := range [3]image1{a, b, c} {
		p.Cosine[k] = math.Abs(d[k])
		if i.mirrored {
			d[k] = -d[k]
		}
	}
	p.Departure = Point{d[0], d[1], d[2]}
	return p
}

// Paths returns all paths of the sound from source to listener, those of fewer reflections
// first, then the shorter ones: a table of reflections. Between parallel walls there
// is no end of them, and longest, in metres, bounds the path; without parallel walls 0
// takes all.
func (w *Walls) Paths(source, listener Point, longest float64) ([]Path, error) {
	if source == listener {
		return nil, fmt.Errorf("room: listener and source are both at %v, want a distance between them", source)
	}
	return w.images(source, listener, longest)
}
