package enclosure_test

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/si"
)

// An invented woofer with a passive radiator: the mass that tunes it.
func ExamplePassiveRadiator() {
	m := air.Room()
	radiator, err := enclosure.RadiatorOf(22, 6, 35*si.Litre, 138*si.SquareCentimetre, m)
	if err != nil {
		panic(err)
	}
	radiator, err = radiator.MassFor(38, 14*si.Litre, m)
	if err != nil {
		panic(err)
	}
	box := enclosure.PassiveRadiator{Vb: 14 * si.Litre, Radiator: radiator, Losses: enclosure.Losses{QL: 10}}
	fmt.Printf("Mmp %.1f g, tuned to %.1f Hz, notch near %.1f Hz\n", radiator.Mmp/si.Gram, box.Fb(m), radiator.Fp())
	// Output:
	// Mmp 47.4 g, tuned to 38.0 Hz, notch near 20.3 Hz
}

// A slot along the floor of a cabinet, then the same box with its standing wave and the
// pipe resonance of the slot.
func ExampleBook_Fit() {
	m := air.Room()
	book := enclosure.Book{Gross: 22 * si.Litre, Driver: 0.9 * si.Litre, VentWall: 12 * si.Millimetre, VentRoom: 240 * si.Millimetre}
	slot := enclosure.Slot{Width: 160 * si.Millimetre, Height: 16 * si.Millimetre, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1, Along: true}
	fitted, err := book.Fit(44, slot, m)
	if err != nil {
		panic(err)
	}
	fmt.Printf("%.0f mm long, fits: %v, %.1f litre left, first pipe resonance %.0f Hz\n",
		fitted.Tube.(enclosure.Slot).Length/si.Millimetre, fitted.Fits, fitted.Vb/si.Litre, fitted.Pipe)
	box := fitted.Box(true)
	box.Chamber.Column = enclosure.Column{Length: 330 * si.Millimetre, Driver: 100 * si.Millimetre, Port: 320 * si.Millimetre}
	fmt.Printf("first standing wave at %.0f Hz\n", box.Chamber.Column.Mode(1, m))
	// Output:
	// 157 mm long, fits: true, 20.3 litre left, first pipe resonance 881 Hz
	// first standing wave at 521 Hz
}

// How much a vent compresses at its tuning, sharp and rounded.
func ExampleMounted_AtLevel() {
	vent := enclosure.Vent{Diameter: 52 * si.Millimetre, Length: 200 * si.Millimetre, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	m := enclosure.Mounted{
		Driver: driver.Params{Re: 5.5, Bl: 7.5, Mms: 15.2 * si.Gram, Cms: 0.97e-3, Rms: 0.85, Sd: 138 * si.SquareCentimetre},
		Box:    enclosure.Vented{Vb: 14.8 * si.Litre, Vent: vent, Losses: enclosure.Losses{QL: 10}}, Air: air.Room(),
	}
	g, err := freq.NewGrid([]float64{40})
	if err != nil {
		panic(err)
	}
	for _, edge := range []float64{0, 10 * si.Millimetre} {
		vent.Edge = edge
		m.Box = enclosure.Vented{Vb: 14.8 * si.Litre, Vent: vent, Losses: enclosure.Losses{QL: 10}}
		loud, err := m.AtLevel(g, 10*math.Sqrt2)
		if err != nil {
			panic(err)
		}
		fmt.Printf("edges of %.0f mm: %.1f m/s, %.2f dB\n", edge/si.Millimetre, loud.Speeds[0].At(0), loud.Compression.At(0))
	}
	// Output:
	// edges of 0 mm: 13.7 m/s, -1.62 dB
	// edges of 10 mm: 14.4 m/s, -1.19 dB
}

// A symmetric bandpass of fourth order for the same driver.
func ExampleAlignBandpass() {
	a, err := enclosure.AlignBandpass(0.7, math.Sqrt(0.5), enclosure.SmallSignal{Fs: 41.5, Qt: 0.36, Vas: 26 * si.Litre})
	if err != nil {
		panic(err)
	}
	fmt.Printf("rear %.1f litre, front %.1f litre, %.0f to %.0f Hz about %.0f Hz\n", a.Rear/si.Litre, a.Front/si.Litre, a.Low, a.High, a.F0)
	// Output:
	// rear 3.8 litre, front 6.7 litre, 83 to 164 Hz about 116 Hz
}
