package digital_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// The chain of a woofer at 96 kHz: its box resonance moved down, a shelf, a dip,
// and a Linkwitz–Riley low-pass, 7 samples late. (The figures agree with SciPy
// 1.10.1: bilinear, butter, freqz, group_delay.)
func ExampleNewCascade() {
	lp, err := analog.Design(analog.Lowpass{Fc: 2300}, analog.LinkwitzRiley(4))
	if err != nil {
		fmt.Println(err)
		return
	}
	sections, err := digital.AnalogSections(lp, 96000, digital.Bilinear{})
	if err != nil {
		fmt.Println(err)
		return
	}
	sections = append(sections,
		digital.Relocate{From: digital.Resonance{F: 62, Q: 0.9}, To: digital.Resonance{F: 40, Q: 0.7}},
		digital.LowShelf{F0: 350, Gain: level.Ratio(-3), Q: 0.6},
		digital.Peak{F0: 900, Gain: level.Ratio(-2.5), Q: 2})
	c, err := digital.NewCascade(96000, sections...)
	if err != nil {
		fmt.Println(err)
		return
	}
	if c, err = c.WithDelay(7); err != nil {
		fmt.Println(err)
		return
	}
	for i := range c.Len() {
		fmt.Println(c.Design(i))
	}
	g, err := freq.NewGrid([]float64{20, 900, 2300})
	if err != nil {
		fmt.Println(err)
		return
	}
	h, tau := level.OfComplex(nil, c.ResponseTo(nil, g)), c.GroupDelayTo(nil, g)
	for i := range g.Len() {
		fmt.Printf("%4.0f Hz %6.2f dB %6.3f ms\n", g.At(i), h[i], 1e3*tau[i])
	}
	// Output:
	// low-pass 2300 Hz, Linkwitz–Riley order 4, section 1 of 2
	// low-pass 2300 Hz, Linkwitz–Riley order 4, section 2 of 2
	// resonance moved from 62 Hz, Q 0.9 to 40 Hz, Q 0.7
	// low shelf 350 Hz, -3.00 dB, Q 0.6
	// peak 900 Hz, -2.50 dB, Q 2
	//   20 Hz   4.00 dB  3.404 ms
	//  900 Hz  -2.93 dB  0.106 ms
	// 2300 Hz  -6.18 dB  0.277 ms
}
