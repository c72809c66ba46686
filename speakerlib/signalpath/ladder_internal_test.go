package signalpath

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// tee is a ladder of resistors and capacitors with arms in the way behind arms across.
type tee struct{ Resistor }

func (tee) arms(g *freq.Grid) []arm {
	return []arm{
		{"first", false, impedance(g, 120, 0, 0)},
		{"across", true, impedance(g, 330, 0, 1e-7)},
		{"second", false, impedance(g, 56, 1e-3, 0)},
		{"end", true, impedance(g, 1000, 0, 0)},
		{"third", false, impedance(g, 22, 0, 1e-6)},
	}
}

// H. Nyquist (Phys. Rev. 32, 1928): whatever the order of the arms, the noise at the open end of a
// network of one temperature is 4kT·Re(Z).
func TestNoiseOfALadderOfAnyOrder(t *testing.T) {
	g, err := freq.LogGrid(20, 20000, 6)
	if err != nil {
		t.Fatal(err)
	}
	p := Path{Name: "way", SourceResistance: 75, Elements: []Element{tee{Resistor{Name: "tee", R: 1}}},
		Driver: Driver{Name: "driver", Impedance: freq.Gain(1e15), Pressure: freq.Gain(1),
			Basis: freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}}}
	s, err := p.On(g)
	if err != nil {
		t.Fatal(err)
	}
	noise, err := s.Noise("all")
	if err != nil {
		t.Fatal(err)
	}
	for i := range noise.Len() {
		want := 4 * 1.380649e-23 * 293.15 * real(s.end[i])
		if math.Abs(noise.At(i)/want-1) > 1e-9 {
			t.Errorf("at %g Hz %.6g V²/Hz, want %.6g", g.At(i), noise.At(i), want)
		}
	}
}
