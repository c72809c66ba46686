package tune_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

var (
	room = air.Medium{Density: 1.2, SpeedOfSound: 343}
	cone = driver.Params{Re: 5.5, Bl: 7.5, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.85, Sd: 0.0138} // invented
	tube = enclosure.Vent{Diameter: 0.052, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
)

func highpass(t testing.TB, hz float64, p analog.Prototype) *analog.Filter {
	t.Helper()
	f, err := analog.Design(analog.Highpass{Fc: hz}, p)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The product of the box's own response and the filter is the target, magnitude and
// phase, times a constant and, with a coil, an all-pole low-pass of the coil: one real
// pole for an inductance, whose inverse is 1 + jω/ωc.
func TestEqualiserReachesTheTarget(t *testing.T) {
	g, err := freq.LogGrid(4, 1500, 12)
	if err != nil {
		t.Fatal(err)
	}
	inductor := cone
	inductor.Coil = driver.Inductor{Le: 0.4e-3}
	for name, c := range map[string]struct {
		m          enclosure.Mounted
		a          tune.Acoustic
		protection int
	}{
		"closed":                  {enclosure.Mounted{Driver: cone, Box: enclosure.Closed{Vb: 0.015}}, tune.Acoustic{Target: highpass(t, 38, analog.Butterworth(2))}, 0},
		"closed, losses":          {enclosure.Mounted{Driver: cone, Box: enclosure.Closed{Vb: 0.015, Losses: enclosure.Losses{QL: 6, QA: 20}, Reference: 75}, Source: 0.3}, tune.Acoustic{Target: highpass(t, 38, analog.Butterworth(4))}, 1}, // a leak makes the box one of order 3
		"vented":                  {enclosure.Mounted{Driver: cone, Box: enclosure.Vented{Vb: 0.015, Vent: tube}}, tune.Acoustic{Target: highpass(t, 36, analog.Butterworth(4))}, 0},
		"vented, all losses":      {enclosure.Mounted{Driver: cone, Box: enclosure.Vented{Vb: 0.015, Vent: tube, Losses: enclosure.Losses{QL: 7, QA: 40, QP: 60}}}, tune.Acoustic{Target: highpass(t, 36, analog.Bessel(6, analog.ByMagnitude))}, 3},
		"vented, coil, leak":      {enclosure.Mounted{Driver: inductor, Box: enclosure.Vented{Vb: 0.015, Vent: tube, Losses: enclosure.Losses{QL: 7}}, Source: 0.3}, tune.Acoustic{Target: highpass(t, 36, analog.Butterworth(6))}, 2},
		"vented, coil, subsonic":  {enclosure.Mounted{Driver: inductor, Box: enclosure.Vented{Vb: 0.015, Vent: tube, Losses: enclosure.Losses{QL: 7}}}, tune.Acoustic{Target: highpass(t, 40, analog.LinkwitzRiley(4)), Subsonic: highpass(t, 22, analog.Butterworth(2))}, 2},
		"vented, coil, ripple":    {enclosure.Mounted{Driver: inductor, Box: enclosure.Vented{Vb: 0.015, Vent: tube, Losses: enclosure.Losses{QL: 7}}}, tune.Acoustic{Target: highpass(t, 40, analog.ChebyshevI{Order: 4, Ripple: level.Ratio(1)})}, 0},
		"vented, odd":             {enclosure.Mounted{Driver: inductor, Box: enclosure.Vented{Vb: 0.015, Vent: tube, Losses: enclosure.Losses{QL: 7}}}, tune.Acoustic{Target: highpass(t, 40, analog.Butterworth(5))}, 1},
		"infinite baffle, coiled": {enclosure.Mounted{Driver: inductor, Box: enclosure.InfiniteBaffle{}}, tune.Acoustic{Target: highpass(t, 30, analog.Butterworth(3))}, 1},
	} {
		c.m.Air, c.a.SampleRate = room, 48000
		e, err := c.a.For(c.m)
		if err != nil {
			t.Error(name, err)
			continue
		}
		if !e.Exact || e.Protection != c.protection || (e.DC == 0) != (c.protection > 0) {
			t.Errorf("%s: exact %v, protection %d, gain at direct current %g", name, e.Exact, e.Protection, e.DC)
		}
		m, err := c.m.Motion()
		if err != nil {
			t.Fatal(err)
		}
		p, f, z := m.Pressure.ResponseTo(nil, g), e.Analog.ResponseTo(nil, g), e.Cascade.ResponseTo(nil, g)
		target := c.a.Target.ResponseTo(nil, g)
		if c.a.Subsonic != nil {
			for i, v := range c.a.Subsonic.ResponseTo(nil, g) {
				target[i] *= v
			}
		}
		slope := 0.0
		for i := range p {
			inverse := target[i] * complex(e.Sensitivity, 0) / (p[i] * f[i])
			if math.Abs(real(inverse)-1) > 1e-8 {
				t.Fatalf("%s at %g Hz: target over result is %v, want 1 + jω/ωc", name, g.At(i), inverse)
			}
			if i == 0 {
				slope = imag(inverse) / g.At(0)
			}
			if math.Abs(imag(inverse)-slope*g.At(i)) > 1e-8*(1+g.At(i)) || slope < -1e-9 {
				t.Fatalf("%s at %g Hz: target over result is %v, slope %g", name, g.At(i), inverse, slope)
			}
			if d := cmplx.Abs(z[i]/f[i] - 1); d > 3e-4+2*math.Pow(math.Pi*g.At(i)/48000, 2)*30/g.At(i) {
				t.Fatalf("%s at %g Hz: digital over analogue is off by %g", name, g.At(i), d)
			}
		}
		if (slope > 1e-6) != (c.m.Driver.Coil != nil) {
			t.Errorf("%s: the coil's slope is %g", name, slope)
		}
	}
}

// A closed box without losses is the relocation of R. H. Small's resonance
// (JAES 20, 1972): fc = fs·√(1+α), Qtc = Qts·√(1+α), to the section of digital.Relocate.
func TestEqualiserOfAClosedBoxIsARelocation(t *testing.T) {
	m := enclosure.Mounted{Driver: cone, Box: enclosure.Closed{Vb: 0.015}, Air: room}
	e, err := tune.Acoustic{Target: highpass(t, 35, analog.Butterworth(2)), SampleRate: 48000}.For(m)
	if err != nil {
		t.Fatal(err)
	}
	root := math.Sqrt(1 + cone.Vas(room)/0.015)
	from := digital.Resonance{F: cone.Fs() * root, Q: cone.Qts() * root}
	want, err := digital.Relocate{From: from, To: digital.Resonance{F: 35, Q: math.Sqrt(0.5)}}.Biquad(48000)
	if err != nil {
		t.Fatal(err)
	}
	got := e.Cascade.At(0)
	for i, d := range []float64{got.B0 - want.B0, got.B1 - want.B1, got.B2 - want.B2, got.A1 - want.A1, got.A2 - want.A2} {
		if math.Abs(d) > 1e-12 || e.Cascade.Len() != 1 {
			t.Errorf("coefficient %d is off by %g, of %d sections", i, d, e.Cascade.Len())
		}
	}
	if ratio := from.F / 35; math.Abs(e.DC-ratio*ratio) > 1e-9 {
		t.Errorf("gain at direct current is %g, want %g", e.DC, ratio*ratio)
	}
	// Small 1972: the plateau of a driver is ρ·Sd·Bl/(2π·Mms·Re) per volt at 1 m.
	if want := 1.2 * 0.0138 * 7.5 / (2 * math.Pi * 0.0152 * 5.5); math.Abs(e.Sensitivity/want-1) > 1e-9 {
		t.Errorf("sensitivity is %g Pa/V, want %g", e.Sensitivity, want)
	}
	g, err := freq.LogGrid(1, 1000, 48)
	if err != nil {
		t.Fatal(err)
	}
	most, at := 0.0, 0.0
	for i := range g.Len() { // |F|² = ((f0²−f²)²+(f0·f/Q0)²)/((f1²−f²)²+(f1·f/Q1)²)
		f := g.At(i)
		square := func(r digital.Resonance) float64 {
			x, y := r.F*r.F-f*f, r.F*f/r.Q
			return x*x + y*y
		}
		if v := square(from) / square(digital.Resonance{F: 35, Q: math.Sqrt(0.5)}); v > most {
			most, at = v, f
		}
	}
	if db, hz := e.Boost(g); hz != at || math.Abs(db-level.PowerDB(most)) > 1e-9 {
		t.Errorf("boost is %g dB at %g Hz, want %g dB at %g Hz", db, hz, level.PowerDB(most), at)
	}
}

// A ladder's own poles R2/L2 are zeros of the pressure, and the circuit has two poles
// more than the box: target over result is (1 + c₁s + c₂s²)/(1 + s·L2/R2).
func TestEqualiserOfALadder(t *testing.T) {
	coil := driver.Ladder{Le: 0.2e-3, L2: 0.5e-3, R2: 3}
	d := cone
	d.Coil = coil
	m := enclosure.Mounted{Driver: d, Box: enclosure.Vented{Vb: 0.015, Vent: tube, Losses: enclosure.Losses{QL: 7}}, Air: room}
	target := highpass(t, 36, analog.Butterworth(6))
	e, err := tune.Acoustic{Target: target, SampleRate: 48000}.For(m)
	if err != nil {
		t.Fatal(err)
	}
	motion, err := m.Motion()
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LogGrid(10, 5000, 6)
	if err != nil {
		t.Fatal(err)
	}
	want, n := target.ResponseTo(nil, g), g.Len()-1
	got := (freq.Series{motion.Pressure, e.Analog}).ResponseTo(nil, g)
	x := make([]complex128, n+1)
	for i, w := range g.Omega() {
		x[i] = want[i] * complex(e.Sensitivity, 0) / got[i] * complex(1, w*coil.L2/coil.R2)
	}
	w := g.Omega()
	c1, c2 := imag(x[n])/w[n], (1-real(x[n]))/(w[n]*w[n])
	for i, v := range x {
		if d := cmplx.Abs(v - complex(1-c2*w[i]*w[i], c1*w[i])); d > 1e-7*(1+c2*w[i]*w[i]) {
			t.Errorf("%g Hz: off by %g", g.At(i), d)
		}
	}
	if !(c1 > 0 && c2 > 0 && e.Exact) {
		t.Errorf("c₁ is %g, c₂ %g, exact %v", c1, c2, e.Exact)
	}
}

// With a coil that is no ratio of polynomials it is said so, and the result is near.
func TestEqualiserOfASemiInductance(t *testing.T) {
	d := cone
	d.Coil = driver.SemiInductance{K: 0.02, N: 0.65}
	m := enclosure.Mounted{Driver: d, Box: enclosure.Vented{Vb: 0.015, Vent: tube, Losses: enclosure.Losses{QL: 7}}, Air: room}
	target := highpass(t, 36, analog.Butterworth(6))
	e, err := tune.Acoustic{Target: target, SampleRate: 48000}.For(m)
	if err != nil {
		t.Fatal(err)
	}
	if e.Exact {
		t.Error("a semi-inductance is said to be exact")
	}
	motion, err := m.Motion()
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.NewGrid([]float64{30, 40, 60, 100})
	if err != nil {
		t.Fatal(err)
	}
	want := target.ResponseTo(nil, g)
	for i, v := range (freq.Series{motion.Pressure, e.Analog}).ResponseTo(nil, g) {
		if db := level.DB(cmplx.Abs(v) / cmplx.Abs(want[i]) / e.Sensitivity); math.Abs(db) > 1.5 || db == 0 {
			t.Errorf("%g Hz: %g dB off the target", g.At(i), db)
		}
	}
}

func TestAcousticRefusals(t *testing.T) {
	vented := enclosure.Mounted{Driver: cone, Box: enclosure.Vented{Vb: 0.015, Vent: tube}, Air: room}
	lowpass, err := analog.Design(analog.Lowpass{Fc: 40}, analog.Butterworth(4))
	if err != nil {
		t.Fatal(err)
	}
	nothing := vented
	nothing.Box = nil
	for _, c := range []struct {
		a    tune.Acoustic
		m    enclosure.Mounted
		want string
	}{
		{tune.Acoustic{SampleRate: 48000}, vented, "target is nil"},
		{tune.Acoustic{Target: lowpass, SampleRate: 48000}, vented, "want a high-pass"},
		{tune.Acoustic{Target: highpass(t, 40, analog.Butterworth(3)), SampleRate: 48000}, vented, "falls with order 3, want at least 4"},
		{tune.Acoustic{Target: highpass(t, 40, analog.Butterworth(4)), SampleRate: 60}, vented, "half the sample rate"},
		{tune.Acoustic{Target: highpass(t, 40, analog.Butterworth(4)), SampleRate: 48000}, nothing, "no box"},
	} {
		if _, err := c.a.For(c.m); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want one with %q", err, c.want)
		}
	}
}
