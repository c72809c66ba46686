package signalpath_test

import (
	"fmt"
	"log"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/si"
	"example.org/loudspeaker/speakerlib/signal"
	"example.org/loudspeaker/speakerlib/signalpath"
)

func check[T any](v T, err error) T {
	if err != nil {
		log.Fatal(err)
	}
	return v
}

// exampleDriver is a driver of a sheet in a closed box, invented.
func exampleDriver(name string, s driver.Sheet, vb, radius float64) signalpath.Driver {
	params, _, err := s.Params(air.Room(), 0.05)
	if err != nil {
		log.Fatal(err)
	}
	m := check(enclosure.Mounted{Driver: params, Box: enclosure.Closed{Vb: vb}, Air: air.Room()}.Motion())
	return signalpath.Driver{Name: name, Impedance: m.Impedance, Pressure: m.Pressure, Displacement: m.Cone,
		Basis: enclosure.PressureBasis(), Radius: radius, Re: s.Re}
}

// exampleWays are the ways of an invented two-way, from samples to the drivers.
func exampleWays() (woofer, tweeter signalpath.Path) {
	dac := signalpath.DAC{Name: "converter", Rate: 96000, FullScale: 2, DynamicRange: level.Ratio(112), Latency: 24,
		Clock: signalpath.Clock{Name: "crystal", Tolerance: 50e-6}, Offset: 1e-3}
	amplifier := func(volts, amperes float64) signalpath.Amplifier {
		return signalpath.Amplifier{Name: "amplifier", Gain: level.Ratio(20), ClipVolts: volts, ClipAmperes: amperes,
			OutputNoise: 20e-6, Output: network.Source{R: 0.02}, Offset: 5e-3}
	}
	cable := signalpath.Cable{Name: "cable", Length: 0.5, Resistance: 25e-3, Inductance: 0.6e-6, Capacitance: 100e-12}
	filters := func(s ...digital.Section) signalpath.Processor {
		return signalpath.Processor{Name: "filters", Rate: 96000, Block: 64, Filters: check(digital.NewCascade(96000, s...)),
			Noise: check(signalpath.Quantisation(24, 96000, signalpath.Triangular))}
	}
	woofer = signalpath.Path{Name: "woofer",
		Elements: []signalpath.Element{filters(digital.Lowpass{F0: 2200, Q: 0.5}, digital.Peak{F0: 45, Q: 1, Gain: level.Ratio(4)}), dac, amplifier(26, 12),
			signalpath.OutputFilter{Name: "output filter", L: 10 * si.Microhenry, R: 0.02, C: 0.47 * si.Microfarad}, cable},
		Driver: exampleDriver("woofer's coil", driver.Sheet{Re: 5.5, Fs: 41.5, Qms: 4.7, Qes: 0.39, Mms: 15.2e-3, Sd: 138e-4}, 15e-3, 0.066)}
	tweeter = signalpath.Path{Name: "tweeter",
		Elements: []signalpath.Element{filters(digital.Highpass{F0: 2200, Q: 0.5}), dac, amplifier(20, 8), cable,
			signalpath.SeriesCapacitor{Name: "capacitor", C: 47 * si.Microfarad, ESR: 0.05, Rated: 63}},
		Driver: exampleDriver("tweeter's coil", driver.Sheet{Re: 4.9, Fs: 980, Qms: 1.6, Qes: 1.15, Mms: 0.34e-3, Sd: 7.1e-4}, 0.02e-3, 0.015)}
	return woofer, tweeter
}

// The noise of a two-way without a signal, and which element makes it.
func ExampleNoiseBudget() {
	w, t := exampleWays()
	g := check(freq.LogGrid(20, 20000, 48))
	ways := []*signalpath.Solution{check(w.On(g)), check(t.On(g))}
	setup := signalpath.NoiseSetup{Distance: 1, Air: air.Room(), Weighting: level.A}
	for _, r := range check(signalpath.NoiseBudget(setup, ways...)) {
		fmt.Printf("%-8s %-15s %8.3f µV %7.1f dB(A)\n", r.Way, r.Element, r.Volts*1e6, r.Level)
	}
	for _, r := range check(signalpath.IdleNoise(setup, []float64{0.3, 0.1}, ways...)) {
		fmt.Printf("%.1f m %-8s %5.1f dB(A), by 1/r %5.1f\n", r.Distance, r.Way, r.Level, r.InverseDistance)
	}
	// Output:
	// woofer   converter         50.208 µV    -4.6 dB(A)
	// woofer   amplifier         19.988 µV   -12.6 dB(A)
	// woofer   filters            0.859 µV   -39.9 dB(A)
	// woofer   woofer's coil      0.033 µV   -68.2 dB(A)
	// woofer   output filter      0.002 µV   -92.5 dB(A)
	// woofer   cable              0.002 µV   -94.7 dB(A)
	// woofer   all               54.047 µV    -3.9 dB(A)
	// tweeter  converter         47.790 µV    -4.9 dB(A)
	// tweeter  amplifier         19.025 µV   -12.9 dB(A)
	// tweeter  filters            0.817 µV   -40.2 dB(A)
	// tweeter  tweeter's coil     0.030 µV   -69.0 dB(A)
	// tweeter  capacitor          0.003 µV   -88.9 dB(A)
	// tweeter  cable              0.002 µV   -94.9 dB(A)
	// tweeter  all               51.444 µV    -4.3 dB(A)
	// sum      all                0.000 µV    -1.1 dB(A)
	// 0.3 m woofer     6.1 dB(A), by 1/r   6.5
	// 0.3 m tweeter    6.2 dB(A), by 1/r   6.2
	// 0.3 m sum        9.1 dB(A), by 1/r   9.4
	// 0.1 m woofer    13.2 dB(A), by 1/r  16.1
	// 0.1 m tweeter   15.7 dB(A), by 1/r  15.7
	// 0.1 m sum       17.6 dB(A), by 1/r  18.9
}

// What clips first, and what the capacitor in front of the tweeter bears.
func ExampleSolution_Headroom() {
	_, t := exampleWays()
	s := check(t.On(check(freq.LogGrid(20, 20000, 48))))
	in := signalpath.Input{Peak: 1, From: 20, To: 19000, Shape: signal.Programme{}, RMS: 0.1, Crest: 4}
	rows := check(s.Headroom(in))
	for _, r := range rows {
		fmt.Printf("%-10s %-14v %6.2f of %5.1f %-2s at %5.0f Hz: %5.1f dB, programme %5.1f dB\n",
			r.Element, r.Cause, r.Sine, r.Limit, r.Unit, r.At, r.Headroom, r.Left)
	}
	fmt.Println("clips first:", signalpath.ClipsFirst(rows).Element)
	// Output:
	// filters    full scale       1.00 of   1.0 FS at    20 Hz:   0.0 dB, programme   8.0 dB
	// converter  full scale       0.99 of   1.0 FS at 18780 Hz:   0.1 dB, programme  18.2 dB
	// amplifier  output volts    27.99 of  20.0 V  at 18780 Hz:  -2.9 dB, programme  15.2 dB
	// amplifier  output current   5.59 of   8.0 A  at 18780 Hz:   3.1 dB, programme  22.7 dB
	// capacitor  volts across     3.49 of  63.0 V  at  3134 Hz:  25.1 dB, programme  39.6 dB
	// clips first: amplifier
}

// The latency of a way by part, and the thump of its offsets without and with a ramp.
func ExamplePath_Thumps() {
	w, _ := exampleWays()
	for _, r := range check(check(w.On(check(freq.LogGrid(20, 20000, 48)))).Latency(100)) {
		fmt.Printf("%-13s %3g samples %.3f ms, its response %.3f ms more\n", r.Part, r.Samples, r.Latency*1e3, r.Group*1e3)
	}
	for _, ramp := range []float64{0, 0.05} {
		for _, r := range check(w.Thumps(ramp, 0.2, 96000)) {
			fmt.Printf("%-9s with %2.0f ms: %5.2f mV, %5.1f dB peak, %6.2f µm\n", r.Element, ramp*1e3, r.Volts*1e3, r.Level, r.Move*1e6)
		}
	}
	ramp := check(w.RampFor("amplifier", 5e-3, level.Pascal(20), 0.2, 96000))
	fmt.Printf("below 20 dB peak from %.0f ms on\n", ramp*1e3)
	// Output:
	// filters        64 samples 0.667 ms, its response -0.093 ms more
	// converter      24 samples 0.250 ms, its response 0.000 ms more
	// amplifier       0 samples 0.000 ms, its response 0.004 ms more
	// output filter   0 samples 0.000 ms, its response 0.005 ms more
	// cable           0 samples 0.000 ms, its response 0.002 ms more
	// all             0 samples 0.917 ms, its response -0.082 ms more
	// converter with  0 ms: 10.79 mV,  42.0 dB peak,   4.80 µm
	// amplifier with  0 ms:  5.40 mV,  36.0 dB peak,   2.40 µm
	// converter with 50 ms:  9.91 mV,   1.5 dB peak,   4.75 µm
	// amplifier with 50 ms:  4.95 mV,  -4.5 dB peak,   2.38 µm
	// below 20 dB peak from 8 ms on
}

// Three gains of the tweeter's amplifier: what a sine must have at the input for full output, in
// digital full scale, and what of the noise is left.
func ExampleSensitivity() {
	_, t := exampleWays()
	var gains []signalpath.Position
	for _, db := range []float64{20, 17, 14} {
		a := t.Elements[2].(signalpath.Amplifier)
		a.Gain = level.Ratio(db)
		gains = append(gains, signalpath.Position{Name: fmt.Sprintf("%g dB", db), Element: a})
	}
	s := signalpath.Sensing{Grid: check(freq.LogGrid(20, 20000, 48)), Hz: 10000, Output: "amplifier",
		Noise: signalpath.NoiseSetup{Distance: 1, Air: air.Room(), Weighting: level.A}}
	for _, r := range check(signalpath.Sensitivity(t, s, gains...)) {
		fmt.Printf("%s: full output, %.1f dB, for %.3f FS rms; %s first, reserve %.1f dB; idle %.1f dB(A)\n",
			r.Position, r.Level, r.Full, r.Clips, r.Reserve, r.Idle)
	}
	// Output:
	// 20 dB: full output, 104.5 dB, for 0.523 FS rms; amplifier, output volts first, reserve 0.0 dB; idle -4.3 dB(A)
	// 17 dB: full output, 104.5 dB, for 0.739 FS rms; filters, full scale first, reserve -0.4 dB; idle -6.7 dB(A)
	// 14 dB: full output, 104.5 dB, for 1.043 FS rms; filters, full scale first, reserve -3.4 dB; idle -8.8 dB(A)
}

// A low-pass is taken from 2.2 kHz to 120 Hz while a tone plays: at once, with the states as they
// are, and behind a mute.
func ExampleExchange() {
	w, _ := exampleWays()
	lowpass := func(hz float64) *digital.Cascade {
		return check(digital.NewCascade(96000, digital.Lowpass{F0: hz, Q: 0.7}))
	}
	tone := make([]float64, 24000)
	for i := range tone {
		tone[i] = 0.02 * math.Sin(2*math.Pi*40*float64(i)/96000)
	}
	x := signalpath.Exchange{From: lowpass(2200), To: lowpass(120)}
	jump := check(x.Worst(tone, 9600, 12000, 60))
	fmt.Printf("at worst %.3f FS after %.3f: %.1f dB too much, settled after %.0f ms\n",
		jump.Peak, jump.Before, level.DB(jump.Excess), float64(jump.Settled)/96)
	x.At = jump.At
	muted := x
	muted.Mute = &signalpath.Mute{Ramp: 1920, Hold: 1920}
	for _, exchange := range []signalpath.Exchange{x, muted} {
		e := signalpath.Event{At: "filters", Samples: check(exchange.Run(tone)), SampleRate: 96000, Since: 9000}
		t := check(w.Transient(e))
		fmt.Printf("%.2f V peak at the terminals, %.1f dB peak, %.2f mm\n", t.Volts, t.Level, t.Displacement*1e3)
	}
	// Output:
	// at worst 0.223 FS after 0.020: 20.9 dB too much, settled after 17 ms
	// 6.27 V peak at the terminals, 91.7 dB peak, 1.53 mm
	// 0.56 V peak at the terminals, 65.6 dB peak, 0.23 mm
}
