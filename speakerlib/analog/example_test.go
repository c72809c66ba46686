package analog_test

import (
	"fmt"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// A Linkwitz–Riley high-pass is 6.02 dB down at its corner, whatever its order.
func ExampleDesign() {
	hp, err := analog.Design(analog.Highpass{Fc: 2200}, analog.LinkwitzRiley(4))
	if err != nil {
		fmt.Println(err)
		return
	}
	g, err := freq.NewGrid([]float64{1100, 2200, 4400})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(hp)
	for i, h := range hp.ResponseTo(nil, g) {
		fmt.Printf("%4.0f Hz %6.2f dB\n", g.At(i), level.DB(cmplx.Abs(h)))
	}
	// Output:
	// high-pass 2200 Hz, Linkwitz–Riley order 4
	// 1100 Hz -24.61 dB
	// 2200 Hz  -6.02 dB
	// 4400 Hz  -0.53 dB
}
