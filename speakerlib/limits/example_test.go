package limits_test

import (
	"fmt"
	"log"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/signal"
)

// woofer is an invented one in a vented box, with its amplifier, a second-order
// high-pass at 33 Hz and 20 dB of gain.
func woofer(programme limits.Programme) limits.Way {
	w := 2 * math.Pi * 33
	filter := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1), Den: freq.NewPoly(w*w, w/1.1, 1)}
	return limits.Way{
		Name: "woofer",
		Mounted: enclosure.Mounted{
			Driver: driver.Params{Re: 5.5, Bl: 7.5, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.85, Sd: 0.0138, Coil: driver.Inductor{Le: 0.42e-3}, Limits: driver.Limits{Linear: 6e-3, Damage: 11e-3}},
			Box: enclosure.Vented{Vb: 0.0146, Losses: enclosure.Losses{QL: 10},
				Vent: enclosure.Vent{Diameter: 0.052, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}},
			Air: air.Room(),
		},
		Chain:     freq.Series{filter, freq.Gain(10)},
		Digital:   freq.Series{filter, freq.Gain(0.4)}, // 2.5 V are full scale
		Amplifier: limits.Amplifier{PeakVolts: 26, PeakAmperes: 12, OutputResistance: 0.05},
		VentAir:   20,
		Coil:      limits.Coil{Wire: limits.Copper, Thermal: limits.Thermal{{Resistance: 3, Capacity: 6}, {Resistance: 1.2, Capacity: 900}}, MaxRise: 130},
		Programme: programme,
	}
}

// What stops a woofer at every frequency, and how loud its plateau can be made cold
// and hot, with the bass turned up and without.
func Example() {
	g, err := freq.LogGrid(20, 1000, 24)
	if err != nil {
		log.Fatal(err)
	}
	programme, err := limits.NewProgramme(signal.Programme{}, 2, g)
	if err != nil {
		log.Fatal(err)
	}
	way := woofer(programme)
	ceiling, err := way.Ceiling(g)
	if err != nil {
		log.Fatal(err)
	}
	for _, s := range ceiling.Segments() {
		fmt.Printf("%3.0f to %4.0f Hz: %v\n", s.From, s.To, s.Bound.Cause)
	}

	w := 2 * math.Pi * 120 // a first-order shelf
	bass := limits.Setting{Name: "bass +2 dB", Stage: &freq.PolyRatio{Num: freq.NewPoly(w*level.Ratio(2), 1), Den: freq.NewPoly(w, 1)}}
	conditions, err := way.Conditions(g, bass)
	if err != nil {
		log.Fatal(err)
	}
	rows, err := limits.StateTable(conditions, limits.StateSetup{From: 35, To: 1000, PlateauFrom: 200, PlateauTo: 500, Level: 98.5})
	if err != nil {
		log.Fatal(err)
	}
	for _, r := range limits.Binding(rows) {
		fmt.Printf("%-16s %.1f dB, %s at %.0f Hz\n", r.Condition, r.Level, r.Bound, r.At)
	}
	// Output:
	// 20 to   33 Hz: excursion
	//  34 to   40 Hz: vent air
	//  41 to   55 Hz: heat, sine
	//  57 to   57 Hz: digital full scale
	//  58 to   78 Hz: excursion
	//  80 to   92 Hz: digital full scale
	//  95 to  127 Hz: amplifier amperes, worst programme
	// 131 to  987 Hz: heat, sine
	// neutral, cold    101.5 dB, woofer vent air at 38 Hz
	// neutral, hot     100.8 dB, woofer vent air at 36 Hz
	// bass +2 dB, cold 100.0 dB, woofer vent air at 38 Hz
	// bass +2 dB, hot  99.3 dB, woofer vent air at 36 Hz
}

// How far a programme of a stated level goes towards each bound, and how hot the coil
// gets in an hour of it.
func ExamplePlay() {
	g, err := freq.LogGrid(20, 20e3, 24)
	if err != nil {
		log.Fatal(err)
	}
	noise, err := signal.NewNoise(signal.NoiseSetup{SampleRate: 48e3, Duration: 5, From: 20, To: 20e3, Shape: signal.Programme{}, Crest: 2})
	if err != nil {
		log.Fatal(err)
	}
	programme, err := limits.ProgrammeOf(noise.Clip, 0, g)
	if err != nil {
		log.Fatal(err)
	}
	way := woofer(programme)
	play, err := limits.NewPlay(limits.PlaySetup{Clip: noise.Clip, Volts: 2, Loop: true}) // 1 V rms
	if err != nil {
		log.Fatal(err)
	}
	bounds, err := way.Bounds()
	if err != nil {
		log.Fatal(err)
	}
	reaches, err := play.Reaches(bounds)
	if err != nil {
		log.Fatal(err)
	}
	for _, r := range reaches {
		fmt.Printf("%-42v %3.0f %%, %+5.1f dB\n", r.Bound.Cause, 100*r.Used, r.Headroom)
	}
	heating, err := way.Heating(play, limits.HeatingSetup{Duration: 3600})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("coil %.0f K, magnet %.0f K above the room after an hour\n", heating.Hottest, heating.Final[1])
	// Output:
	// excursion                                   71 %,  +3.0 dB
	// damaging excursion                          39 %,  +8.3 dB
	// vent air                                    60 %,  +4.4 dB
	// amplifier volts                            121 %,  -1.6 dB
	// amplifier amperes                           43 %,  +7.2 dB
	// amplifier amperes, worst programme          86 %,  +1.3 dB
	// digital full scale                         125 %,  -2.0 dB
	// heat, sine                                  75 %,  +2.5 dB
	// heat, programme                             75 %,  +2.5 dB
	// coil 44 K, magnet 12 K above the room after an hour
}
