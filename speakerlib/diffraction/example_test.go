package diffraction_test

import (
	"fmt"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// The step of a bookshelf cabinet of 190 × 330 × 260 mm for a woofer of 138 cm², on its
// axis and 30° beside it, where at 4 kHz the cone's own directivity is most of it.
func ExampleState_SolveTo() {
	cabinet, err := diffraction.NewBox(0.19, 0.33, 0.26, diffraction.Rounding{}, diffraction.Rounding{})
	if err != nil {
		fmt.Println(err)
		return
	}
	grid, err := freq.NewGrid([]float64{20, 200, 500, 1000, 2000, 4000})
	if err != nil {
		fmt.Println(err)
		return
	}
	at := r3.Vec{Y: -0.06}
	plan, err := diffraction.NewPlan(diffraction.Setup{
		Cabinet: cabinet, Air: air.Room(), Grid: grid, Reference: at, Order: diffraction.All, UpTo: 6000,
		Receivers: []diffraction.Receiver{diffraction.Angles(0, 0), diffraction.Angles(0.5236, 0)},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	woofer, err := radiation.PistonOf(0.0138).Elements(at, r3.Vec{Z: 1}, 3)
	if err != nil {
		fmt.Println(err)
		return
	}
	h, err := plan.NewState().SolveTo(nil, diffraction.Source{Elements: woofer})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i := range grid.Len() {
		fmt.Printf("%.0f Hz: %.1f dB, at 30° %.1f dB re half space\n", grid.At(i),
			level.DB(cmplx.Abs(h[i])), level.DB(cmplx.Abs(h[grid.Len()+i])))
	}
	// Output:
	// 20 Hz: -6.0 dB, at 30° -6.0 dB re half space
	// 200 Hz: -5.0 dB, at 30° -5.3 dB re half space
	// 500 Hz: -1.8 dB, at 30° -2.1 dB re half space
	// 1000 Hz: 1.7 dB, at 30° 0.8 dB re half space
	// 2000 Hz: 1.1 dB, at 30° -1.4 dB re half space
	// 4000 Hz: -0.1 dB, at 30° -7.5 dB re half space
}
