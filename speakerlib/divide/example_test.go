package divide_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/divide"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Two flat ways, the woofer 83 µs late, divided at 2 kHz by a Linkwitz–Riley pair of
// fourth order into a flat sum.
func ExampleTask_Run() {
	g, err := freq.LogGrid(100, 20e3, 24)
	if err != nil {
		fmt.Println(err)
		return
	}
	basis := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}
	way := func(name string, spl, late float64) divide.Way {
		r, err := freq.Evaluate(freq.Series{freq.Gain(level.Pascal(spl) / 2.83), freq.Delay(late)}, g, name, basis)
		if err != nil {
			fmt.Println(err)
		}
		return divide.Way{Name: name, Responses: []freq.Response{r}}
	}
	woofer, tweeter := way("woofer", 88, 8.0/96e3), way("tweeter", 92, 0)
	voice, err := divide.Flat(86, 2.83, woofer.Responses[0])
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := divide.Task{
		Ways:       []divide.Way{woofer, tweeter},
		Splits:     []divide.Split{divide.Symmetric(analog.LinkwitzRiley(4), 2000)},
		Directions: []divide.Direction{{Name: "axis", Counts: 1}},
		Voice:      []freq.Response{voice},
		SampleRate: 96e3, From: 150, To: 16e3, Enough: 0.1,
	}.Run()
	if err != nil {
		fmt.Println(err)
		return
	}
	for k, c := range r.Network.Chains {
		fmt.Printf("%s: %d sections reach %.1f dB, %d samples late, inverted: %v\n", c.Way, r.Fits[k].Ladder.Best().Sections, r.Fits[k].Ladder.Enough, c.Cascade.Delay(), c.Cascade.Inverted())
	}
	fmt.Printf("sum within %.1f dB; null deeper than 20 dB: %v\n", r.Network.Range, r.Network.Nulls[0].Depth < -20)
	// Output:
	// woofer: 2 sections reach 0.1 dB, 0 samples late, inverted: false
	// tweeter: 2 sections reach 0.1 dB, 8 samples late, inverted: false
	// sum within 0.0 dB; null deeper than 20 dB: true
}
