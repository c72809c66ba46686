package crossover_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/si"
)

// vented is an invented woofer in a cabinet tuned to 49 Hz, behind a resistance.
func vented(source float64) (*enclosure.Motion, error) {
	sheet := driver.Sheet{Re: 5.5, Fs: 41.5, Qms: 4.7, Qes: 0.39, Mms: 15.2 * si.Gram, Sd: 138 * si.SquareCentimetre, Le: 0.42 * si.Millihenry}
	woofer, _, err := sheet.Params(air.Room(), 0.01)
	if err != nil {
		return nil, err
	}
	vent := enclosure.Vent{Diameter: 54 * si.Millimetre, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	if vent, err = vent.LengthFor(49, 14.6*si.Litre, air.Room()); err != nil {
		return nil, err
	}
	box := enclosure.Vented{Vb: 14.6 * si.Litre, Vent: vent, Losses: enclosure.Losses{QL: 10}}
	return enclosure.Mounted{Driver: woofer, Box: box, Air: air.Room(), Source: source}.Motion()
}

// divided is the woofer's way of a passive network: a choke of 1.8 mH with 0.32 Ω, and a
// shunt.
func divided(woofer freq.Transfer, choke network.Inductor, cable network.Source) (crossover.Passive, error) {
	net, err := network.New("in", choke,
		network.Capacitor{Name: "shunt", A: "w", B: network.Ground, C: 8.2e-6, ESR: 0.1},
		network.Load{Name: "woofer", A: "w", B: network.Ground, Z: woofer})
	return crossover.Passive{Network: net, Source: cable, Ways: []crossover.Tap{{Name: "low", Load: "woofer"}}}, err
}

// What a passive choke and 4 m of cable take from the bass of a vented loudspeaker, and an
// active sibling does not: a level, which a volume control gives back, and a shape, which
// it does not.
func ExamplePassive_SeriesLoss() {
	woofer, err := vented(0)
	if err != nil {
		fmt.Println(err)
		return
	}
	cable, err := network.Cable{Length: 4, Area: 1.5e-6, Inductance: 0.6e-6}.Source()
	if err != nil {
		fmt.Println(err)
		return
	}
	passive, err := divided(woofer.Impedance, network.Inductor{Name: "choke", A: "in", B: "w", L: 1.8e-3, R: 0.32}, cable)
	if err != nil {
		fmt.Println(err)
		return
	}
	g, err := freq.NewGrid([]float64{20, 27, 40, 49, 60, 76, 120, 200, 250, 300})
	if err != nil {
		fmt.Println(err)
		return
	}
	loss, err := passive.SeriesLoss("low", g, 200, 300)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("level %.2f dB, and besides\n", loss.Level)
	for i, hz := range []float64{20, 27, 40, 49, 60, 76, 120} {
		fmt.Printf("%3.0f Hz %+.2f dB\n", hz, loss.Shape.At(i))
	}
	// Output:
	// level -0.63 dB, and besides
	//  20 Hz +0.52 dB
	//  27 Hz +0.55 dB
	//  40 Hz +0.20 dB
	//  49 Hz +0.09 dB
	//  60 Hz +0.31 dB
	//  76 Hz +0.54 dB
	// 120 Hz +0.33 dB
}

// The network's way to the bass against that of the box: behind a choke without inductance to
// speak of and without a shunt the pressure is that of the box with the same resistance as
// its source (package enclosure, checked against printed alignments and ngspice), so that
// both tell the same loss.
func TestSeriesLossOfAVentedBox(t *testing.T) {
	const r = 0.32 + 0.11
	free, behind := good(vented(0))(t), good(vented(r))(t)
	g := good(freq.LogGrid(15, 300, 24))(t)
	net := good(network.New("in", network.Inductor{Name: "choke", A: "in", B: "w", L: 1e-12, R: 0.32},
		network.Load{Name: "woofer", A: "w", B: network.Ground, Z: free.Impedance}))(t)
	passive := crossover.Passive{Network: net, Source: network.Source{R: 0.11}, Ways: []crossover.Tap{{Name: "low", Load: "woofer"}}}
	loss := good(passive.SeriesLoss("low", g, 150, 300))(t)
	a, b := behind.Pressure.ResponseTo(nil, g), free.Pressure.ResponseTo(nil, g)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range a {
		want := level.DB(cmplx.Abs(a[i] / b[i]))
		if got := loss.Level + loss.Shape.At(i); math.Abs(got-want) > 1e-9 {
			t.Errorf("at %.1f Hz the network loses %.12g dB, the box %.12g dB", g.At(i), got, want)
		}
		lo, hi = math.Min(lo, loss.Shape.At(i)), math.Max(hi, loss.Shape.At(i))
	}
	if hi-lo < 0.3 {
		t.Errorf("shape spans %.3g dB: the test shows nothing", hi-lo)
	}
}

// The derivatives of the sum by every value against central differences of the sum of networks
// with that value changed.
func TestDividedSensitivities(t *testing.T) {
	g := good(freq.LogGrid(50, 15e3, 4))(t)
	b := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}
	drivers := []freq.Response{
		good(freq.Evaluate(freq.Series{freq.Gain(0.9), freq.Delay(60e-6)}, g, "woofer", b))(t),
		good(freq.Evaluate(freq.Gain(-1.2), g, "tweeter", b))(t),
	}
	p := demo(t, freq.Gain(6.3), freq.Gain(5.1))
	p.Source = network.Source{R: 0.1}
	d := good(p.On(g))(t)
	sens := good(d.Sensitivities(drivers))(t)
	sum := good(d.Sum(drivers, ""))(t)
	changed := func(part network.Part) freq.Response {
		q := p
		q.Network = good(p.Network.With(part))(t)
		return good(good(q.On(g))(t).Sum(drivers, ""))(t)
	}
	const h = 1e-4
	for name, with := range map[string]func(k float64) network.Part{
		"choke": func(k float64) network.Part {
			return network.Inductor{Name: "choke", A: "in", B: "w", L: 1.8e-3 * k, R: 0.32}
		},
		"first": func(k float64) network.Part { return network.Capacitor{Name: "first", A: "in", B: "t", C: 5.1e-6 * k} },
		"pad":   func(k float64) network.Part { return network.Resistor{Name: "pad", A: "p", B: "h", R: 3.9 * k} },
	} {
		up, down := changed(with(1+h)), changed(with(1-h))
		found := false
		for k, param := range sens.Parameters() {
			if param.Part != name || param.Kind != network.Value {
				continue
			}
			found = true
			for i, v := range sens.Derivative(k) {
				if want := (up.At(i) - down.At(i)) / (2 * h); cmplx.Abs(v-want) > 1e-6*cmplx.Abs(sum.At(i)) {
					t.Errorf("sum by %q at %.0f Hz: %v, want %v", name, g.At(i), v, want)
				}
			}
		}
		if !found {
			t.Errorf("no derivative by %q", name)
		}
	}
}
