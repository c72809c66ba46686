package fir_test

import (
	"fmt"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/level"
)

// A linear-phase crossover at 2.3 kHz and 96 kHz: 60 dB of rejection with a
// transition of 1 kHz decide window, length and latency. (The figures agree with
// SciPy 1.10.1: kaiserord, firwin, freqz.)
func ExampleCrossover() {
	w, taps, err := fir.KaiserFor(level.Ratio(60), 1000, 96000)
	if err != nil {
		fmt.Println(err)
		return
	}
	ways, err := fir.Crossover(96000, taps|1, w, 2300)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, way := range ways {
		fmt.Println(way)
		for _, hz := range []float64{2000, 2300, 2600} {
			fmt.Printf("%5.0f Hz %7.2f dB\n", hz, level.DB(cmplx.Abs(way.At(hz))))
		}
	}
	// Output:
	// low-pass 2300 Hz, complementary, linear phase, Kaiser window, β = 5.653, 351 taps, latency 1.823 ms
	//  2000 Hz   -0.61 dB
	//  2300 Hz   -6.02 dB
	//  2600 Hz  -23.28 dB
	// high-pass 2300 Hz, complementary, linear phase, Kaiser window, β = 5.653, 351 taps, latency 1.823 ms
	//  2000 Hz  -23.31 dB
	//  2300 Hz   -6.03 dB
	//  2600 Hz   -0.62 dB
}
