package driver_test

import (
	"math"
	"os"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
)

// The demo's large-signal tables were made from closed curves (datasets/generate/large.go).
// Where those reach the limits is found here by stepping along them: Bl falls to 82 % inward
// at 6.2 mm, Kms grows to 4/3 inward at 6.5 mm. Readings are to 0.3 %, which is a tenth of a
// millimetre there.
func TestDemoLargeSignal(t *testing.T) {
	f, err := os.Open("../../datasets/standmount/large-signal/woofer.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	l, err := driver.ReadLargeSignal(f, "woofer.txt")
	if err != nil {
		t.Fatal(err)
	}
	list, err := l.DisplacementLimits(driver.Params{Re: 5.5, Bl: 7.476, Mms: 15.2e-3, Cms: 0.9676e-3, Rms: 0.843, Sd: 138e-4, Coil: driver.NoCoil{}}, air.Room())
	if err != nil {
		t.Fatal(err)
	}
	grown := func(u float64) float64 { return 1 + 0.0026*u*u + 5.5e-5*u*u*u*u }
	bl := 0.0
	for ; grown(bl+0.4) < grown(0.4)/0.82; bl += 1e-4 {
	}
	stiff := 0.0
	for ; 1+0.0075*stiff+0.0046*stiff*stiff+5e-5*stiff*stiff*stiff*stiff < 4.0/3; stiff += 1e-4 {
	}
	for i, want := range []float64{bl * 1e-3, stiff * 1e-3} {
		if d := list[i]; !d.Reached || d.Outward || math.Abs(d.X-want) > 0.15e-3 {
			t.Errorf("%v, want ±%.3g m, inward", d, want)
		}
	}
	if d := list[2]; d.Reached {
		t.Errorf("%v, want beyond what was measured", d)
	}
	if x := driver.LinearLimit(list).X; x < 6e-3 || x > 6.5e-3 {
		t.Errorf("linear to ±%g m, the sheet says 6 mm", x)
	}
	if c, err := l.Bl.Centre(4e-3); err != nil || math.Abs(c-0.4e-3) > 0.15e-3 {
		t.Errorf("the force factor is even around %g m (%v), want 0.4e-3", c, err)
	}
}
