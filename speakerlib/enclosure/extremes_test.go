package enclosure_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
)

// Values that are valid one by one and absurd together are refused in words: no
// crash, no search without end, and no answer of 0, NaN or infinity.
func TestExtremesAreRefused(t *testing.T) {
	p := driver.Params{Re: 5.5, Bl: 7.4, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.84, Sd: 0.0138}
	leaky := enclosure.Closed{Vb: 0.012, Losses: enclosure.Losses{QL: 7}, Reference: 60}
	mounted := func(change func(*driver.Params), box enclosure.Box) enclosure.Mounted {
		d := p
		change(&d)
		return enclosure.Mounted{Driver: d, Box: box, Air: air.Room()}
	}
	none := func(*driver.Params) {}
	vent := enclosure.Vent{Diameter: 0.05, Length: 0.1, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	for name, m := range map[string]enclosure.Mounted{
		"all leak":       mounted(none, enclosure.Closed{Vb: 0.012, Losses: enclosure.Losses{QL: 1e-320}, Reference: 60}),
		"endless search": mounted(func(d *driver.Params) { d.Cms = 1e255 }, leaky),
		"strong":         mounted(func(d *driver.Params) { d.Bl = 1e200 }, leaky),
		"wide":           mounted(func(d *driver.Params) { d.Sd = 1e200 }, leaky),
		"no air":         mounted(none, enclosure.Closed{Vb: 1e-320}),
		"point vent":     mounted(none, enclosure.Vented{Vb: 0.012, Vent: enclosure.Vent{Diameter: 1e-170, Length: 0.1, Count: 1}}),
	} {
		if _, err := m.Motion(); name != "endless search" && (err == nil || !strings.Contains(err.Error(), "units right?")) {
			t.Errorf("%s: motion: error %v", name, err)
		}
		if _, ok := m.Box.(enclosure.Vented); ok {
			continue
		}
		if hz, q, err := m.Resonance(); err == nil || !strings.Contains(err.Error(), "units right?") {
			t.Errorf("%s: resonance %g Hz, Q %g, error %v", name, hz, q, err)
		}
	}
	fast := enclosure.SmallSignal{Fs: math.MaxFloat64, Qt: 0.01, Vas: 0.02}
	if a, err := enclosure.Align(enclosure.QB3{}, fast, 7); err == nil {
		t.Errorf("vented: %+v", a)
	}
	for _, s := range []enclosure.SmallSignal{fast, {Fs: 40, Qt: 1e-200, Vas: 0.02}} {
		if a, err := enclosure.AlignClosed(0.7, s); err == nil {
			t.Errorf("closed: %+v", a)
		}
	}
	if a, err := enclosure.AlignClosed(1e160, enclosure.SmallSignal{Fs: 1e-10, Qt: 1e140, Vas: 0.02}); err == nil {
		t.Errorf("closed: %+v", a)
	}
	a, err := enclosure.AlignClosed(0.5, enclosure.SmallSignal{Fs: 40, Qt: 0.3, Vas: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	if hz, err := a.CutOff(1e-20); err == nil {
		t.Errorf("1e-20 dB down at %g Hz", hz)
	}
	vent.Diameter, vent.Inner, vent.Outer = 1e-160, 0, 0
	if acc, err := (enclosure.Book{Gross: 1e-320}).Tune(40, vent, air.Room()); err == nil && !(acc.Box.Vb > 0) {
		t.Errorf("book: %+v", acc)
	}
}
