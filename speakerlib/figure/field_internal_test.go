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
