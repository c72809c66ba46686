package enclosure_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/enclosure"
)

// What a driver of Qt 0.33 can have of the textbooks, and what of it fits a cabinet.
func ExampleTextbooks() {
	list, err := enclosure.Textbooks(enclosure.SmallSignal{Fs: 40, Qt: 0.33, Vas: 0.026}, 7)
	if err != nil {
		fmt.Println(err)
		return
	}
	book := enclosure.Book{Gross: 17e-3, Driver: 0.9e-3, VentWall: 2.5e-3, VentRoom: 0.26}
	vent := enclosure.Vent{Diameter: 0.05, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	for _, a := range list {
		h, err := book.House(a, vent, table)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Printf("%-26s %5.1f l, fb %4.1f Hz, f3 %4.1f Hz, filter %4.1f Hz %+4.1f dB; vent %3.0f mm, fits: %v\n",
			a.Name, 1e3*a.Vb, a.Fb, a.F3, a.FilterAt, a.Lift, 1e3*h.Length, h.Fits)
	}
	// Output:
	// closed, critically damped   20.1 l, fb  0.0 Hz, f3 94.2 Hz, filter  0.0 Hz +0.0 dB; vent   0 mm, fits: false
	// closed Bessel               12.6 l, fb  0.0 Hz, f3 89.0 Hz, filter  0.0 Hz +0.0 dB; vent   0 mm, fits: true
	// closed Butterworth           7.2 l, fb  0.0 Hz, f3 85.7 Hz, filter  0.0 Hz +0.0 dB; vent   0 mm, fits: true
	// QB3                         12.0 l, fb 48.1 Hz, f3 55.3 Hz, filter  0.0 Hz +0.0 dB; vent 177 mm, fits: true
	// SC4                         11.8 l, fb 44.3 Hz, f3 57.7 Hz, filter  0.0 Hz +0.0 dB; vent 220 mm, fits: true
	// Bessel                      13.6 l, fb 38.9 Hz, f3 59.8 Hz, filter  0.0 Hz +0.0 dB; vent 251 mm, fits: true
	// SC5                         11.2 l, fb 45.2 Hz, f3 63.5 Hz, filter 28.3 Hz +0.0 dB; vent 222 mm, fits: true
	// C6 class I                  13.4 l, fb 39.2 Hz, f3 34.6 Hz, filter 35.0 Hz +7.5 dB; vent 253 mm, fits: true
	// SC6 class II                10.2 l, fb 50.0 Hz, f3 70.3 Hz, filter 40.3 Hz +0.0 dB; vent 196 mm, fits: true
	// SC6 class III               10.9 l, fb 45.7 Hz, f3 66.7 Hz, filter 25.2 Hz +0.0 dB; vent 224 mm, fits: true
}
