package crossover_test

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// Two points 145 mm apart, divided at 2.3 kHz and aligned at 1 m on the axis of the
// upper one: where does the lobe point there, where at 2.6 m, and what do ears lose
// that move by 10 cm?
func ExampleStack_Lobe() {
	g, err := freq.LogGrid(300, 12e3, 24)
	if err != nil {
		fmt.Println(err)
		return
	}
	basis := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}
	var angles []float64
	for a := -30.0; a <= 30; a += 10 {
		angles = append(angles, a*math.Pi/180)
	}
	way := func(name string, height float64, chain freq.Transfer) crossover.Vertical {
		v := crossover.Vertical{Name: name, Height: height, Angles: angles, Chain: chain}
		for _, a := range angles {
			p := crossover.Arc(1, a)
			d := math.Hypot(p.Distance, p.Height-height)
			// Later than the reference point by the path; 0.4 ms for all keep delays positive.
			r, err := freq.Evaluate(freq.Series{freq.Gain(1 / d), freq.Delay((d-1)/medium.SpeedOfSound + 400e-6)}, g, name, basis)
			if err != nil {
				fmt.Println(err)
			}
			v.Responses = append(v.Responses, r)
		}
		return v
	}
	low, high := lr4(2300)
	lag, err := crossover.Parallax{Separation: 0.145, Air: medium}.Lag(1)
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := crossover.NewStack(medium, way("woofer", -0.145, low), way("tweeter", 0, freq.Series{high, freq.Delay(lag)}))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, distance := range []float64{1, 2.6} {
		l, err := s.Lobe(2300, distance)
		if err != nil {
			fmt.Println(err)
			return
		}
		h, err := s.Height(crossover.HeightSetup{Place: crossover.Place{Distance: distance}, Range: 0.1, From: 500, To: 10e3})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.1f m: tilt %+.1f°, −3 dB at %+.0f° and %+.0f°; ears ±10 cm: %+.1f dB at %.0f Hz\n", distance, l.Tilt*180/math.Pi, l.Lower3*180/math.Pi, l.Upper3*180/math.Pi, h.Worst, h.WorstAt)
	}
	// Output:
	// 1.0 m: tilt -0.4°, −3 dB at -15° and +15°; ears ±10 cm: -0.6 dB at 2854 Hz
	// 2.6 m: tilt +2.4°, −3 dB at -12° and +17°; ears ±10 cm: -0.3 dB at 3024 Hz
}
