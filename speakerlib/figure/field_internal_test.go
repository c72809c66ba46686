package figure

import (
	"fmt"
	"strings"
	"testing"
)

// A field over the middle decade of three is drawn there alone: what lies beside it is not below
// the lowest step, it is not known.
func TestFieldEndsWhereItIsKnown(t *testing.T) {
	f := Field{X: []float64{200, 400, 2000}, Y: []float64{-1, 0, 1}, Z: [][]float64{{0, -3, -6}, {0, -3, -6}, {0, -3, -6}}, Unit: "dB"}
	svg, err := Shades(Options{Title: "Field", From: 20, To: 20000}, Axis{Name: "Height", Unit: "m"}, f, []float64{-6, -3}).SVG()
	if err != nil {
		t.Fatal(err)
	}
	third := float64(leftMargin + plotWidth/3)
	want := fmt.Sprintf(`<path d="M%g,`, third)
	end := fmt.Sprintf("L%g,", third+float64(plotWidth)/3)
	light := shadeOf(0)
	found := false
	for _, line := range strings.Split(string(svg), "\n") {
		if strings.Contains(line, fmt.Sprintf("#%06X", uint32(light>>8))) && strings.HasPrefix(strings.TrimSpace(line), want) {
			found = strings.Contains(line, end)
		}
	}
	if !found {
		t.Errorf("no area of the lowest shade from %s to %s", want, end)
	}
}

// Rows that were filled in have one bar beside the plot for neighbours, from halfway to the
// row before to halfway to the row after, and the caption says what it means.
func TestFilledRowsAreMarked(t *testing.T) {
	f := Field{X: []float64{20, 20000}, Y: []float64{0, 10, 20, 30, 50}, Z: [][]float64{{0, 1}, {0, 1}, {0, 1}, {0, 1}, {0, 1}}}
	f.Filled = []bool{true, false, true, true, false}
	marked := Shades(Options{}, Axis{Name: "Angle", Unit: "°"}, f, []float64{0.5})
	if marked.Err() != nil {
		t.Fatal(marked.Err())
	}
	got, want := marked.panels[0].layer.filled, []float64{0, 0.1, 0.3, 0.8}
	if len(got) != len(want) {
		t.Fatalf("bars at %v, want %v", got, want)
	}
	for i := range got {
		if d := got[i] - want[i]; d > 1e-12 || d < -1e-12 {
			t.Errorf("bars at %v, want %v", got, want)
		}
	}
	const say = "Bars beside the plot: filled in, not known there."
	if !strings.HasSuffix(marked.Caption(), say) {
		t.Errorf("caption %q, want %q at its end", marked.Caption(), say)
	}
	f.Filled = make([]bool, 5)
	if plain := Shades(Options{}, Axis{Name: "Angle", Unit: "°"}, f, []float64{0.5}); plain.Err() != nil || strings.Contains(plain.Caption(), say) {
		t.Errorf("error %v, caption %q", plain.Err(), plain.Caption())
	}
}

// A map of angles all around is labelled at multiples of 45°.
func TestAnglesAllAround(t *testing.T) {
	f := Field{X: []float64{100, 1000}}
	for d := -170.0; d <= 180; d += 10 {
		f.Y, f.Z = append(f.Y, d), append(f.Z, []float64{0, -1})
	}
	drawn := Shades(Options{From: 100, To: 1000}, Axis{Name: "Angle", Unit: "°"}, f, []float64{-0.5})
	if drawn.Err() != nil {
		t.Fatal(drawn.Err())
	}
	var got []string
	for _, k := range drawn.panels[0].y.ticks {
		got = append(got, k.label)
	}
	if want := "−135 −90 −45 0 45 90 135 180"; strings.Join(got, " ") != want {
		t.Errorf("labels %v, want %s", got, want)
	}
}

// On two sides a line has neither the colour of one side nor of the other.
func TestLinesOverTwoSides(t *testing.T) {
	f := Field{X: []float64{20, 20000}, Y: []float64{0, 1}, Z: [][]float64{{-2, 1}, {0, 1}}, TwoSided: true}
	var lines []Series
	for _, n := range []string{"a", "b", "c", "d", "e"} {
		lines = append(lines, Series{Label: n, X: []float64{20, 20000}, Y: []float64{0, 1}})
	}
	over := Shades(Options{}, Axis{Name: "y"}, f, []float64{-1, 1}, lines[:4]...)
	if over.Err() != nil {
		t.Fatal(over.Err())
	}
	for i, n := range over.panels[0].lines {
		if n.pen.colour != pens()[2+i].colour {
			t.Errorf("line %d has the colour %06x", i, n.pen.colour>>8)
		}
	}
	if err := Shades(Options{}, Axis{Name: "y"}, f, []float64{-1, 1}, lines...).Err(); err == nil || !strings.Contains(err.Error(), "more than 4 lines") {
		t.Errorf("five lines: %v", err)
	}
	f.TwoSided = false
	if err := Shades(Options{}, Axis{Name: "y"}, f, []float64{-1, 1}, lines...).Err(); err != nil {
		t.Errorf("five lines on one side: %v", err)
	}
}
