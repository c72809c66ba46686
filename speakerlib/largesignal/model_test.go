package largesignal

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// TestTablesBecomePolynomials: a table of a polynomial of order 4 is found again, and
// other values at rest count as a ratio only.
func TestTablesBecomePolynomials(t *testing.T) {
	w, _ := woofer()
	x, y := make([]float64, 49), make([]float64, 49)
	of := func(x float64) float64 { return 8 * (1 + 5*x - 3e3*x*x + 2e6*x*x*x*x) }
	for k := range x {
		x[k] = (float64(k) - 24) / 3e3
		y[k] = of(x[k])
	}
	c, err := driver.NewTable(x, y)
	if err != nil {
		t.Fatal(err)
	}
	m := build(t, w, driver.LargeSignal{Bl: c}, Options{})
	f := m.Fits()[0]
	if f.Name != "Bl(x)" || f.Order != 6 || math.Abs(f.Rest-8/w.Driver.Bl) > 1e-4 || !(f.Misfit < 2e-4) || !(f.Misfit > 0) {
		t.Errorf("fit is %+v, want order 6, 8/%g at rest and a misfit of the table's own interpolation", f, w.Driver.Bl)
	}
	for _, at := range []float64{-7.5e-3, -1e-3, 3e-3, 8e-3} {
		if got, want := m.place(at).bl/w.Driver.Bl, of(at)/8; math.Abs(got-want) > 3e-4 {
			t.Errorf("Bl(%g) over that at rest is %.6f, want %.6f", at, got, want)
		}
	}
	// beyond the range Bl goes on falling along its slope, and never below 0
	end := m.place(8e-3).bl
	slope := (end - m.place(7.999e-3).bl) / 1e-6
	if got, want := m.place(9e-3).bl, end+slope*1e-3; math.Abs(got-want) > 1e-3*math.Abs(end) {
		t.Errorf("Bl(9 mm) is %.5g, want %.5g along the slope at 8 mm", got, want)
	}
	if got := m.place(0.5).bl; got < 0 || got > end {
		t.Errorf("Bl half a metre out is %g, want between 0 and that at the end", got)
	}
}

// TestInductanceOverCurrent: the fitted current over flux gives back Le(i) = flux over
// current, and the stored energy is ∫ i dλ (Simpson's rule).
func TestInductanceOverCurrent(t *testing.T) {
	c, _ := driver.NewPolynomial([]float64{0.4e-3, -5e-7, -4e-7}, -10, 10)
	s, f, err := newSaturation(c, 6)
	if err != nil {
		t.Fatal(err)
	}
	if !(f.Misfit < 1e-3) {
		t.Errorf("misfit of %.3g %%, want less than 0.1", 100*f.Misfit)
	}
	for _, i := range []float64{-9.5, -3, 0.5, 4, 9.9} {
		l, _ := c.At(i)
		j := s.flux(i)
		if got := j / i * 0.4e-3; math.Abs(got-l) > 1e-3*0.4e-3 {
			t.Errorf("Le(%g A) is %.6g H, want %.6g", i, got, l)
		}
		sum, n := 0.0, 200
		for k := range n + 1 {
			w := []float64{2, 4}[k%2]
			if k == 0 || k == n {
				w = 1
			}
			sum += w * s.current(j*float64(k)/float64(n)) * j / float64(3*n)
		}
		if got := s.energy(j); math.Abs(got-sum) > 1e-7*sum {
			t.Errorf("energy at %g A is %.9g, want %.9g", i, got, sum)
		}
		if d := (s.current(j+1e-5) - s.current(j-1e-5)) / 2e-5; math.Abs(s.slope(j)-d) > 1e-6 {
			t.Errorf("slope at %g A is %.8g, want %.8g", i, s.slope(j), d)
		}
	}
	if got, want := s.energy(1.5*s.to)-s.energy(s.to), s.c.at(s.to)*(1.25*s.to*s.to)/2; math.Abs(got-want) > 1e-12*want {
		t.Errorf("energy beyond the range grows by %g, want %g", got, want)
	}
}

// TestLadders compares two ladders with the semi-inductance that they stand for.
func TestLadders(t *testing.T) {
	const re = 5.5
	semi := driver.SemiInductance{K: 0.0207, N: 0.68}
	c, worst, err := Ladders(semi, re, 20, 2000)
	if err != nil {
		t.Fatal(err)
	}
	if !(worst < 0.05) {
		t.Errorf("two decades of a semi-inductance are off by %.3g, want 5 %%", worst)
	}
	g, _ := freq.LogGrid(20, 2000, 31)
	a, b, off := c.ImpedanceTo(nil, g), semi.ImpedanceTo(nil, g), 0.0
	for k := range a {
		off = max(off, cmplx.Abs(a[k]-b[k])/cmplx.Abs(b[k]+re))
	}
	if math.Abs(off-worst) > 0.1*worst {
		t.Errorf("says it is off by %.3g, is by %.3g", worst, off)
	}
	if _, _, err := Ladders(semi, re, 100, 150); err == nil {
		t.Error("takes half an octave, want an error")
	}
}

// TestNothingIsAllocated guards the loops of all methods.
func TestNothingIsAllocated(t *testing.T) {
	w, l := woofer()
	l.LeCurrent, _ = driver.NewPolynomial([]float64{0.42e-3, 0, -1e-6}, -10, 10)
	for _, o := range []Options{{Method: RK4}, {Method: ARK4}, {Amplifier: Amplifier{Volts: 10, Amperes: 1}}} {
		r := start(t, build(t, w, l, o), 48000)
		u := tone(1000, 48000, 60, 12)
		tr := NewTrace(len(u))
		if n := testing.AllocsPerRun(10, func() { r.Play(u, tr) }); n != 0 {
			t.Errorf("%+v: %g allocations a thousand steps, want none", o, n)
		}
	}
}

// TestMethodIsChosen by the coil: RK4 for a woofer's inductance, ARK4 where RK4 would be
// unstable, which is refused if it is asked for.
func TestMethodIsChosen(t *testing.T) {
	w, l := woofer()
	if r := start(t, build(t, w, l, Options{}), 48000); r.method != RK4 {
		t.Errorf("a woofer runs by %v, want RK4", r.method)
	}
	w.Driver.Coil = driver.Inductor{Le: 0.03e-3}
	if r := start(t, build(t, w, l, Options{}), 48000); r.method != ARK4 {
		t.Errorf("a coil of 183000 1/s runs by %v, want ARK4", r.method)
	}
	if _, err := build(t, w, l, Options{Method: RK4}).NewRun(48000); err == nil || !strings.Contains(err.Error(), "unstable") {
		t.Errorf("error is %v, want one that says unstable", err)
	}
}

func TestRefusals(t *testing.T) {
	w, l := woofer()
	for name, f := range map[string]func() (enclosure.Mounted, driver.LargeSignal, Options){
		"box": func() (enclosure.Mounted, driver.LargeSignal, Options) {
			w := w
			w.Box = enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.01}}
			return w, l, Options{}
		},
		"coil": func() (enclosure.Mounted, driver.LargeSignal, Options) {
			w := w
			w.Driver.Coil = driver.SemiInductance{K: 0.02, N: 0.6}
			return w, l, Options{}
		},
		"finite": func() (enclosure.Mounted, driver.LargeSignal, Options) {
			w := w
			w.Source = math.NaN()
			return w, l, Options{}
		},
		"amplifier": func() (enclosure.Mounted, driver.LargeSignal, Options) {
			return w, l, Options{Amplifier: Amplifier{Volts: -1}}
		},
		"order":  func() (enclosure.Mounted, driver.LargeSignal, Options) { return w, l, Options{Order: 9} },
		"method": func() (enclosure.Mounted, driver.LargeSignal, Options) { return w, l, Options{Method: 7} },
		"jet":    func() (enclosure.Mounted, driver.LargeSignal, Options) { return w, l, Options{Jet: math.Inf(1)} },
		"wire":   func() (enclosure.Mounted, driver.LargeSignal, Options) { return w, l, Options{Heat: &Heat{Wire: 3}} },
	} {
		if _, err := New(f()); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: error is %v, want one that names it", name, err)
		}
	}
	m := build(t, w, l, Options{})
	if _, err := m.NewRun(math.NaN()); err == nil {
		t.Error("takes a rate of NaN")
	}
	if _, err := m.Harmonics(Tone{Hz: 6000, RMS: 1}, nil); err == nil {
		t.Error("takes a tone whose fifth harmonic is above half the rate")
	}
	if _, err := m.Programme([]float64{1, math.NaN()}, 48000, 1); err == nil {
		t.Error("takes a programme of NaN")
	}
	if _, err := m.PeakOutput(40, PeakSetup{Volts: 1, Thresholds: Thresholds{3}}); err == nil {
		t.Error("takes a threshold above 0 dB")
	}
}
