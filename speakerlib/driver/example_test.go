package driver_test

import (
	"fmt"
	"strings"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/si"
)

// How far may the cone move? The driver is invented.
func ExampleLargeSignal_DisplacementLimits() {
	const file = `
table Bl N/A over x mm
  -6 4.9
  -3 6.8
   0 7.4
   3 7.0
   6 5.4
polynomial Kms N/mm over x mm from -4 to 4
  1.03 -0.01 0.006
`
	large, err := driver.ReadLargeSignal(strings.NewReader(file), "large.txt")
	if err != nil {
		fmt.Println(err)
		return
	}
	p := driver.Params{Re: 5.5, Bl: 7.4, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.84, Sd: 0.0138}
	limits, err := large.DisplacementLimits(p, air.Room())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, l := range limits {
		fmt.Println(l)
	}
	fmt.Printf("linear to at least %.1f mm\n", driver.LinearLimit(limits).X/si.Millimetre)
	centre, err := large.Bl.Centre(3 * si.Millimetre)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("Bl is centred %.1f mm outward of rest\n", centre/si.Millimetre)
	// Output:
	// force factor: ±4.48 mm, inward side
	// compliance: beyond the measured ±4 mm
	// Doppler: ±15.5 mm
	// linear to at least 4.0 mm
	// Bl is centred 0.4 mm outward of rest
}

// A suspension that creeps loses more than Rms says.
func ExampleLogCreep() {
	p := driver.Params{Re: 5.5, Bl: 7.4, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.84, Sd: 0.0138}
	p.Suspension = driver.LogCreep{Lambda: 0.1, F0: p.Fs()}
	at, err := p.At(p.Fs())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("Qms %.2f by Rms alone, %.2f with creep\n", p.Qms(), at.Qms())
	// Output:
	// Qms 4.71 by Rms alone, 3.56 with creep
}
