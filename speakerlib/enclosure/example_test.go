package enclosure_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/enclosure"
)

// A cabinet of 17 litres inside is tuned to 42 Hz. The tube takes volume, which
// raises the tuning, which asks for a longer tube: the book has all three.
func ExampleBook_Tune() {
	book := enclosure.Book{Gross: 17e-3, Driver: 0.9e-3, Bracing: 0.7e-3, VentWall: 2.5e-3, VentRoom: 0.26}
	vent := enclosure.Vent{Diameter: 0.05, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	account, err := book.Tune(42, vent, table)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("tube %.0f mm, takes %.2f l, leaves %.2f l; fits: %v\n",
		1e3*account.Box.Vent.Length, 1e3*account.Tube, 1e3*account.Box.Vb, account.Fits)
	fmt.Printf("tuned to %.1f Hz, first pipe resonance %.0f Hz\n", account.Box.Fb(table), account.Pipe)
	// Output:
	// tube 189 mm, takes 0.45 l, leaves 14.95 l; fits: true
	// tuned to 42.0 Hz, first pipe resonance 769 Hz
}

// B4 in a box with a leak of QL = 7 asks for a driver of Qt = 0.405; a driver
// of less gets a QB3.
func ExampleAlign() {
	lo, hi, err := enclosure.QtRange(enclosure.QB3{}, 7)
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := enclosure.Align(enclosure.QB3{}, enclosure.SmallSignal{Fs: 38, Qt: 0.32, Vas: 0.030}, 7)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("QB3 for Qt %.3f to %.3f\n", lo, hi)
	fmt.Printf("%.1f l tuned to %.1f Hz, −3 dB at %.1f Hz\n", 1e3*a.Vb, a.Fb, a.F3)
	_, err = enclosure.Align(enclosure.B4{}, a.Driver, 7)
	fmt.Println(err)
	// Output:
	// QB3 for Qt 0.000 to 0.405
	// 12.7 l tuned to 47.0 Hz, −3 dB at 54.9 Hz
	// enclosure: Qt is 0.32, want 0.4048 within 1 % for B4 at QL 7
}
