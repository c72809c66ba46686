package tune

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// Blocks keep what all points weigh and need (sums, by the definition), and a need that
// is a straight line over ln f stays on it.
func TestCoarsePointsStandForAll(t *testing.T) {
	g, err := freq.LogGrid(100, 1600, 24)
	if err != nil {
		t.Fatal(err)
	}
	p := points{grid: g}
	var sum, need float64
	for i := range g.Len() {
		w := 1 / math.Sqrt(float64(g.Len()))
		p.need = append(p.need, 0.3*math.Log(g.At(i))+1)
		p.weight = append(p.weight, w)
		sum += w * w
		need += w * w * p.need[i]
	}
	c, err := p.coarse(4)
	if err != nil {
		t.Fatal(err)
	}
	if c.grid.Len() != 25 {
		t.Errorf("%d points of %d", c.grid.Len(), g.Len())
	}
	for i, w := range c.weight {
		sum -= w * w
		need -= w * w * c.need[i]
		if want := 0.3*math.Log(c.grid.At(i)) + 1; math.Abs(c.need[i]-want) > 1e-12 {
			t.Errorf("%g Hz: need %g, want %g", c.grid.At(i), c.need[i], want)
		}
	}
	if math.Abs(sum) > 1e-12 || math.Abs(need) > 1e-12 {
		t.Errorf("%g of the weight and %g of the need are lost", sum, need)
	}
}
