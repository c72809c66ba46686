package activerc_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/activerc"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
)

// The high-pass of a tweeter with an invented amplifier: circuits, and the figures by which a
// study compares them with the same filter computed. 0.3 Pa per volt stand for a tweeter.
func ExampleRealiseAll() {
	hp, err := analog.Design(analog.Highpass{Fc: 2200}, analog.LinkwitzRiley(4))
	if err != nil {
		fmt.Println(err)
		return
	}
	amplifier := activerc.Amplifier{Name: "audio", GBW: 10e6, DCGain: 1e5, Voltage: 5e-9, Current: 0.5e-12, Swing: 11, Slew: 9e6}
	chain, err := activerc.RealiseAll(hp.Sections(), amplifier, activerc.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range chain.PartsList()[:5] {
		fmt.Printf("%s %-10s %s\n", r.Designator, r.Topology, r.Value)
	}
	g, err := freq.LogGrid(20, 20e3, 24)
	if err != nil {
		fmt.Println(err)
		return
	}
	flat := make([]complex128, g.Len())
	for i := range flat {
		flat[i] = 0.3
	}
	tweeter, err := freq.NewResponse(g, flat, "tweeter",
		freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	f, err := chain.Figures("analogue", g, activerc.Conditions{
		After: activerc.After{Gain: freq.Gain(10), Acoustic: tweeter}, From: 1500, To: 20e3,
		Tolerances: activerc.Tolerances{R: 0.01, C: 0.02}, Trials: activerc.Trials{Samples: 500, Seed: 1},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("error %.2f dB, noise %.0f dB(A) at 1 m, late by less than 1 µs: %v, 95 %% within ±%.1f dB\n",
		f.ErrorDB, f.NoiseSPL, f.Latency < 1e-6, f.SpreadDB)
	// Output:
	// C101 Sallen–Key 33 nF
	// C102 Sallen–Key 2.7 nF
	// R101 Sallen–Key 2.87 kΩ
	// R102 Sallen–Key 20.5 kΩ
	// U101 Sallen–Key audio
	// error 0.02 dB, noise -9 dB(A) at 1 m, late by less than 1 µs: true, 95 % within ±0.4 dB
}
