package figure

import (
	"html"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
)

// words are the texts of a figure and their places, upward from its lower left.
func words(t *testing.T, f *Figure) (texts []string, boxes []vg.Rectangle) {
	t.Helper()
	b, err := f.SVG()
	if err != nil {
		t.Fatal(err)
	}
	fonts := newFaces()
	each := regexp.MustCompile(`<text x="([-0-9.]+)" y="([-0-9.]+)" transform="scale\(1, -1\)"\s+style="[^"]*font-weight:(\w+)[^"]*font-size:([0-9.]+)px[^"]*">([^<]*)</text>`)
	all := each.FindAllStringSubmatch(string(b), -1)
	if want := strings.Count(string(b), "<text "); len(all) != want {
		t.Fatalf("%d of %d texts were understood", len(all), want)
	}
	for _, m := range all {
		var v [3]vg.Length
		for i, s := range []string{m[1], m[2], m[4]} {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			v[i] = vg.Length(x)
		}
		s := html.UnescapeString(m[5])
		texts = append(texts, s)
		boxes = append(boxes, between(v[0], -v[1]-0.2*v[2], v[0]+fonts.width(s, v[2], m[3] == "bold"), -v[1]+0.72*v[2]))
	}
	return texts, boxes
}

// No text of a figure touches another one or leaves the page, whatever is to be drawn.
func TestTextsAreClear(t *testing.T) {
	var near, row []Pin
	for i := range 9 {
		near = append(near, Pin{"one of nine", 0.05 + 1e-4*float64(i), 0.1})
		row = append(row, Pin{"one of nine", 0.01 * float64(i), 0.1 - 0.003*float64(i%4)})
	}
	unknown := slope(0.19, 0.33, 20, 34, func(x, y float64) float64 {
		if math.Hypot(x-0.1, y-0.1) < 0.09 {
			return math.NaN()
		}
		return x + y
	})
	around := Field{X: []float64{100, 1000, 10000}, Unit: "dB", TwoSided: true}
	for d := -170.0; d <= 180; d += 10 {
		around.Y, around.Z = append(around.Y, d), append(around.Z, []float64{-3, 0, 3})
	}
	figures := map[string]*Figure{
		"around": Shades(Options{From: 100}, Axis{Name: "Angle", Unit: "°"}, around, []float64{-2, -1, 1, 2}),
	}
	for name, o := range map[string]PolarOptions{
		"auto": {}, "deep": {Floor: -200, Top: 0}, "odd": {Floor: -37.3, Top: 1.2}, "a third of a ring above": {Floor: -30, Top: 3},
		"shallow": {Floor: -2, Top: 0.5}, "levels": {Floor: 60, Top: 104}, "up": {Turn: Upward, Level: strings.Repeat("level ", 12)},
	} {
		db := min(-1, o.Top-1)
		if o.Top > 1 {
			db = o.Top - 1
		}
		o.Title = "Polar"
		for _, to := range [][2]float64{{-170, 180}, {-90, 90}, {0, 180}, {-180, 0}} {
			figures["polar, "+name+", from "+number(to[0])] = Polar(o, round("first of two", db, to[0], to[1], 10), round("second", db-3, to[0], to[1], 10))
		}
	}
	for name, o := range map[string]PlaneOptions{
		"plain": {}, "points in one place": {Pins: near}, "points in a row": {Pins: row},
		"driver": {Outlines: []Outline{Circle("woofer", 0.1, 0.1, 0.08), Circle("tweeter", 0.1, 0.27, 0.02)}, Pins: []Pin{{"as sold", 0.1, 0.27}, {"best", 0.15, 0.27}}},
	} {
		o.Title = "Plane"
		figures["plane, "+name] = Plane(o, unknown, []float64{0.1, 0.2, 0.3})
		o.X, o.Y = strings.Repeat("a long name of an axis ", 4), "And another one"
		figures["plane, long axes, "+name] = Plane(o, unknown, []float64{0.1, 0.2, 0.3})
		if len(o.Pins) < 4 {
			figures["flat plane, "+name] = Plane(o, slope(1, 0.02, 20, 3, flat), []float64{0.1, 0.2, 0.3})
		}
	}
	for name, f := range figures {
		texts, boxes := words(t, f)
		width, height := f.Size()
		page := between(0, 0, vg.Length(width)*0.75, vg.Length(height)*0.75)
		for i, b := range boxes {
			if b.Min.X < page.Min.X || b.Min.Y < page.Min.Y || b.Max.X > page.Max.X || b.Max.Y > page.Max.Y {
				t.Errorf("%s: %q leaves the page", name, texts[i])
			}
			for j := range i {
				if overlap(b, boxes[j]) {
					t.Errorf("%s: %q touches %q", name, texts[i], texts[j])
				}
			}
		}
	}
}

// The lines from points to their names beside a plane do not cross.
func TestLinesToNamesDoNotCross(t *testing.T) {
	const width, tall = 200, 330
	state := uint64(1)
	random := func() float64 { // a linear congruential generator is random enough
		state = state*6364136223846793005 + 1442695040888963407
		return float64(state>>11) / (1 << 53)
	}
	for round := range 200 {
		var names []tag
		for range 3 + round%12 {
			names = append(names, tag{from: place{random(), random()}})
		}
		placeTags(names, width, tall)
		for i := range names {
			if y := names[i].y; y < 0 || y > tall || i > 0 && y-names[i-1].y < tagLead-1e-9 {
				t.Fatalf("round %d: name %d is at %g after %g", round, i, y, names[max(i-1, 0)].y)
			}
			for j := range i {
				a, b := names[j], names[i]
				if segmentsCross(a.from.x*width, a.from.y*tall, float64(width+tagGap), float64(a.y), b.from.x*width, b.from.y*tall, float64(width+tagGap), float64(b.y)) {
					t.Fatalf("round %d: lines %d and %d cross", round, i, j)
				}
			}
		}
	}
}

// Names that push one another go up and down alike; what has room stays where it is.
func TestNamesShareTheWay(t *testing.T) {
	const tall = 330
	at := func(y ...float64) (names []tag) {
		for _, v := range y {
			names = append(names, tag{from: place{0.5, v / tall}})
		}
		return names
	}
	lead := float64(tagLead)
	for _, c := range []struct{ from, want []float64 }{
		{[]float64{50, 100, 200}, []float64{50, 100, 200}},
		{[]float64{100, 100}, []float64{100 - lead/2, 100 + lead/2}},
		{[]float64{100, 100, 100, 200}, []float64{100 - lead, 100, 100 + lead, 200}},
		{[]float64{0, 0, 330}, []float64{0, lead, 330}},
		{[]float64{330, 330}, []float64{330 - lead, 330}},
	} {
		names := at(c.from...)
		spread(names, tall)
		for i, want := range c.want {
			if got := float64(names[i].y); math.Abs(got-want) > 1e-9 {
				t.Errorf("names at %v: %d stands at %g, want %g", c.from, i, got, want)
			}
		}
	}
}

// segmentsCross tells by the signs of the four triangles whether two segments cross.
func segmentsCross(ax, ay, bx, by, cx, cy, dx, dy float64) bool {
	side := func(px, py, qx, qy, rx, ry float64) bool { return (qx-px)*(ry-py)-(qy-py)*(rx-px) > 0 }
	return side(ax, ay, bx, by, cx, cy) != side(ax, ay, bx, by, dx, dy) && side(cx, cy, dx, dy, ax, ay) != side(cx, cy, dx, dy, bx, by)
}
