package enclosure_test

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/si"
)

// An invented woofer by its sheet, in a cabinet tuned to 40 Hz: what both do at
// 2.83 V.
func ExampleMounted_Motion() {
	sheet := driver.Sheet{Re: 5.5, Fs: 41.5, Qms: 4.7, Qes: 0.39, Mms: 15.2 * si.Gram, Sd: 138 * si.SquareCentimetre, Le: 0.42 * si.Millihenry}
	woofer, _, err := sheet.Params(air.Room(), 0.01)
	if err != nil {
		fmt.Println(err)
		return
	}
	vent := enclosure.Vent{Diameter: 52 * si.Millimetre, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	if vent, err = vent.LengthFor(40, 14.6*si.Litre, air.Room()); err != nil {
		fmt.Println(err)
		return
	}
	box := enclosure.Vented{Vb: 14.6 * si.Litre, Vent: vent, Losses: enclosure.Losses{QL: 10}}
	motion, err := enclosure.Mounted{Driver: woofer, Box: box, Air: air.Room()}.Motion()
	if err != nil {
		fmt.Println(err)
		return
	}
	g, err := freq.NewGrid([]float64{25, 40, 100})
	if err != nil {
		fmt.Println(err)
		return
	}
	z, p := motion.Impedance.ResponseTo(nil, g), motion.Pressure.ResponseTo(nil, g)
	x, u := motion.Cone.ResponseTo(nil, g), motion.VentAir.ResponseTo(nil, g)
	delay := freq.GroupDelay(motion.Pressure, g, "woofer")
	for i := range g.Len() {
		const rms, peak = 2.83, 2.83 * math.Sqrt2
		fmt.Printf("%.0f Hz: %.1f Ω, %.1f dB, cone %.2f mm peak, vent air %.1f m/s peak, group delay %.1f ms\n", g.At(i), cmplx.Abs(z[i]),
			level.SPL(rms*cmplx.Abs(p[i])), peak*cmplx.Abs(x[i])/si.Millimetre, peak*cmplx.Abs(u[i]), delay.At(i)/si.Millisecond)
	}
	// Output:
	// 25 Hz: 18.4 Ω, 72.4 dB, cone 2.84 mm peak, vent air 4.7 m/s peak, group delay 14.0 ms
	// 40 Hz: 6.3 Ω, 83.5 dB, cone 0.26 mm peak, vent air 4.2 m/s peak, group delay 10.8 ms
	// 100 Hz: 14.4 Ω, 90.1 dB, cone 0.73 mm peak, vent air 0.6 m/s peak, group delay 2.2 ms
}
