package identify_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
)

// boxed is the impedance of a driver in a box by package enclosure, whose circuit
// was checked against ngspice.
func boxed(tb testing.TB, p driver.Params, b enclosure.Box, g *freq.Grid, r *rand.Rand, noise float64) freq.Response {
	tb.Helper()
	m, err := enclosure.Mounted{Driver: p, Box: b, Air: air.Room()}.Motion()
	if err != nil {
		tb.Fatal(err)
	}
	z := m.Impedance.ResponseTo(nil, g)
	k := 0
	return curve(tb, g, r, noise, func(float64) complex128 { k++; return z[k-1] })
}

func lumped(creep float64) driver.Params {
	p := driver.Params{Re: 5.5, Bl: 7.5, Mms: 15.2e-3, Cms: 0.97e-3, Rms: 0.85, Sd: 138e-4, Coil: driver.Ladder{Le: 0.2e-3, L2: 0.4e-3, R2: 6}}
	if creep > 0 {
		p.Suspension = driver.LogCreep{Lambda: creep, F0: 41}
	}
	return p
}

func free(tb testing.TB, p driver.Params, g *freq.Grid, r *rand.Rand, noise float64) identify.Measurement {
	z := p.ImpedanceTo(nil, g)
	k := 0
	return identify.Measurement{Impedance: curve(tb, g, r, noise, func(float64) complex128 { k++; return z[k-1] }), Setup: identify.FreeAir{}}
}

func near(t *testing.T, r *identify.Result, s identify.Symbol, want, tolerance float64) {
	t.Helper()
	if p := value(t, r, s); !(math.Abs(p.Value/want-1) <= tolerance) {
		t.Errorf("%v, want %.5g within %g %%", p, want, 100*tolerance)
	}
}

func TestKnownBoxes(t *testing.T) {
	m := air.Room()
	vent := enclosure.Vent{Diameter: 0.054, Length: 0.15, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	vented := enclosure.Vented{Vb: 15e-3, Vent: vent, Losses: enclosure.Losses{QL: 9}}
	for _, creep := range []float64{0, 0.08} {
		p := lumped(creep)
		at, err := p.At(41)
		if err != nil {
			t.Fatal(err)
		}
		for name, c := range map[string]struct {
			box   enclosure.Box
			setup identify.Setup
		}{
			"closed": {enclosure.Closed{Vb: 12e-3}, identify.ClosedBox{Volume: 12e-3, Accuracy: 0.005}},
			"vented": {vented, identify.VentedBox{Volume: 15e-3, Accuracy: 0.005}},
		} {
			g := grid(t)
			r := rand.New(rand.NewPCG(9, 9))
			f, err := identify.Fit([]identify.Measurement{free(t, p, g, r, 0.003), {Impedance: boxed(t, p, c.box, g, r, 0.003), Setup: c.setup}},
				&identify.Settings{Sd: p.Sd, SdAccuracy: 0.01, Air: m})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			t.Logf("%s, creep %g: %v", name, creep, f.Parameters)
			// The driver's impedance near its resonance is that of p.At there.
			fs := value(t, f, identify.Fs).Value
			if at, err = p.At(fs); err != nil {
				t.Fatal(err)
			}
			near(t, f, identify.Re, p.Re, 0.002)
			near(t, f, identify.Mms, p.Mms, 0.01)
			near(t, f, identify.Bl, p.Bl, 0.01)
			near(t, f, identify.Cms, at.Cms, 0.01)
			near(t, f, identify.Rms, at.Rms, 0.02)
			near(t, f, identify.Vas, at.Vas(m), 0.01)
			// 1 % of Sd is 2 % of Mms: it must be in the errors.
			if e := value(t, f, identify.Mms); e.Error < 0.019*e.Value || e.Error > 0.03*e.Value {
				t.Errorf("%s: %v, want an error of about 2.1 %%", name, e)
			}
			if name == "vented" {
				near(t, f, identify.Fb, vented.Fb(m), 0.002)
				near(t, f, identify.QL, 9, 0.05)
			}
			for _, w := range f.Warnings {
				if w.Kind != identify.Undetermined {
					t.Errorf("%s, creep %g: warns of a clean measurement: %s", name, creep, w.Text)
				}
			}
		}
	}
}

// The driver that a result gives has, in package driver, the impedance that was
// fitted.
func TestDriverIsWhatWasFitted(t *testing.T) {
	for _, creep := range []float64{0, 0.07} {
		d := woofer()
		d.creep = creep
		g := grid(t)
		f, err := identify.Fit(massPair(t, g, rand.New(rand.NewPCG(4, 4)), d, 0.003, 6e-3, 0, 0), &identify.Settings{Sd: d.sd})
		if err != nil {
			t.Fatal(err)
		}
		p, err := f.Driver()
		if err != nil {
			t.Fatal(err)
		}
		z := p.ImpedanceTo(nil, g)
		for i, v := range z {
			if want := f.Fitted[0].At(i); cmplx.Abs(v-want) > 1e-9*cmplx.Abs(want) {
				t.Fatalf("creep %g: impedance at %g Hz is %g, want %g", creep, g.At(i), v, want)
			}
		}
	}
}
