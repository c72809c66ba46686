package room_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/room"
)

// mirrored returns a place behind a wall of the closed room.
func mirrored(p room.Point, w room.Wall) room.Point {
	switch w {
	case room.Front:
		p.X = -p.X
	case room.Rear:
		p.X = 2*5.1 - p.X
	case room.Left:
		p.Y = -p.Y
	case room.Right:
		p.Y = 2*4.3 - p.Y
	case room.Floor:
		p.Z = -p.Z
	case room.Ceiling:
		p.Z = 2*2.6 - p.Z
	}
	return p
}

func place(p room.Point) string { return fmt.Sprintf("%.6f %.6f %.6f", p.X, p.Y, p.Z) }

// All images of up to three reflections, by mirroring the source in wall after wall in every
// order, which in a rectangular room ends at the same places: 1 + 6 + 18 + 38.
func TestImagesByMirroring(t *testing.T) {
	source, listener := room.Point{X: 0.7, Y: 1.1, Z: 0.9}, room.Point{X: 3.3, Y: 2.4, Z: 1.2}
	type found struct {
		hits [6]int
		at   room.Point
	}
	want := map[string]found{}
	var walk func(p room.Point, hits [6]int, left int, last [3]room.Wall) // last of each axis: a wall is not met twice running
	walk = func(p room.Point, hits [6]int, left int, last [3]room.Wall) {
		if f, ok := want[place(p)]; ok && f.hits != hits {
			t.Fatalf("%v by %v and %v", p, f.hits, hits)
		}
		want[place(p)] = found{hits, p}
		if left == 0 {
			return
		}
		for k := room.Front; k <= room.Ceiling; k++ {
			if k == last[k/2] {
				continue
			}
			h, l := hits, last
			h[k]++
			l[k/2] = k
			walk(mirrored(p, k), h, left-1, l)
		}
	}
	walk(source, [6]int{}, 3, [3]room.Wall{-1, -1, -1})
	if len(want) != 63 {
		t.Fatalf("%d images by mirroring, want 63", len(want))
	}
	paths := must[[]room.Path](t)(closed(room.Rigid{}).Paths(source, listener, 60))
	seen := 0
	for k, p := range paths {
		if k > 0 && (p.Order() < paths[k-1].Order() || p.Order() == paths[k-1].Order() && p.Length < paths[k-1].Length) {
			t.Fatal("paths out of order")
		}
		if p.Length > 60 || math.Abs(p.Length-p.Image.To(listener)) > 1e-12 {
			t.Fatalf("path of %g m", p.Length)
		}
		f, ok := want[place(p.Image)]
		if p.Order() > 3 {
			if ok {
				t.Errorf("%v has %d reflections", p.Image, p.Order())
			}
			continue
		}
		seen++
		if !ok || f.hits != p.Hits {
			t.Errorf("%v met %v, want %v", p.Image, p.Hits, f.hits)
		}
		// A ray that leaves the source as it says arrives at the listener: its length times its
		// direction, folded back into the room.
		fold := func(x, l float64) float64 {
			x = math.Mod(math.Mod(x, 2*l)+2*l, 2*l)
			return min(x, 2*l-x)
		}
		end := room.Point{X: fold(source.X+p.Length*p.Departure.X, 5.1), Y: fold(source.Y+p.Length*p.Departure.Y, 4.3), Z: fold(source.Z+p.Length*p.Departure.Z, 2.6)}
		if end.To(listener) > 1e-9 {
			t.Errorf("%v ends at %v, want the listener", p, end)
		}
	}
	if seen != 63 {
		t.Errorf("%d images of up to three reflections, want 63", seen)
	}
	// Images have the density of one in every room's volume.
	if n, want := float64(len(paths)), 4*math.Pi/3*60*60*60/(5.1*4.3*2.6); math.Abs(n/want-1) > 0.01 {
		t.Errorf("%g images within 60 m, want about %g", n, want)
	}
	words := map[[6]int]string{{}: "direct", {0, 1}: "rear wall", {0, 0, 0, 0, 2, 1}: "floor 2 times and ceiling"}
	for _, p := range paths {
		if w, ok := words[p.Hits]; ok {
			if p.String() != w {
				t.Errorf("%v is %q, want %q", p.Hits, p, w)
			}
			delete(words, p.Hits)
		}
	}
	if len(words) > 0 {
		t.Errorf("no paths %v", words)
	}
}

func TestPathsOfACorner(t *testing.T) {
	w := rigid(room.Front, room.Left, room.Floor)
	paths := must[[]room.Path](t)(w.Paths(room.Point{X: 1, Y: 1, Z: 1}, room.Point{X: 3, Y: 1, Z: 1}, 0))
	if len(paths) != 8 || paths[7].String() != "front wall and left wall and floor" || paths[7].Order() != 3 {
		t.Fatalf("%d paths, the last %v", len(paths), paths[len(paths)-1])
	}
	for _, p := range paths {
		if p.String() == "floor" {
			l := math.Sqrt(8)
			if math.Abs(p.Length-l) > 1e-12 || math.Abs(p.Cosine[2]-2/l) > 1e-12 || math.Abs(p.Departure.Z+2/l) > 1e-12 || math.Abs(p.Departure.X-2/l) > 1e-12 {
				t.Errorf("floor: %+v", p)
			}
		}
	}
}

func TestPathsRefuse(t *testing.T) {
	in, out := room.Point{X: 1, Y: 1, Z: 1}, room.Point{X: 1, Y: 1, Z: 3}
	noDistance := rigid(room.Rear)
	noAir := rigid(room.Front)
	noAir.Air.SpeedOfSound = 0
	empty := closed(room.Rigid{})
	empty.Surfaces[room.Left] = &room.Absorber{}
	for name, c := range map[string]struct {
		w       *room.Walls
		s, r    room.Point
		longest float64
		want    string
	}{
		"outside":      {closed(room.Rigid{}), in, out, 9, "behind the ceiling"},
		"source there": {closed(room.Rigid{}), out, in, 9, "source"},
		"one place":    {closed(room.Rigid{}), in, in, 9, "distance between"},
		"not a number": {closed(room.Rigid{}), in, room.Point{X: math.NaN()}, 9, "finite"},
		"no walls":     {rigid(), in, out, 0, "no wall"},
		"no distance":  {noDistance, in, out, 0, "rear wall at 0 m"},
		"no air":       {noAir, in, out, 0, "speed of sound"},
		"too short":    {closed(room.Rigid{}), in, room.Point{X: 4, Y: 1, Z: 1}, 2.9, "direct one of 3 m"},
		"negative":     {closed(room.Rigid{}), in, room.Point{X: 4, Y: 1, Z: 1}, -1, "longest path"},
		"no bands":     {empty, in, room.Point{X: 4, Y: 1, Z: 1}, 9, "left wall"},
		"no impedance": {&room.Walls{Surfaces: [6]room.Surface{room.Floor: room.Impedance{}}, Air: medium}, in, out, 0, "impedance"},
	} {
		if _, err := c.w.Paths(c.s, c.r, c.longest); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
