package dsp_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/level"
)

// A woofer's chain (invented) for a processor of 24-bit words with 56-bit accumulators
// that can feed errors back.
func ExampleRealise() {
	chain, err := digital.NewCascade(96000,
		digital.Highpass{F0: 30, Q: 0.8},
		digital.Peak{F0: 45, Gain: level.Ratio(3), Q: 2},
		digital.Lowpass{F0: 2200, Q: 0.7})
	if err != nil {
		fmt.Println(err)
		return
	}
	arithmetic := dsp.Arithmetic{Signal: dsp.Fixed(0, 23), Coefficient: dsp.Fixed(1, 22), Accumulator: 56}
	r, err := dsp.Realise(dsp.Chain{Sections: chain}, arithmetic, dsp.Options{Feedback: 2, Tolerance: 0.01})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range r.Program.Sections {
		fmt.Printf("%s: %v, error feedback %d, 2^%d\n", s.Design, s.Structure, s.Feedback, s.Scale)
	}
	noise, err := r.Program.Noise(0)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("noise %.0f dB re a sine of full scale\n", level.PowerDB(noise.Power/0.5))
	// Output:
	// peak 45 Hz, +3.00 dB, Q 2: direct form I, error feedback 2, 2^-1
	// high-pass 30 Hz, Q 0.8: direct form I, error feedback 2, 2^0
	// low-pass 2200 Hz, Q 0.7: direct form I, error feedback 2, 2^0
	// noise -139 dB re a sine of full scale
}
