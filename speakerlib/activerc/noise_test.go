package activerc_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/activerc"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// lag is an RC low-pass with a follower.
func lag(t testing.TB, a activerc.Amplifier, r, c float64) *activerc.Circuit {
	t.Helper()
	n, err := activerc.NewCircuit("out",
		[]activerc.Opamp{{Name: "U1", Plus: "p", Minus: "out", Out: "out", Amplifier: a}},
		activerc.Part{Name: "R1", Kind: activerc.Resistor, A: activerc.Input, B: "p", Value: r},
		activerc.Part{Name: "C1", Kind: activerc.Capacitor, A: "p", B: activerc.Ground, Value: c})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// inverter is an amplifier of gain −rf/ri.
func inverter(t testing.TB, a activerc.Amplifier, ri, rf float64) *activerc.Circuit {
	t.Helper()
	n, err := activerc.NewCircuit("out",
		[]activerc.Opamp{{Name: "U1", Plus: activerc.Ground, Minus: "m", Out: "out", Amplifier: a}},
		activerc.Part{Name: "R1", Kind: activerc.Resistor, A: activerc.Input, B: "m", Value: ri},
		activerc.Part{Name: "R2", Kind: activerc.Resistor, A: "m", B: "out", Value: rf})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// All the noise of an RC low-pass is kT/C, whatever R is (equipartition; J. B. Johnson and
// H. Nyquist, Phys. Rev. 32, 1928).
func TestNoiseOfAnRCIsKTOverC(t *testing.T) {
	const c, kelvin = 1e-9, 293.0
	for _, r := range []float64{1e3, 100e3} {
		fc := 1 / (2 * math.Pi * r * c)
		g := grid(t, fc/1e4, fc*1e4, 48)
		s, err := lag(t, activerc.Amplifier{}, r, c).NoiseTo(nil, g, kelvin)
		if err != nil {
			t.Fatal(err)
		}
		sum := s[0] * g.First()
		for i := 1; i < len(s); i++ {
			sum += (s[i] + s[i-1]) / 2 * (g.At(i) - g.At(i-1))
		}
		if want := 1.380649e-23 * kelvin / c; math.Abs(sum/want-1) > 3e-4 {
			t.Errorf("R = %g Ω: noise is %g V², want %g", r, sum, want)
		}
	}
}

// An inverting amplifier: e²·(1 + R2/R1)² + 4kT·R2·(1 + R2/R1) + i²·R2², each with its corner
// (textbook formula, from memory).
func TestNoiseOfAnInverter(t *testing.T) {
	a := activerc.Amplifier{Voltage: 5e-9, VoltageCorner: 100, Current: 2e-12, CurrentCorner: 500}
	const ri, rf, kelvin = 2e3, 10e3, 300.0
	n := inverter(t, a, ri, rf)
	for _, hz := range []float64{1, 100, 500, 20e3} {
		g, err := freq.NewGrid([]float64{hz})
		if err != nil {
			t.Fatal(err)
		}
		s, err := n.NoiseTo(nil, g, kelvin)
		if err != nil {
			t.Fatal(err)
		}
		gain := 1 + rf/ri
		e2, i2 := 25e-18*(1+100/hz), 4e-24*(1+500/hz)
		want := e2*gain*gain + 4*1.380649e-23*kelvin*rf*gain + i2*rf*rf
		if math.Abs(s[0]/want-1) > 1e-12 {
			t.Errorf("%g Hz: noise is %g V²/Hz, want %g", hz, s[0], want)
		}
		parts, err := n.NoiseByPart(g, kelvin)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, p := range parts {
			sum += p.Density.At(0)
		}
		if len(parts) != 3 || math.Abs(sum/want-1) > 1e-12 {
			t.Errorf("%g Hz: %d parts make %g V²/Hz, want 3 that make %g", hz, len(parts), sum, want)
		}
	}
}

// The noise of a chain is that of each stage through the ones behind it: an RC low-pass in
// front of a stage of gain 2 and the same one behind it, by hand.
func TestNoiseOfAChainGoesThroughWhatFollows(t *testing.T) {
	amp := activerc.Amplifier{Voltage: 10e-9}
	o := activerc.Options{}
	low, err := activerc.Realise(activerc.FirstLowpass(1000, 1), amp, o)
	if err != nil {
		t.Fatal(err)
	}
	gain, err := activerc.Realise(activerc.FirstLowpass(50e3, 2), amp, o)
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.NewGrid([]float64{10e3})
	if err != nil {
		t.Fatal(err)
	}
	one := func(s *activerc.Stage) (h2, n float64) {
		d, err := s.Circuit().NoiseTo(nil, g, 300)
		if err != nil {
			t.Fatal(err)
		}
		h := s.ResponseTo(nil, g)[0]
		return real(h)*real(h) + imag(h)*imag(h), d[0]
	}
	hl, nl := one(low)
	hg, ng := one(gain)
	for _, c := range []struct {
		stages []*activerc.Stage
		want   float64
	}{
		{[]*activerc.Stage{low, gain}, nl*hg + ng},
		{[]*activerc.Stage{gain, low}, ng*hl + nl},
	} {
		chain, err := activerc.NewChain(c.stages...)
		if err != nil {
			t.Fatal(err)
		}
		n, err := chain.Noise(g, 300, "noise")
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(n.At(0)/c.want-1) > 1e-12 {
			t.Errorf("noise is %g V²/Hz, want %g", n.At(0), c.want)
		}
	}
}

// Sound pressure level: white noise of 10 nV/√Hz within 1 Hz around 1 kHz, where A is 1, through
// a gain of 10 and 1 Pa per volt is 100 nPa, −46.02 dB.
func TestNoiseAsSoundPressureLevel(t *testing.T) {
	s, err := activerc.Realise(activerc.FirstLowpass(3e6, 1), activerc.Amplifier{Voltage: 10e-9},
		activerc.Options{Resistors: activerc.Range{Series: activerc.E96, Lo: 1, Hi: 100}})
	if err != nil {
		t.Fatal(err)
	}
	c, err := activerc.NewChain(s)
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LinearGrid(999.5, 1000.5, 5)
	if err != nil {
		t.Fatal(err)
	}
	p, err := freq.NewResponse(g, []complex128{1, 1, 1, 1, 1}, "way",
		freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1})
	if err != nil {
		t.Fatal(err)
	}
	spl, err := c.SPL(activerc.After{Gain: freq.Gain(10), Acoustic: p}, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	if want := -46.0206; math.Abs(spl-want) > 1e-3 {
		t.Errorf("noise is %.4f dB, want %.4f", spl, want)
	}
	v, err := c.Volts(g, level.Z, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(v/10e-9-1) > 1e-4 {
		t.Errorf("noise is %g V, want 10 nV", v)
	}
	if _, err := c.SPL(activerc.After{Acoustic: p.Stated(freq.Basis{Quantity: freq.Voltage})}, 300); err == nil {
		t.Error("a voltage passes for a sound pressure, want an error")
	}
	if _, err := c.Volts(g, level.Z, math.NaN()); err == nil {
		t.Error("a temperature of NaN passes, want an error")
	}
}
