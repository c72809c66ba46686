package largesignal

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// TestBurstExcursion compares the furthest place of a linear driver, 50 Hz, Qt 0.7071, 1 mm
// per volt at direct current, with SciPy's lsim at 480 kHz (the table and its script are
// those of package limits, burst.py).
func TestBurstExcursion(t *testing.T) {
	const mms, re, ws = 5e-3, 5.0, 2 * math.Pi * 50
	w, _ := woofer()
	w.Box = nil
	k := mms * ws * ws
	bl := 1e-3 * re * k
	w.Driver = driver.Params{Re: re, Bl: bl, Mms: mms, Cms: 1 / k, Rms: math.Sqrt2*ws*mms - bl*bl/re, Sd: 0.01}
	m := build(t, w, driver.LargeSignal{}, Options{})
	// far above resonance p = ρ/2π·Sd·Bl·u/(Re·Mms), at the middle of the burst
	high, err := m.Burst(1000, 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := w.Air.Density / (2 * math.Pi) * 0.01 * bl * 2 / (re * mms) / math.Sqrt2; !(math.Abs(high.Pa-want) < 0.01*want) {
		t.Errorf("1 kHz: %.5g Pa, want %.5g", high.Pa, want)
	}
	for _, row := range testtable.Read(t, "../limits/testdata/burst.csv") {
		hz, want := row.Number(t, "hz"), row.Number(t, "peak_m")
		b, err := m.Burst(hz, 2, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got := b.Account.Excursion() / 2; !(math.Abs(got-want) < 1e-5*want) {
			t.Errorf("%g Hz: %.8g m/V, want %.8g", hz, got, want)
		}
		for n, h := range b.Harmonic {
			if !(h < CTA2010().at(n+2)-3) {
				t.Errorf("%g Hz: harmonic %d of a linear driver at %.1f dB, want it below the threshold by 3 dB", hz, n+2, h)
			}
		}
	}
}

// TestPeakOutputStops: a linear model ends at the highest voltage or at the excursion, which
// grow with the voltage as they should; the woofer ends where a harmonic first passes its
// threshold.
func TestPeakOutputStops(t *testing.T) {
	w, l := woofer()
	setup := PeakSetup{Volts: 40}
	m := build(t, w, l, Options{})
	linear := build(t, w, driver.LargeSignal{}, Options{Jet: -1})
	p, err := linear.PeakOutput(40, setup)
	if err != nil {
		t.Fatal(err)
	}
	if p.Stop != ByVolts || p.Volts != 40 {
		t.Errorf("a linear model stops at %g V by %v, want at all of 40 V", p.Volts, p.Stop)
	}
	half, err := linear.Burst(40, 20, nil)
	if err != nil {
		t.Fatal(err)
	}
	if d := p.Level() - half.Level(); !(math.Abs(d-level.DB(2)) < 1e-6) {
		t.Errorf("twice the voltage is %.6f dB more, want 6.0206", d)
	}
	setup.Excursion = 4e-3
	if p, err = linear.PeakOutput(40, setup); err != nil {
		t.Fatal(err)
	}
	if e := p.Account.Excursion(); p.Stop != ByExcursion || !(e <= 4e-3 && e > 4e-3*0.994) {
		t.Errorf("stops by %v at %.5g m, want by excursion within 0.05 dB below 4 mm", p.Stop, e)
	}
	setup.Excursion = 0
	if p, err = m.PeakOutput(25, setup); err != nil {
		t.Fatal(err)
	}
	if p.Stop != ByDistortion {
		t.Fatalf("the woofer stops by %v at 25 Hz, want by distortion", p.Stop)
	}
	above, err := m.Burst(25, p.Volts*level.Ratio(0.06), nil)
	if err != nil {
		t.Fatal(err)
	}
	if p.clean(CTA2010()) != 0 || above.clean(CTA2010()) != p.Order {
		t.Errorf("order %d at %.4g V and %d a little above, want none and %d", p.clean(CTA2010()), p.Volts, above.clean(CTA2010()), p.Order)
	}
}
