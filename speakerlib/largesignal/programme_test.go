package largesignal

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/limits"
)

// resistor is a driver that hardly moves and has no inductance: what its source sees is Re.
func resistor(re float64) enclosure.Mounted {
	w, _ := woofer()
	w.Driver.Re, w.Driver.Bl, w.Driver.Coil, w.Box = re, 1e-6, driver.NoCoil{}, nil
	return w
}

// TestCoilHeatsItself compares with the rises that solve ΔT = Rth·V²/(Re·(1+α·ΔT))
// (copper; the table is that of package limits, thermal.py).
func TestCoilHeatsItself(t *testing.T) {
	for _, row := range testtable.Read(t, "../limits/testdata/thermal_selfconsistent.csv")[:3] {
		re, volts, rth, rise := row.Number(t, "Re"), row.Number(t, "Vrms"), row.Number(t, "Rth"), row.Number(t, "rise")
		m := build(t, resistor(re), driver.LargeSignal{}, Options{Heat: &Heat{Network: limits.Thermal{{Resistance: rth, Capacity: 0.05}}}})
		r := start(t, m, 24000)
		r.Play(tone(4*24000, 24000, 2400, math.Sqrt2*volts), nil)
		if got := r.Account().CoilNow; !(math.Abs(got-rise) < 1e-3*rise) {
			t.Errorf("%g Ω, %g V, %g K/W: %.5g K, want %.5g", re, volts, rth, got, rise)
		}
		if a := r.Account(); math.Abs(a.Coil-a.CoilNow) > 0.01*rise {
			t.Errorf("hottest %g K, now %g K, want the same of a coil that warmed up", a.Coil, a.CoilNow)
		}
	}
}

// TestTwoStages compares a step of 20 W into coil and magnet with SciPy's exponential
// (thermal.py of package limits); a wire of (nearly) no coefficient keeps the power.
func TestTwoStages(t *testing.T) {
	const re, watts, rate = 5.0, 20.0, 12000
	n := limits.Thermal{{Resistance: 3, Capacity: 6}, {Resistance: 1.2, Capacity: 900}}
	r := start(t, build(t, resistor(re), driver.LargeSignal{}, Options{Heat: &Heat{Network: n, Wire: 1e-9}}), rate)
	u := make([]float64, rate)
	for k := range u {
		u[k] = math.Sqrt(watts * re)
	}
	seconds := 0.0
	for _, row := range testtable.Read(t, "../limits/testdata/thermal_step.csv")[:3] {
		at, want := row.Number(t, "t"), row.Number(t, "coil")
		for ; seconds < at; seconds++ {
			r.Play(u, nil)
		}
		// the network is advanced every 256 samples: up to 21 ms behind
		behind := 20 * 256 / 6. / rate
		if got := r.Account().CoilNow; !(math.Abs(got-want) < behind) {
			t.Errorf("%g s: %.5g K, want %.5g within %.2g", at, got, want, behind)
		}
	}
}

// TestShares: a sine of twice a limit is beyond it for 2/3 of the time.
func TestShares(t *testing.T) {
	const rate, want = 48000, 2. / 3
	u := tone(rate, rate, 50, 10)
	for name, amp := range map[string]Amplifier{"volts": {Volts: 5}, "amperes": {Amperes: 1}} {
		r := start(t, build(t, resistor(5), driver.LargeSignal{}, Options{Amplifier: amp}), rate)
		tr := NewTrace(len(u))
		r.Play(u, tr)
		a := r.Account()
		if a.Current > 1+1e-9 {
			t.Errorf("%s: up to %.9g A, want 1", name, a.Current)
		}
		got := a.Clipped
		if name == "amperes" {
			got = a.Limited
		}
		if !(math.Abs(got/a.Seconds-want) < 0.003) {
			t.Errorf("%s: %.4f of the time at the limit, want %.4f", name, got/a.Seconds, want)
		}
		// what is left has an rms of its peak·√(2/3 + (1/3 − √3/(2π))·2) (closed form)
		sum := 0.0
		for k, i := range tr.Current {
			sum += i * i
			if v := tr.Amplifier[k]; math.Abs(v-5*i) > 1e-6 {
				t.Fatalf("%s: sample %d: %g V drive %g A through 5 Ω", name, k, v, i)
			}
		}
		rms := math.Sqrt(want + 4*(1./6-math.Sqrt(3)/(4*math.Pi)))
		if got := math.Sqrt(sum / float64(len(u))); !(math.Abs(got-rms) < 0.002) {
			t.Errorf("%s: %.5f A rms, want %.5f", name, got, rms)
		}
	}
}

// TestHeldCurrentGoesOn: with an inductance the current comes back from the limit without a
// jump, and is never beyond it.
func TestHeldCurrentGoesOn(t *testing.T) {
	const rate = 48000
	m := resistor(5)
	m.Driver.Coil = driver.Inductor{Le: 0.5e-3}
	r := start(t, build(t, m, driver.LargeSignal{}, Options{Amplifier: Amplifier{Amperes: 1}}), rate)
	u := tone(rate/5, rate, 50, 10)
	tr := NewTrace(len(u))
	r.Play(u, tr)
	if a := r.Account(); r.method != RK4 || a.Current > 1+1e-9 || !(a.Limited > 0.1) {
		t.Errorf("by %v: up to %.9g A, held for %.3g s, want RK4, 1 A and 2/3 of 0.2 s", r.method, a.Current, a.Limited)
	}
	// the voltage changes by 10·2π·50/48000 V a sample, the current by a fifth of that at most
	for k := 1; k < len(u); k++ {
		if d := math.Abs(tr.Current[k] - tr.Current[k-1]); d > 2*2*math.Pi*50/rate*1.01 {
			t.Fatalf("sample %d: the current jumps by %.3g A", k, d)
		}
	}
}

// TestBeyondTheMeasuredRange: a cone of constant parameters that are measured over ±x
// swings by 2x: 2/3 of the time outside.
func TestBeyondTheMeasuredRange(t *testing.T) {
	w, _ := woofer()
	w.Box = nil
	flat, _ := driver.NewPolynomial([]float64{w.Driver.Bl}, -1e-3, 1e-3)
	m := build(t, w, driver.LargeSignal{Bl: flat}, Options{})
	h, err := m.Harmonics(Tone{Hz: 20, RMS: 1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	scale := 2e-3 / h.Account.Excursion()
	if h, err = m.Harmonics(Tone{Hz: 20, RMS: scale}, nil); err != nil {
		t.Fatal(err)
	}
	if got := h.Account.Beyond / h.Account.Seconds; !(math.Abs(got-2./3) < 0.003) {
		t.Errorf("%.4f of the time beyond the range, want 2/3", got)
	}
	if d := h.Sound.THD(); !(d < 1e-6) {
		t.Errorf("THD of constant parameters is %.2g, want none", d)
	}
}

// TestProgramme: levels, loss and share of a programme that is a sine on a resistor, and
// of the woofer.
func TestProgramme(t *testing.T) {
	w, l := woofer()
	const rate = 48000
	u := tone(rate, rate, 40, 20)
	p, err := build(t, w, l, Options{Amplifier: Amplifier{Volts: 15}}).Programme(u, rate, 2)
	if err != nil {
		t.Fatal(err)
	}
	if want := 1 - 2*math.Asin(0.75)/math.Pi; math.Abs(p.Clipped-want) > 0.003 {
		t.Errorf("clipped for %.4f of the time, want %.4f", p.Clipped, want)
	}
	if !(p.Lost < 0.8) || !(p.Lost > 0.4) || p.Account.Seconds < 1.99 || p.Beyond != 0 {
		t.Errorf("%+v, want a loss from clipping and compression over 2 s", p)
	}
	sum := 0.0
	for _, b := range p.Levels {
		sum += b.Share
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("levels hold %g of the time, want all", sum)
	}
	quiet, err := build(t, w, l, Options{}).Programme(tone(rate, rate, 40, 1e-4), rate, 1)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(quiet.Lost-1) > 1e-4 {
		t.Errorf("a whisper loses %.6f of itself, want nothing", 1-quiet.Lost)
	}
}
