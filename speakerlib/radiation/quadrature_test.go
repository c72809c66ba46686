package radiation_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/radiation"
)

// The weights of a radiator add up to 1, whatever the number of points: 26 of them had a
// rule that was 1 % short.
func TestWeightsAddUp(t *testing.T) {
	for n := 1; n <= 30; n++ {
		piston, err := radiation.Piston{Radius: 0.05}.Elements(r3.Vec{}, r3.Vec{Z: 1}, n)
		if err != nil {
			t.Fatal(err)
		}
		slot, err := radiation.Rectangle{Width: 0.1, Height: 0.02}.Elements(r3.Vec{}, r3.Vec{Z: 1}, n, 31-n)
		if err != nil {
			t.Fatal(err)
		}
		for name, elements := range map[string][]radiation.Element{"piston": piston, "rectangle": slot} {
			sum := 0.0
			for _, e := range elements {
				sum += e.Weight
			}
			if math.Abs(sum-1) > 1e-12 {
				t.Errorf("%s, %d: weights add up to %v, want 1", name, n, sum)
			}
		}
	}
}
