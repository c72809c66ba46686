package measure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/measure"
	"example.org/loudspeaker/speakerlib/signal"
)

// resonator is a two-pole low-pass filter of 48 kHz, y[n] = b·x[n] + 2ρcosθ·y[n−1] −
// ρ²·y[n−2], whose response is known in closed form.
type resonator struct{ rho, theta float64 }

func (f resonator) run(x []float64) []float64 {
	a1, a2 := 2*f.rho*math.Cos(f.theta), -f.rho*f.rho
	y := make([]float64, len(x))
	var u, v float64
	for i, s := range x {
		u, v = (1-a1-a2)*s+a1*u+a2*v, u
		y[i] = u
	}
	return y
}

func (f resonator) at(hz float64) complex128 {
	z := cmplx.Rect(1, -2*math.Pi*hz/48000)
	a1, a2 := complex(2*f.rho*math.Cos(f.theta), 0), complex(-f.rho*f.rho, 0)
	return (1 - a1 - a2) / (1 - a1*z - a2*z*z)
}

func sweep(t testing.TB, change func(*signal.SweepSetup)) *signal.Sweep {
	t.Helper()
	setup := signal.SweepSetup{SampleRate: 48000, From: 20, To: 10000, Duration: 6, Amplitude: 0.8, FadeIn: 0.5, FadeOut: 0.005}
	change(&setup)
	s, err := signal.NewSweep(setup)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// through returns the sweep after n samples of delay and a second of silence.
func through(s *signal.Sweep, delay int) []float64 {
	x := append(make([]float64, delay), s.Samples()...)
	return append(x, make([]float64, 48000)...)
}

func bend(x []float64, a2, a3 float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = v + a2*v*v + a3*v*v*v
	}
	return y
}

// near reports the largest relative error of an order within its band, against its
// closed form at an output frequency. 100 samples of delay are in it.
func near(t *testing.T, o measure.Order, want func(hz float64) complex128) float64 {
	t.Helper()
	g, err := freq.LogGrid(o.From, o.To, 24)
	if err != nil {
		t.Fatal(err)
	}
	r, err := o.Impulse.Response(g)
	if err != nil {
		t.Fatal(err)
	}
	var worst float64
	for i, w := range g.Omega() {
		e := cmplx.Abs(r.At(i)/(want(g.At(i))*cmplx.Rect(1, -w*100/48000)) - 1)
		worst = max(worst, e)
	}
	return worst
}

func deconvolve(t *testing.T, r measure.SweepRecording) *measure.Deconvolution {
	t.Helper()
	d, err := measure.Deconvolve(r)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// A polynomial and then a filter G: for x = A sin φ, the powers are
//
//	x² = A²/2 + A²/2·sin(2φ − π/2),   x³ = ¾A³ sin φ + ¼A³ sin(3φ + π)
//
// so that H₁ = (a₁ + ¾a₃A²)·G, H₂ = −j·½a₂A·G and H₃ = −¼a₃A²·G at the output
// frequency, and the orders above are empty.
func TestOrdersOfAPolynomialBeforeAFilter(t *testing.T) {
	const a, a2, a3 = 0.8, 0.1, 0.05
	s, f := sweep(t, func(*signal.SweepSetup) {}), resonator{0.9, 0.1}
	d := deconvolve(t, measure.SweepRecording{Samples: f.run(bend(through(s, 100), a2, a3)), Sweep: s, Orders: 5, Label: "woofer", TimeZero: "rig"})
	if !d.Phases || len(d.Orders) != 5 {
		t.Fatalf("phases %v, %d orders", d.Phases, len(d.Orders))
	}
	for m, c := range []complex128{1 + 0.75*a3*a*a, complex(0, -a2*a/2), -a3 * a * a / 4} {
		o := d.Orders[m]
		worst := near(t, o, func(hz float64) complex128 { return c * f.at(hz) })
		if worst > 2e-3 {
			t.Errorf("order %d is off by up to %.2g of itself within %.4g … %.4g Hz", o.Order, worst, o.From, o.To)
		}
		if o.From > float64(m+1)*45 || o.To < 9300 {
			t.Errorf("order %d is known from %g to %g Hz, want about 40·m … 9600", o.Order, o.From, o.To)
		}
	}
	for _, o := range d.Orders[3:] {
		if worst := near(t, o, func(hz float64) complex128 { return f.at(hz) }); worst < 1-1e-6 || worst > 1+1e-6 {
			t.Errorf("order %d is %g of the linear response, want nothing", o.Order, worst-1)
		}
	}
	if one, two := d.Orders[0].Impulse, d.Orders[1].Impulse; one.Timing().TimeZero != "rig" || two.Label() != "woofer, order 2" {
		t.Errorf("time zero %q, label %q", one.Timing().TimeZero, two.Label())
	}
	// A gate cannot make order 3 known where the sweep did not go, below 3·40 Hz.
	three := d.Orders[2]
	gated, err := three.Impulse.Gated(measure.Gate{From: -0.05, To: 0.1})
	if err != nil || gated.ValidFrom() != three.From {
		t.Errorf("gated order 3 is valid from %g Hz (%v), want %g", gated.ValidFrom(), err, three.From)
	}
	// |H₂(2f)|/|H₁(f)|
	g, err := freq.LogGrid(60, 4000, 6)
	if err != nil {
		t.Fatal(err)
	}
	c, err := d.Distortion(2, g)
	if err != nil {
		t.Fatal(err)
	}
	for i := range g.Len() {
		want := a2 * a / 2 / (1 + 0.75*a3*a*a) * cmplx.Abs(f.at(2*g.At(i))/f.at(g.At(i)))
		if math.Abs(c.At(i)/want-1) > 1e-4 {
			t.Errorf("second harmonic at %g Hz is %g, want %g", g.At(i), c.At(i), want)
		}
	}
	wide, err := freq.LogGrid(20, 4000, 6)
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range []func() error{
		func() error { _, err := d.Distortion(2, wide); return err },
		func() error { _, err := d.Distortion(1, g); return err },
		func() error { _, err := d.Distortion(6, g); return err },
		func() error { _, err := d.Distortion(2, nil); return err },
	} {
		if bad() == nil {
			t.Error("distortion where it is not known was given")
		}
	}
}

// A filter and then a polynomial: the sine that reaches it at f has the amplitude
// A·|G(f)| and the phase of G, so that at the output frequency H₂(f) = −j·½a₂A·G(f/2)²
// and H₃(f) = −¼a₃A²·G(f/3)³. That holds as far as the sweep is slow: 2 parts in 1000
// here, where the phases of the two kinds of system are radians apart.
func TestOrdersOfAPolynomialAfterAFilter(t *testing.T) {
	const a, a2, a3 = 0.8, 0.1, 0.05
	s, f := sweep(t, func(*signal.SweepSetup) {}), resonator{0.8, 0.15}
	d := deconvolve(t, measure.SweepRecording{Samples: bend(f.run(through(s, 100)), a2, a3), Sweep: s, Orders: 3})
	for m := 2; m <= 3; m++ {
		worst := near(t, d.Orders[m-1], func(hz float64) complex128 {
			g := f.at(hz / float64(m))
			if m == 2 {
				return complex(0, -a2*a/2) * g * g
			}
			return -a3 * a * a / 4 * g * g * g
		})
		if worst > 2e-3 {
			t.Errorf("order %d is off by up to %.2g of itself", m, worst)
		}
	}
}

// Without synchronisation the linear response and all magnitudes are the same, and
// order m is turned by −2π·From·L·(m−1): the difference of m times the sweep's
// phase and the phase of its image L·ln m later.
func TestUnsynchronisedSweepTurnsThePhases(t *testing.T) {
	const a, a2, a3 = 0.8, 0.1, 0.05
	s := sweep(t, func(s *signal.SweepSetup) { s.Exact, s.Duration = true, 6.1 })
	d := deconvolve(t, measure.SweepRecording{Samples: bend(through(s, 100), a2, a3), Sweep: s, Orders: 3})
	if d.Phases {
		t.Error("phases are said to mean something")
	}
	turn := -2 * math.Pi * 20 * s.L()
	if math.Abs(math.Remainder(turn, math.Pi)) < 0.3 {
		t.Fatalf("a turn of %g rad would show little", turn)
	}
	for m, c := range []complex128{1 + 0.75*a3*a*a, complex(0, -a2*a/2), -a3 * a * a / 4} {
		worst := near(t, d.Orders[m], func(float64) complex128 { return c * cmplx.Rect(1, float64(m)*turn) })
		if worst > 2e-3 {
			t.Errorf("order %d is off by up to %.2g", m+1, worst)
		}
	}
}

// What amplifier and converters do is in the reference too, and goes out; its level
// may be another.
func TestRecordedReference(t *testing.T) {
	s, chain, f := sweep(t, func(*signal.SweepSetup) {}), resonator{0.7, 0.4}, resonator{0.9, 0.1}
	drive := chain.run(append(s.Samples(), make([]float64, 48000)...))
	for i := range drive {
		drive[i] *= 3
	}
	answer := f.run(append(make([]float64, 100), drive...))
	d := deconvolve(t, measure.SweepRecording{Samples: answer, Reference: drive, Sweep: s})
	if worst := near(t, d.Orders[0], f.at); worst > 1e-4 {
		t.Errorf("off by up to %.2g", worst)
	}
	if worst := near(t, deconvolve(t, measure.SweepRecording{Samples: answer, Sweep: s}).Orders[0], f.at); worst < 1 {
		t.Errorf("without the reference off by %.2g only: the chain does nothing here", worst)
	}
}

func TestDeconvolveRefuses(t *testing.T) {
	s := sweep(t, func(s *signal.SweepSetup) { s.Duration = 1; s.FadeIn = 0.1 })
	x := through(s, 10)
	for want, r := range map[string]measure.SweepRecording{
		"no sweep":                  {Samples: x},
		"died away":                 {Samples: s.Samples(), Sweep: s},
		"reference of 3":            {Samples: x, Sweep: s, Reference: x[:3]},
		"is silent":                 {Samples: x, Sweep: s, Reference: make([]float64, len(x))},
		"sample 7 of the recording": {Samples: append(append([]float64{}, 0, 0, 0, 0, 0, 0, 0, math.NaN()), x...), Sweep: s},
		"all of them zero":          {Samples: make([]float64, len(x)), Sweep: s},
		"orders up to 13":           {Samples: x, Sweep: s, Orders: 13},
		"want a sweep that goes":    {Samples: through(short(t), 10), Sweep: short(t), Orders: 5},
	} {
		if _, err := measure.Deconvolve(r); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

// A reference that is not that of the recording is told: the channels swapped, one channel
// twice, and a sweep that was played at another rate or from another frequency. A steep
// filter between sweep and terminals, and a reversed wire, are none of these.
func TestReferenceOfAnother(t *testing.T) {
	setup := signal.SweepSetup{SampleRate: 48000, From: 20, To: 20000, Duration: 1.7, FadeIn: 0.1, FadeOut: 0.005}
	made := func(by func(*signal.SweepSetup)) *signal.Sweep {
		c := setup
		by(&c)
		s, err := signal.NewSweep(c)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := made(func(*signal.SweepSetup) {})
	drive := append(s.Samples(), make([]float64, 48000)...)
	reversed := append([]float64(nil), drive...)
	for i := range reversed {
		reversed[i] *= -1
	}
	late := func(x []float64, n int) []float64 { return append(make([]float64, n), x[:len(x)-n]...) }
	for name, c := range map[string]struct {
		recording, reference []float64
		sweep                *signal.Sweep
		want                 string
	}{
		"swapped":       {drive, late(drive, 100), s, "2.08 ms before its reference"},
		"one twice":     {drive, drive, s, "hold the same samples"},
		"another rate":  {late(drive, 100), drive, made(func(s *signal.SweepSetup) { s.SampleRate = 44100 }), "another rate"},
		"another start": {late(drive, 100), drive, made(func(s *signal.SweepSetup) { s.From = 10 }), "another rate"},
		"near":          {late(drive, 1), drive, s, ""},
		"filtered":      {late(resonator{0.9, 0.1}.run(drive), 100), resonator{0.9, 0.1}.run(drive), s, ""},
		"reversed":      {late(drive, 100), reversed, s, ""},
	} {
		_, err := measure.Deconvolve(measure.SweepRecording{Samples: c.recording, Reference: c.reference, Sweep: c.sweep})
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: error %v, want %q", name, err, c.want)
		}
	}
}

func short(t testing.TB) *signal.Sweep {
	return sweep(t, func(s *signal.SweepSetup) { s.From, s.To, s.Duration, s.FadeIn = 100, 400, 1, 0 })
}

func BenchmarkDeconvolve(b *testing.B) {
	s := sweep(b, func(*signal.SweepSetup) {})
	x := bend(through(s, 100), 0.1, 0.05)
	for b.Loop() {
		if _, err := measure.Deconvolve(measure.SweepRecording{Samples: x, Sweep: s, Orders: 5}); err != nil {
			b.Fatal(err)
		}
	}
}
