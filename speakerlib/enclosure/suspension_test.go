package enclosure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

func creeping(lambda float64) driver.Params {
	d := woofer
	d.Suspension = driver.LogCreep{Lambda: lambda, F0: d.Fs()}
	return d
}

// Without coil, source and losses of the box a closed box with a creeping driver
// resonates where the reactances of mass, suspension and air cancel, found here by
// halving; that is the resonance which the library tells, and there the motional
// impedance is real.
func TestResonanceWithCreep(t *testing.T) {
	const lambda = 0.12
	m := enclosure.Mounted{Driver: creeping(lambda), Air: table, Box: enclosure.Closed{Vb: 0.01}}
	m.Driver.Coil = nil
	d := m.Driver
	cab := 0.01 / (table.Density * table.SpeedOfSound * table.SpeedOfSound)
	zm := func(hz float64) complex128 {
		s := complex(0, 2*math.Pi*hz)
		c := complex(d.Cms, 0) * (1 - lambda*cmplx.Log10(complex(0, hz/d.Fs())))
		return complex(d.Rms, 0) + s*complex(d.Mms, 0) + 1/(s*c) + complex(d.Sd*d.Sd, 0)/(s*complex(cab, 0))
	}
	lo, hi := d.Fs(), 10*d.Fs()
	for range 200 {
		if mid := (lo + hi) / 2; imag(zm(mid)) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	hz, q, err := m.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "resonance", hz, lo, 1e-12)
	// Q of the sum of resistances there, with the motor's Bl²/Re.
	r := real(zm(lo)) + d.Bl*d.Bl/d.Re
	near(t, "Q", q, 2*math.Pi*lo*d.Mms/r, 1e-12)
	if z := motion(t, m).Impedance.ResponseTo(nil, grid(t, lo))[0]; math.Abs(imag(z)) > 1e-9*real(z) {
		t.Errorf("impedance at the resonance is %v, want it real", z)
	}
}

// Below resonance the cone is led by the compliance alone: a decade lower it goes
// further by λ (and by what the smaller loss gives).
func TestCreepMovesTheConeFurther(t *testing.T) {
	const lambda = 0.12
	x := func(d driver.Params, hz float64) complex128 {
		return motion(t, enclosure.Mounted{Driver: d, Air: table, Box: enclosure.InfiniteBaffle{}}).Cone.ResponseTo(nil, grid(t, hz))[0]
	}
	f0 := woofer.Fs()
	for _, decades := range []float64{3, 4, 5} {
		hz := f0 / math.Pow(10, decades)
		got := x(creeping(lambda), hz) / x(woofer, hz)
		want := complex(1+lambda*decades, -lambda*math.Pi/2/math.Ln10)
		if cmplx.Abs(got/want-1) > 20*math.Pow(10, -decades) {
			t.Errorf("%g decades below Fs the cone moves %v times as far, want %v", decades, got, want)
		}
	}
}

// With a creep of nothing the point-by-point path is the polynomials.
func TestNoCreepIsThePolynomials(t *testing.T) {
	g, err := freq.LogGrid(5, 20e3, 6)
	if err != nil {
		t.Fatal(err)
	}
	box := enclosure.Vented{Vb: 0.014, Losses: enclosure.Losses{QL: 7},
		Vent: enclosure.Vent{Diameter: 0.05, Length: 0.12, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}}
	want := motion(t, enclosure.Mounted{Driver: woofer, Air: table, Box: box, Source: 0.3})
	got := motion(t, enclosure.Mounted{Driver: creeping(0), Air: table, Box: box, Source: 0.3})
	for name, c := range map[string][2]freq.Transfer{
		"impedance": {got.Impedance, want.Impedance}, "current": {got.Current, want.Current}, "cone": {got.Cone, want.Cone},
		"cone flow": {got.ConeFlow, want.ConeFlow}, "vent flow": {got.VentFlow, want.VentFlow}, "vent air": {got.VentAir, want.VentAir},
		"pressure": {got.Pressure, want.Pressure},
	} {
		a, b := c[0].ResponseTo(nil, g), c[1].ResponseTo(nil, g)
		for i := range a {
			if cmplx.Abs(a[i]-b[i]) > 1e-10*cmplx.Abs(b[i]) {
				t.Errorf("%s at %g Hz is %v, want %v", name, g.At(i), a[i], b[i])
				break
			}
		}
	}
}

// An alignment is for the driver that shows at Fs.
func TestSmallSignalWithCreep(t *testing.T) {
	d := creeping(0.12)
	at, err := d.At(d.Fs())
	if err != nil {
		t.Fatal(err)
	}
	got, err := enclosure.Mounted{Driver: d, Air: table, Source: 0.3}.SmallSignal()
	if err != nil {
		t.Fatal(err)
	}
	qes := at.Qes() * (at.Re + 0.3) / at.Re
	near(t, "Fs", got.Fs, at.Fs(), 1e-15)
	near(t, "Qt", got.Qt, 1/(1/at.Qms()+1/qes), 1e-14)
	near(t, "Vas", got.Vas, at.Vas(table), 1e-15)
}

type limp struct{}

func (limp) Relative(float64) complex128 { return -1 }

// A suspension without a compliance at resonance has no small-signal numbers.
func TestSuspensionWithoutResonance(t *testing.T) {
	m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Closed{Vb: 0.01}}
	m.Driver.Suspension = limp{}
	if _, _, err := m.Resonance(); err == nil || !strings.Contains(err.Error(), "real part > 0") {
		t.Errorf("resonance: %v", err)
	}
	if _, err := m.SmallSignal(); err == nil || !strings.Contains(err.Error(), "real part > 0") {
		t.Errorf("small signal: %v", err)
	}
	m.Driver.Suspension = driver.LogCreep{Lambda: 2, F0: 40}
	for _, err := range []error{func() error { _, err := m.Motion(); return err }(), func() error { _, _, err := m.Resonance(); return err }(), func() error { _, err := m.SmallSignal(); return err }()} {
		if err == nil || !strings.Contains(err.Error(), "creep of the suspension is 2") {
			t.Errorf("error %v, want that of the creep", err)
		}
	}
}
