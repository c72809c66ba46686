package directivity_test

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
)

// An ideal cardioid on two orbits: the weights of the standard make its sound power read
// 0.1 dB high. Its exact directivity index is 4.77 dB.
func ExampleSet_Averages() {
	g, err := freq.NewGrid([]float64{1000})
	if err != nil {
		fmt.Println(err)
		return
	}
	basis := freq.Basis{Quantity: freq.Pressure, Per: freq.PerInput, Space: freq.FullSpace, Distance: 1}
	cardioid := func(d directivity.Direction) (freq.Transfer, error) {
		return freq.Gain((1 + math.Cos(d.Degrees*math.Pi/180)) / 2), nil
	}
	set, err := directivity.Simulate(g, basis, "model", cardioid, directivity.Orbits70()...)
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := set.Averages(directivity.Reading{})
	if err != nil {
		fmt.Println(err)
		return
	}
	index, err := a.Index()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a.Reading)
	fmt.Printf("sound power %.2f dB below the axis, early reflections index %.2f dB, bias %.2f dB\n", index.At(0), a.EarlyIndex.At(0), a.Bias.At(0))
	// Output:
	// early reflections: five bounces alike; rear wall: behind and ±90°
	// sound power 4.67 dB below the axis, early reflections index 1.71 dB, bias 0.10 dB
}
