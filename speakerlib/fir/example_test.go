package fir_test

import (
	"fmt"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/analog"
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

// A bass of 8193 taps, 2.7 dB more below 60 Hz, at a forty-eighth of 48 kHz: what it
// saves, how late it is, and what it leaves. (The low-passes have as many
// taps as SciPy 1.10.1 says: kaiserord.)
func ExampleDecimate() {
	const n = 8193
	low, err := fir.Windowed(48000, n, analog.Lowpass{Fc: 60}, fir.Kaiser{Beta: 8})
	if err != nil {
		fmt.Println(err)
		return
	}
	taps := low.Taps()
	for i := range taps {
		taps[i] *= 0.36
	}
	taps[n/2]++
	plain, err := fir.New(48000, taps, n/2, "bass shelf")
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := fir.Decimate(plain, fir.Decimation{Factor: 48, Edge: 150, Above: 1, Loss: level.Ratio(80)})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m)
	fmt.Printf("%d taps at %g Hz between low-passes of %d, %.0f times fewer multiplications\n", m.Low().Len(), m.Low().SampleRate(), m.Decimator().Len(), m.Saving())
	fmt.Printf("%.4f dB from the plain filter at most, images at %.0f dB\n", level.DB(1+m.Error), level.DB(m.Alias))
	// Output:
	// bass shelf, below 150 Hz at 1000 Hz, latency 92.52 ms, 18 multiplications a sample instead of 8193
	// 171 taps at 1000 Hz between low-passes of 346, 456 times fewer multiplications
	// 0.0002 dB from the plain filter at most, images at -89 dB
}
