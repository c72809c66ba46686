package directivity_test

import (
	"fmt"
	"math"
	"os"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/si"
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

// The demo's far field: files of one side only, whose names say "side", "up" and "down". The
// two ways, in parallel and without a crossover, cancel above the axis of the tweeter.
func ExampleReadFolder() {
	way := func(name string) (directivity.Way, error) {
		f, err := directivity.ReadFolder(os.DirFS("../../datasets/standmount/far-field"), ".", directivity.Folder{Names: []directivity.Names{
			{Pattern: name + "-axis.txt", Sense: directivity.ToTheRight},
			{Pattern: name + "-side#.txt", Sense: directivity.ToTheRight},
			{Pattern: name + "-up#.txt", Sense: directivity.Upward},
			{Pattern: name + "-down#.txt", Sense: directivity.Downward},
		}})
		if err != nil {
			return directivity.Way{}, err
		}
		fmt.Printf("%s: %d files, %d skipped, usable from %g Hz\n", name, len(f.Files), len(f.Skipped), f.Set.UsableFrom())
		return directivity.Way{Name: name, Set: f.Set}, nil
	}
	woofer, err := way("woofer")
	if err != nil {
		fmt.Println(err)
		return
	}
	tweeter, err := way("tweeter")
	if err != nil {
		fmt.Println(err)
		return
	}
	woofer.Centre = -145 * si.Millimetre
	in := directivity.Interpolation{Method: directivity.Aligned}
	lobe, err := directivity.LobeAt([]directivity.Way{woofer, tweeter}, 2.6, []float64{0, 0.3, 0.6}, in, air.Room())
	if err != nil {
		fmt.Println(err)
		return
	}
	change, err := lobe.Re(0)
	if err != nil {
		fmt.Println(err)
		return
	}
	for k, h := range lobe.Heights {
		low, err := change[k].Min(500, 1500)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.1f m above the tweeter (%v): %.1f dB at %.0f Hz at least\n", h, lobe.Origins[k], low.Value, low.Hz)
	}
	// Output:
	// woofer: 9 files, 27 skipped, usable from 250 Hz
	// tweeter: 9 files, 27 skipped, usable from 250 Hz
	// 0.0 m above the tweeter (interpolated): 0.0 dB at 516 Hz at least
	// 0.3 m above the tweeter (interpolated): -14.6 dB at 1266 Hz at least
	// 0.6 m above the tweeter (interpolated): -6.4 dB at 1195 Hz at least
}
