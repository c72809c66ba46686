package diffraction_test

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/freq"
)

// Euler's formula for convex polyhedra, vertices − edges + faces = 2, with the counts of
// the shapes told by hand.
func TestShapes(t *testing.T) {
	chamfer := diffraction.Rounding{Chamfer: 0.02}
	arc := diffraction.Rounding{Radius: 0.02, Facets: 3}
	for name, c := range map[string]struct {
		front, back  diffraction.Rounding
		faces, edges int
	}{
		"sharp":         {faces: 6, edges: 12},
		"chamfered":     {front: chamfer, faces: 10, edges: 20},
		"rounded":       {front: arc, faces: 18, edges: 36},
		"rounded alike": {front: arc, back: arc, faces: 30, edges: 60},
	} {
		box, err := diffraction.NewBox(0.2, 0.3, 0.25, c.front, c.back)
		if err != nil {
			t.Fatal(err)
		}
		if box.Faces() != c.faces || box.Edges() != c.edges {
			t.Errorf("%s: %d faces and %d edges, want %d and %d", name, box.Faces(), box.Edges(), c.faces, c.edges)
		}
		if n := box.Normal(0); n.Z < 1-1e-12 {
			t.Errorf("%s: the front looks to %v", name, n)
		}
		if n := box.Normal(1); n.Z > -1+1e-12 {
			t.Errorf("%s: the back looks to %v", name, n)
		}
		for _, v := range box.Outline(0) {
			// Three chords at 30° leave 3/4 of the square on the radius, the arc π/4.
			if want := 0.1 - c.front.Chamfer - c.front.Radius*math.Sqrt(4-math.Pi); v.Z != 0 || math.Abs(math.Abs(v.X)-want) > 1e-12 {
				t.Errorf("%s: corner %v of the front, want it at ±%v", name, v, want)
			}
		}
	}
	// The facets take off what the arc takes off: by the shoelace formula over the section.
	box, err := diffraction.NewBox(0.2, 0.3, 0.25, arc, diffraction.Rounding{})
	if err != nil {
		t.Fatal(err)
	}
	r := 0.02 * math.Sqrt(4-math.Pi)
	area, before := 0.0, [2]float64{}
	for k := range 4 { // from the front to the side, re the centre of the arc
		sin, cos := math.Sincos(rad(float64(30 * k)))
		found := false
		for f := range box.Faces() {
			for _, v := range box.Outline(f) {
				found = found || math.Abs(v.X-(0.1-r+r*sin)) < 1e-12 && math.Abs(v.Z-(r*cos-r)) < 1e-12
			}
		}
		if !found {
			t.Errorf("no corner at step %d of the arc", k)
		}
		now := [2]float64{r * sin, r * cos}
		area += (now[0]*before[1] - now[1]*before[0]) / 2
		before = now
	}
	if took, want := r*r-area, 0.02*0.02*(1-math.Pi/4); math.Abs(took-want) > 1e-12 {
		t.Errorf("the facets take %v m² off, want %v", took, want)
	}
}

func cube() ([]r3.Vec, [][]int) {
	var v []r3.Vec
	for i := range 8 {
		v = append(v, r3.Vec{X: float64(i & 1), Y: float64(i >> 1 & 1), Z: float64(i >> 2)})
	}
	return v, [][]int{{4, 5, 7, 6}, {0, 2, 3, 1}, {0, 1, 5, 4}, {1, 3, 7, 5}, {3, 2, 6, 7}, {2, 0, 4, 6}}
}

func TestCubeByHand(t *testing.T) {
	v, f := cube()
	c, err := diffraction.NewCabinet(v, f)
	if err != nil || c.Edges() != 12 {
		t.Fatalf("%v, %v", c, err)
	}
}

// Of four edges that lie open the first face's is named, every time.
func TestFirstOpenEdge(t *testing.T) {
	for range 8 {
		v, f := cube()
		_, err := diffraction.NewCabinet(v, f[1:])
		if err == nil || !strings.Contains(err.Error(), "edge from vertex 5 to 4 belongs to face 1 alone") {
			t.Fatalf("the error is %v, want the edge from 5 to 4", err)
		}
	}
}

// What is no convex body is refused, with the reason.
func TestCabinetRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		change func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int)
		say    string
	}{
		"open":        {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { return v, f[:5] }, "closed"},
		"inside out":  {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { return v, reverse(f) }, "clockwise"},
		"one reverse": {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { f[2] = []int{4, 5, 1, 0}; return v, f }, "clockwise"},
		"bent face":   {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { v[7].Z = 1.01; return v, f }, "plane"},
		"crossed":     {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { f[0] = []int{4, 7, 5, 6}; return v, f }, "itself"},
		"not finite":  {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { v[3].X = math.Inf(1); return v, f }, "finite"},
		"no vertex":   {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { f[1][0] = 9; return v, f }, "vertex 9"},
		"twice":       {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { f[1][0] = 2; return v, f }, "twice"},
		"two corners": {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { f[1] = f[1][:2]; return v, f }, "corners"},
		"few faces":   {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { return v, f[:3] }, "at least 4"},
		"notch": {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) { // a dented lid
			v = append(v, r3.Vec{X: 0.5, Y: 0.5, Z: 0.8})
			return v, append(f[1:], []int{4, 5, 8}, []int{5, 7, 8}, []int{7, 6, 8}, []int{6, 4, 8})
		}, "concave"},
		"flat edge": {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) {
			return v, append(f[1:], []int{4, 5, 7}, []int{4, 7, 6})
		}, "one face of what is flat"},
		"loose vertex": {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) {
			return append(v, r3.Vec{X: 0.5, Y: 0.5, Z: 0.5}), f
		}, "in no face"},
		"listed twice": {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) {
			w, g := cube()
			for _, face := range g {
				for k := range face {
					face[k] += len(v)
				}
			}
			return append(v, w...), append(f, g...)
		}, "no single convex body"},
		"far off": {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) {
			for i := range v {
				v[i].X += 1e9
			}
			return v, f
		}, "away from the origin"},
		"extra vertex": {func(v []r3.Vec, f [][]int) ([]r3.Vec, [][]int) {
			v = append(v, r3.Vec{X: 0.5, Z: 1})
			f[0], f[2] = []int{4, 8, 5, 7, 6}, []int{0, 1, 5, 8, 4}
			return v, f
		}, "straight on"},
	} {
		_, err := diffraction.NewCabinet(c.change(cube()))
		if err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.say)
		}
	}
	none := diffraction.Rounding{}
	for name, c := range map[string]struct {
		outline []r2.Vec
		say     string
	}{
		"concave":         {[]r2.Vec{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 0.5, Y: 0.5}, {X: 0, Y: 2}}, "concave"},
		"bow tie":         {[]r2.Vec{{X: 0, Y: 0}, {X: 2, Y: 1}, {X: 2, Y: 0}, {X: 0, Y: 1.1}}, "itself"},
		"pentagram":       {[]r2.Vec{{X: 0, Y: 1}, {X: -0.588, Y: -0.809}, {X: 0.951, Y: 0.309}, {X: -0.951, Y: 0.309}, {X: 0.588, Y: -0.809}}, "itself"},
		"clockwise":       {[]r2.Vec{{X: 0, Y: 0}, {X: 0, Y: 1}, {X: 1, Y: 0}}, "clockwise"},
		"two points":      {[]r2.Vec{{X: 0, Y: 0}, {X: 0, Y: 1}}, "corners"},
		"no number":       {[]r2.Vec{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: math.NaN(), Y: 1}}, "finite"},
		"around twice":    {append(around(5), around(5)...), "goes around 2 times"},
		"a corner twice":  {[]r2.Vec{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 1, Y: 0}, {X: 0, Y: 1}}, "every corner once"},
		"very many":       {around(100_000), "corners"},
		"everything flat": {[]r2.Vec{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 2, Y: 0}}, "area"},
		"in nanometres":   {[]r2.Vec{{X: 0, Y: 0}, {X: 3e8, Y: 0}, {X: 3e8, Y: 2e8}, {X: 0, Y: 2e8}}, "apart"},
	} {
		for body, err := range map[string]error{
			"prism": second(diffraction.NewPrism(c.outline, 1, none, none)),
			"plate": second(diffraction.NewPlate(c.outline)),
		} {
			if err == nil || !strings.Contains(err.Error(), c.say) {
				t.Errorf("%s of outline %s: error %v, want one with %q", body, name, err, c.say)
			}
		}
	}
	for name, err := range map[string]error{
		"depth":     second(diffraction.NewBox(1, 1, 0, none, none)),
		"mirrored":  second(diffraction.NewBox(-1, -1, 1, none, none)),
		"infinite":  second(diffraction.NewBox(1, math.Inf(1), 1, none, none)),
		"nothing":   second(diffraction.NewBox(1, math.NaN(), 1, none, none)),
		"radius 10": second(diffraction.NewRound(10.1, 12)),
		"an atom":   second(diffraction.NewBox(1e-10, 1e-10, 1e-10, none, none)),
		"radius":    second(diffraction.NewBox(1, 1, 1, diffraction.Rounding{Radius: 0.5, Facets: 2}, none)),
		"both":      second(diffraction.NewBox(1, 1, 0.5, diffraction.Rounding{Radius: 0.25, Facets: 2}, diffraction.Rounding{Radius: 0.25, Facets: 2})),
		"chamfer":   second(diffraction.NewBox(1, 1, 1, diffraction.Rounding{Chamfer: 0.5}, none)),
		"two kinds": second(diffraction.NewBox(1, 1, 1, diffraction.Rounding{Chamfer: 0.1, Radius: 0.1, Facets: 1}, none)),
		"minus":     second(diffraction.NewBox(1, 1, 1, diffraction.Rounding{Chamfer: -0.1}, none)),
		"facets":    second(diffraction.NewBox(1, 1, 1, diffraction.Rounding{Radius: 0.1}, none)),
		"circle":    second(diffraction.NewRound(0.1, 2)),
		"negative":  second(diffraction.NewRound(-0.1, 12)),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// Bodies in millimetres and centimetres are told from bodies in metres, and the largest
// front that is built, a wall of 15 × 8 m, is taken (common practice, no source).
func TestCabinetInMetres(t *testing.T) {
	none := diffraction.Rounding{}
	wall := []r2.Vec{{X: 0, Y: 0}, {X: 15, Y: 0}, {X: 15, Y: 8}, {X: 0, Y: 8}}
	cubeOf := func(size float64) error {
		v, f := cube()
		for i := range v {
			v[i] = r3.Scale(size, v[i])
		}
		return second(diffraction.NewCabinet(v, f))
	}
	front := func(unit float64) []r2.Vec {
		return []r2.Vec{{}, {X: 0.19 * unit}, {X: 0.19 * unit, Y: 0.33 * unit}, {Y: 0.33 * unit}}
	}
	for name, c := range map[string]struct {
		err  error
		good bool
	}{
		"box in mm":           {second(diffraction.NewBox(190, 330, 378, none, none)), false},
		"box in cm":           {second(diffraction.NewBox(19, 33, 37.8, none, none)), false},
		"small box in cm":     {second(diffraction.NewBox(11, 16, 14, none, none)), false},
		"depth alone in mm":   {second(diffraction.NewBox(0.19, 0.33, 378, none, none)), false},
		"prism in mm":         {second(diffraction.NewPrism(front(1e3), 0.378, none, none)), false},
		"prism's depth in cm": {second(diffraction.NewPrism(front(1), 37.8, none, none)), false},
		"prism in cm":         {second(diffraction.NewPrism(front(1e2), 37.8, none, none)), false},
		"plate in cm":         {second(diffraction.NewPlate(front(1e2))), false},
		"cube of 300 mm":      {cubeOf(300), false},
		"cube of 30 cm":       {cubeOf(30), false},
		"cube of 0.3 mm":      {cubeOf(0.0003), false},
		"box":                 {second(diffraction.NewBox(0.19, 0.33, 0.378, none, none)), true},
		"wall":                {second(diffraction.NewPrism(wall, 0.5, none, none)), true},
		"open wall":           {second(diffraction.NewPlate(wall)), true},
		"cube of 1 cm":        {cubeOf(0.01), true},
	} {
		if c.good != (c.err == nil) || !c.good && !strings.Contains(c.err.Error(), "m deep") && !strings.Contains(c.err.Error(), "in m") {
			t.Errorf("%s: error %v, want one that tells of metres: %v", name, c.err, !c.good)
		}
	}
}

// around is a regular outline of a tenth of a metre.
func around(n int) []r2.Vec {
	var v []r2.Vec
	for k := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
		v = append(v, r2.Vec{X: 0.1 * cos, Y: 0.1 * sin})
	}
	return v
}

func reverse(f [][]int) [][]int {
	for _, c := range f {
		for i, j := 0, len(c)-1; i < j; i, j = i+1, j-1 {
			c[i], c[j] = c[j], c[i]
		}
	}
	return f
}

func second[T any](_ T, err error) error { return err }

func TestPlanRefuses(t *testing.T) {
	good := diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 100, 1000), Receivers: []diffraction.Receiver{diffraction.Angles(0, 0)}}
	if err := second(diffraction.NewPlan(good)); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		change func(*diffraction.Setup)
		say    string
	}{
		"inside":      {func(s *diffraction.Setup) { s.Receivers = []diffraction.Receiver{diffraction.At(r3.Vec{Z: -0.1})} }, "inside"},
		"just inside": {func(s *diffraction.Setup) { s.Receivers = []diffraction.Receiver{diffraction.At(r3.Vec{Z: -1e-6})} }, "inside"},
		"on an edge": {func(s *diffraction.Setup) {
			s.Receivers = []diffraction.Receiver{diffraction.At(r3.Vec{X: 0.095, Z: 0})}
		}, "edge"},
		"at reference": {func(s *diffraction.Setup) { s.Receivers = []diffraction.Receiver{diffraction.At(r3.Vec{})} }, "reference"},
		"no direction": {func(s *diffraction.Setup) { s.Receivers = []diffraction.Receiver{diffraction.Toward(r3.Vec{})} }, "direction"},
		"not a number": {func(s *diffraction.Setup) { s.Receivers = []diffraction.Receiver{diffraction.Angles(math.NaN(), 0)} }, "finite"},
		"degrees":      {func(s *diffraction.Setup) { s.Receivers = []diffraction.Receiver{diffraction.Angles(30, 0)} }, "30° are 0.5236 rad"},
		"degrees up":   {func(s *diffraction.Setup) { s.Receivers = []diffraction.Receiver{diffraction.Angles(0, -10)} }, "-10 rad"},
		"no receivers": {func(s *diffraction.Setup) { s.Receivers = nil }, "receivers"},
		"no cabinet":   {func(s *diffraction.Setup) { s.Cabinet = nil }, "cabinet"},
		"no air":       {func(s *diffraction.Setup) { s.Air.SpeedOfSound = 0 }, "speed"},
		"order":        {func(s *diffraction.Setup) { s.Order = 4 }, "order"},
		"workers":      {func(s *diffraction.Setup) { s.Workers = -1 }, "workers"},
		"many workers": {func(s *diffraction.Setup) { s.Workers = 1e9 }, "workers"},
		"no faces":     {func(s *diffraction.Setup) { s.Cabinet = &diffraction.Cabinet{} }, "0 faces"},
		"no points":    {func(s *diffraction.Setup) { s.Grid = &freq.Grid{} }, "0 points"},
		"too short": {func(s *diffraction.Setup) {
			s.Receivers = []diffraction.Receiver{diffraction.Toward(r3.Vec{X: 5e-324})}
		}, "long enough"},
		"crowd": {func(s *diffraction.Setup) {
			for range 300_000 {
				s.Receivers = append(s.Receivers, s.Receivers[0])
			}
		}, "300001 receivers"},
		"crowd of all orders": {func(s *diffraction.Setup) {
			s.Order, s.UpTo, s.Grid = diffraction.All, 5000, grid(t, 3000)
			for range 60_000 {
				s.Receivers = append(s.Receivers, s.Receivers[0])
			}
		}, "ways each"},
		"far reference": {func(s *diffraction.Setup) { s.Reference.Y = math.NaN() }, "reference"},
		"all orders":    {func(s *diffraction.Setup) { s.Order, s.UpTo = diffraction.All, -1 }, "frequency"},
		"no order":      {func(s *diffraction.Setup) { s.UpTo = 4000 }, "want Order: All"},
		"as far as a star": {func(s *diffraction.Setup) {
			s.Receivers = []diffraction.Receiver{diffraction.At(r3.Vec{Z: 1e15})}
		}, "Toward"},
		"radio":           {func(s *diffraction.Setup) { s.Grid = grid(t, 100, 1e9) }, "wavelengths"},
		"reference in mm": {func(s *diffraction.Setup) { s.Reference.Y = 105 }, "in m"},
		"in cm":           {func(s *diffraction.Setup) { s.Reference.Y = 10.5 }, "in m"},
		"in mm, behind":   {func(s *diffraction.Setup) { s.Reference.Z = -378 }, "in m"},
		"in mm, beside":   {func(s *diffraction.Setup) { s.Reference.X = -60 }, "in m"},
		"a remote planet": {func(s *diffraction.Setup) { s.Reference.Y = 1e7 }, "in m"},
		"ultrasound":      {func(s *diffraction.Setup) { s.Grid = logGrid(t, 1e3, 4e6, 400) }, "sines"},
		"two orders of many facets": {func(s *diffraction.Setup) {
			var err error
			if s.Cabinet, err = diffraction.NewBox(0.19, 0.33, 0.26, diffraction.Rounding{Radius: 0.001, Facets: 8}, diffraction.Rounding{}); err != nil {
				t.Fatal(err)
			}
			s.Order = diffraction.Second
		}, "pairs of points"},
		"too fine": {func(s *diffraction.Setup) {
			s.Order, s.UpTo, s.Grid = diffraction.All, 20000, grid(t, 100, 20000)
		}, "pairs"},
	} {
		s := good
		c.change(&s)
		if err := second(diffraction.NewPlan(s)); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.say)
		}
	}
	near := good // in another cabinet of the same loudspeaker
	near.Reference = r3.Vec{Y: 1.2, Z: 0.3}
	if err := second(diffraction.NewPlan(near)); err != nil {
		t.Errorf("reference at %v: %v", near.Reference, err)
	}
	small := good // a pod on it, told from the woofer below
	var err error
	if small.Cabinet, err = diffraction.NewBox(0.06, 0.06, 0.08, diffraction.Rounding{}, diffraction.Rounding{}); err != nil {
		t.Fatal(err)
	}
	small.Reference = r3.Vec{Y: -0.7}
	if err := second(diffraction.NewPlan(small)); err != nil {
		t.Errorf("reference at %v: %v", small.Reference, err)
	}
	plate := good
	plate.Cabinet = disc(t, 6)
	plate.Receivers = []diffraction.Receiver{diffraction.At(r3.Vec{X: 0.05})}
	if err := second(diffraction.NewPlan(plate)); err == nil || !strings.Contains(err.Error(), "plate") {
		t.Errorf("in the plate: error %v", err)
	}
}

// A half-space pressure becomes one in full space and says so; what is in full space
// already is refused.
func TestFullSpace(t *testing.T) {
	g := grid(t, 1, 100)
	p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: g, Order: diffraction.All, Receivers: []diffraction.Receiver{diffraction.Angles(0, 0)}})
	if err != nil {
		t.Fatal(err)
	}
	h, err := p.NewState().SolveTo(nil, diffraction.Source{Elements: point(0, 0, 0)})
	if err != nil {
		t.Fatal(err)
	}
	step, err := p.Step(h, 0, "step")
	if err != nil {
		t.Fatal(err)
	}
	b := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 1}
	half, err := freq.NewResponse(g, []complex128{2, 2}, "woofer", b)
	if err != nil {
		t.Fatal(err)
	}
	full, err := diffraction.FullSpace(half, step)
	if err != nil {
		t.Fatal(err)
	}
	if got := full.Basis(); got.Space != freq.FullSpace || got.Distance != 1 || got.Per != freq.PerTerminals {
		t.Errorf("basis %v", got)
	}
	if e := math.Abs(real(full.At(0)) - 1); e > 0.01 { // −6.02 dB
		t.Errorf("at 1 Hz %v, want 1", full.At(0))
	}
	for name, err := range map[string]error{
		"twice":         second(diffraction.FullSpace(full, step)),
		"step of steps": second(diffraction.FullSpace(half, half)),
		"step alone":    second(diffraction.FullSpace(step, step)),
		"receiver":      second(p.Step(h, 1, "")),
		"length":        second(p.Step(h[:1], 0, "")),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
