package identify_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/identify"
)

// The mass that a baffle adds, 4 % here, is found by the box and put on the driver
// that free air and a known mass told.
func TestDriverWithTheLoadOfItsBox(t *testing.T) {
	p, g := lumped(0), grid(t)
	light, heavy := p, p
	light.Mms += 6e-3
	heavy.Mms *= 1.04
	in := boxed(t, heavy, enclosure.Vented{Vb: 15e-3, Vent: enclosure.Vent{Diameter: 0.054, Length: 0.15, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}, Losses: enclosure.Losses{QL: 9}}, g, nil, 0)
	fit := func(m identify.Measurement) *identify.Result {
		r, err := identify.Fit([]identify.Measurement{free(t, p, g, nil, 0), m}, &identify.Settings{Sd: p.Sd, Air: air.Room(), Coils: []driver.TunableCoil{driver.Ladder{}}})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	weighed := free(t, light, g, nil, 0)
	weighed.Setup = identify.AddedMass{Mass: 6e-3}
	byMass := fit(weighed)
	byBox := fit(identify.Measurement{Impedance: in, Setup: identify.VentedBox{Volume: 15e-3}})
	d, err := byMass.Driver()
	if err != nil {
		t.Fatal(err)
	}
	got, err := byBox.WithLoad(d)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Mms/heavy.Mms-1) > 1e-4 || got.Cms != d.Cms {
		t.Errorf("Mms in the box is %g kg, want %g; Cms is %g m/N, want %g as it was", got.Mms, heavy.Mms, got.Cms, d.Cms)
	}
	if v, err := byBox.Felt(d, air.Room()); err != nil || math.Abs(v/15e-3-1) > 1e-4 {
		t.Errorf("the volume felt is %g m³ (%v), want 0.015", v, err)
	}
	// Twice the area feels four times the volume: the ratio is what was measured.
	wide := d
	wide.Sd *= 2
	if v, err := byBox.Felt(wide, air.Room()); err != nil || math.Abs(v/60e-3-1) > 1e-4 {
		t.Errorf("the volume felt by twice the area is %g m³ (%v), want 0.060", v, err)
	}
	if _, err := byMass.WithLoad(d); err == nil {
		t.Error("a load was found without a box")
	}
	if _, err := byMass.Felt(d, air.Room()); err == nil {
		t.Error("a volume was found without a box")
	}
}
