package largesignal

import (
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
)

// woofer is the invented vented woofer of the runs in testdata.
func woofer() (enclosure.Mounted, driver.LargeSignal) {
	return enclosure.Mounted{
		Driver: driver.Params{Re: 5.5, Bl: 7.5, Mms: 15.2e-3, Cms: 0.97e-3, Rms: 0.85, Sd: 138e-4, Coil: driver.Inductor{Le: 0.42e-3}},
		Box: enclosure.Vented{Vb: 15e-3, Vent: enclosure.Vent{Diameter: 52e-3, Length: 180e-3, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1},
			Losses: enclosure.Losses{QL: 12, QP: 60}},
		Air: air.Medium{Density: 1.2, SpeedOfSound: 344},
	}, curves()
}

// curves are polynomials of order 6 over ±12 mm.
func curves() driver.LargeSignal {
	mm := func(c ...float64) *driver.Characteristic {
		scale := 1.0
		for k := range c {
			c[k] *= scale
			scale *= 1000
		}
		p, err := driver.NewPolynomial(c, -12e-3, 12e-3)
		if err != nil {
			panic(err)
		}
		return p
	}
	return driver.LargeSignal{
		Bl:  mm(7.5, 0.02, -0.025, -2e-4, -2.0e-4, 1e-7, 1.2e-6),
		Kms: mm(1030.9278350515463, -8, 7, 0.05, 0.05, 1e-4, 1e-4),
		Le:  mm(0.42e-3, -2e-5, -3e-7, 9e-8, 2e-9, -2e-10, 1e-11),
	}
}

func build(t testing.TB, m enclosure.Mounted, l driver.LargeSignal, o Options) *Model {
	t.Helper()
	s, err := New(m, l, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func start(t testing.TB, m *Model, rate float64) *Run {
	t.Helper()
	r, err := m.NewRun(rate)
	if err != nil {
		t.Fatal(err)
	}
	return r
}
