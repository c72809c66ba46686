package largesignal_test

import (
	"fmt"
	"log"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/largesignal"
)

// An invented woofer in a closed box whose coil rests 0.5 mm inward of the middle of its
// gap: how far it moves at 40 Hz, and what harmonics come with it.
func Example() {
	bl, err := driver.NewTable([]float64{-8e-3, -4e-3, -0.5e-3, 3e-3, 7e-3}, []float64{5.2, 6.9, 7.5, 6.9, 5.2})
	if err != nil {
		log.Fatal(err)
	}
	m, err := largesignal.New(enclosure.Mounted{
		Driver: driver.Params{Re: 5.5, Bl: 7.5, Mms: 15.2e-3, Cms: 0.97e-3, Rms: 0.85, Sd: 138e-4, Coil: driver.Inductor{Le: 0.42e-3}},
		Box:    enclosure.Closed{Vb: 15e-3},
		Air:    air.Room(),
	}, driver.LargeSignal{Bl: bl}, largesignal.Options{})
	if err != nil {
		log.Fatal(err)
	}
	for _, volts := range []float64{2.83, 10} {
		h, err := m.Harmonics(largesignal.Tone{Hz: 40, RMS: volts}, nil)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("%.3g V: %.2f mm, THD %.1f %%, second %.1f %%, third %.1f %%\n", volts, 1e3*h.Account.Excursion(),
			100*h.Sound.THD(), 100*h.Sound.Relative(2), 100*h.Sound.Relative(3))
	}
	// Output:
	// 2.83 V: 1.62 mm, THD 1.6 %, second 1.1 %, third 1.2 %
	// 10 V: 5.66 mm, THD 13.4 %, second 3.3 %, third 13.0 %
}
