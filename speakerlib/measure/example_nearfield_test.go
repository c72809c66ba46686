package measure_test

import (
	"fmt"
	"log"
	"math"
	"os"
	"path/filepath"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
	"example.org/loudspeaker/speakerlib/si"
)

// From the near fields of cone and vent to the gated far field: one response in
// full space. All files are invented.
func ExampleSplice_nearFieldToFarField() {
	read := func(name string) *measure.Table {
		f, err := os.Open(filepath.Join("..", "..", "datasets", "standmount", name))
		if err != nil {
			log.Fatal(err)
		}
		defer f.Close()
		t, err := measure.ReadResponse(f, name, measure.Format{})
		if err != nil {
			log.Fatal(err)
		}
		return t
	}
	stated := func(t *measure.Table) freq.Response {
		r, err := t.Stated()
		if err != nil {
			log.Fatal(err)
		}
		return r
	}
	check := func(err error) {
		if err != nil {
			log.Fatal(err)
		}
	}

	// Cone and vent, each scaled by its radius, in half space at 1 m.
	const coneRadius, ventRadius, distance = 66.28e-3, 27e-3, 1.0
	cone, vent := stated(read("near-field/passive-cone.txt")), stated(read("near-field/passive-vent.txt"))
	half, err := measure.SumNear(cone, vent, coneRadius, ventRadius, distance)
	check(err)

	// To full space, by the sphere of the cabinet's volume.
	step, err := measure.NewSphereStep(measure.SphereOfVolume(15.2*si.Litre), air.Room())
	check(err)
	lower, err := measure.ToFullSpace(half, step)
	check(err)

	// The far field, from where its gate lets it be used.
	far := read("far-field/passive-axis.txt")
	usable, err := far.UsableFrom()
	check(err)
	far, err = far.Between(usable, 20e3)
	check(err)
	upper := stated(far)

	// The join, and what it leaves. Both parts are calibrated, so that the gain it
	// needs is the error of the step.
	lo, hi := upper.Grid().First(), measure.NearFieldLimit(coneRadius, air.Room())/2
	g, err := freq.LogGrid(20, 18e3, 48)
	check(err)
	whole, join, err := measure.Splice(lower, upper, lo, hi, g)
	check(err)
	band, err := freq.LogGrid(lo, hi, 48)
	check(err)
	left, err := join.Residual(lower, upper, band)
	check(err)
	db, phase := left.DB(1), left.Phase()
	worst := func(c freq.Curve) float64 {
		high, err := c.Max(lo, hi)
		check(err)
		low, err := c.Min(lo, hi)
		check(err)
		return max(high.Value, -low.Value)
	}
	fmt.Println(whole.Basis())
	fmt.Printf("joined over %.0f … %.0f Hz, lower part %+.1f dB and %+.2f ms\n", join.From, join.To, level.DB(join.Gain), join.Delay*1e3)
	fmt.Printf("left over at most %.1f dB and %.0f°\n", worst(db), worst(phase)*180/math.Pi)
	bass, err := whole.SPL(2.83).Interpolate(50)
	check(err)
	voice, err := whole.SPL(2.83).Interpolate(1000)
	check(err)
	fmt.Printf("%.1f dB at 50 Hz, %.1f dB at 1 kHz\n", bass, voice)
	// Output:
	// sound pressure per volt at the input, full space, 1 m
	// joined over 258 … 413 Hz, lower part -0.5 dB and +4.25 ms
	// left over at most 0.5 dB and 8°
	// 80.2 dB at 50 Hz, 85.9 dB at 1 kHz
}
