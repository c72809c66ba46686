package dsp

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/fir"
)

// A chain that is to saturate does so in a narrow accumulator too: its output is that of the same
// words in 128 bits, whose sums cannot wrap, for square waves of full scale that sweep through
// the band. Or it is refused.
func TestSumsSaturate(t *testing.T) {
	chain := func(gain float64) Chain {
		c, err := digital.NewCascade(48000, digital.Lowpass{F0: 200, Q: 0.7}, digital.Peak{F0: 1000, Gain: 2, Q: 2}, digital.Highpass{F0: 60, Q: 0.7})
		if err != nil {
			t.Fatal(err)
		}
		if c, err = c.WithGain(math.Abs(gain)); err != nil {
			t.Fatal(err)
		}
		f, err := fir.New(48000, []float64{-0.4, 0.3, 1.1, 0.3, -0.4}, 2, "five taps")
		if err != nil {
			t.Fatal(err)
		}
		return Chain{Sections: c.WithPolarity(gain < 0), FIR: []*fir.Filter{f}}
	}
	square := make([]float64, 20000)
	for i := range square {
		square[i] = math.Copysign(1, math.Sin(2*math.Pi*float64(i)*float64(i)/8e5))
	}
	realised, refused := 0, 0
	for _, bits := range []int{46, 47, 48, 52, 64} {
		for _, exponent := range []int{0, 1, 8} {
			for _, s := range append(Structures(), Automatic) {
				for _, gain := range []float64{1, -7.9, 64} {
					name := fmt.Sprintf("%d bits, exponent %d, %v, gain %g", bits, exponent, s, gain)
					a := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: bits, Exponent: exponent}
					r, err := Realise(chain(gain), a, Options{Structure: s})
					if err != nil {
						if !strings.Contains(err.Error(), "would wrap and not saturate") && !strings.Contains(err.Error(), "needs an accumulator") {
							t.Errorf("%s: %v", name, err)
						}
						refused++
						continue
					}
					realised++
					roomy := *r.Program
					roomy.Arithmetic.Accumulator = 128
					got, want := r.Program.NewRunner().Process(nil, square), roomy.NewRunner().Process(nil, square)
					for i := range got {
						if got[i] != want[i] {
							t.Errorf("%s: sample %d is %g, without wrapping %g", name, i, got[i], want[i])
							break
						}
					}
				}
			}
		}
	}
	if realised < refused || refused == 0 {
		t.Errorf("%d realised and %d refused, want mostly the former and some of the latter", realised, refused)
	}
}
