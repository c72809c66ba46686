package limits_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/signal"
)

// A sine into a resistance that is coil and nothing else, for a long time, ends at
// the self-consistent rise of testdata/thermal_selfconsistent.csv, whose 10 V rms are
// given to 5.6 Ω and 4 K/W; between the five rises 1/i is linear there, so that the
// result is exact.
func TestHeatingEndsAtTheSteadyRise(t *testing.T) {
	x := make([]float64, 48000)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 1000 * float64(i) / 48e3)
	}
	for _, r := range testtable.Read(t, "testdata/thermal_selfconsistent.csv") {
		wire, re, volts, rth, rise := r.Text(t, "wire"), r.Number(t, "Re"), r.Number(t, "Vrms"), r.Number(t, "Rth"), r.Number(t, "rise")
		c := limits.Coil{Re: re, Wire: wires[wire], Thermal: limits.Thermal{{Resistance: rth * 0.8, Capacity: 1}, {Resistance: rth * 0.2, Capacity: 10}}, MaxRise: 100}
		h, err := play(t, 48e3, x, limits.PlaySetup{Volts: volts * math.Sqrt2, Loop: true}).Heating(c, freq.Gain(1), freq.Gain(1/re), limits.HeatingSetup{Duration: 400})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(h.Hottest-rise) > 1e-4 || math.Abs(h.Reserve-100/rise) > 1e-5 || math.Abs(h.Final[1]/rise-0.2) > 1e-5 {
			t.Errorf("%s, %g Ω at %g V: hottest %.6f K (magnet %.6f), want %.6f", wire, re, volts, h.Hottest, h.Final[1], rise)
		}
	}
}

// Bursts of power into a coil alone, on for 2 s and off for 6 s: the peak of the
// periodic state is that of an exponential, P·R·(1−e^{−a})/(1−e^{−4a}) with
// a = 2 s/(R·C), for a current that heat does not change (the closed form of a first-
// order system; the coil's share in the impedance is 1 in a million).
func TestHottestOfBursts(t *testing.T) {
	const fs = 8e3
	x := make([]float64, 8*fs)
	for i := range x[:2*fs] {
		x[i] = math.Sin(2 * math.Pi * 500 * float64(i) / fs)
	}
	c := limits.Coil{Re: 5e-6, Wire: limits.Copper, Thermal: limits.Thermal{{Resistance: 3, Capacity: 2}}, MaxRise: 150}
	const amperes = 2828.427124746 // rms: 40 W
	power := amperes * amperes * 5e-6
	p := play(t, fs, x, limits.PlaySetup{Volts: amperes * math.Sqrt2, Loop: true})
	h, err := p.Heating(limits.Coil{Re: c.Re, Wire: 1e-12, Thermal: c.Thermal, MaxRise: 150}, freq.Gain(1), freq.Gain(1), limits.HeatingSetup{Duration: 80})
	if err != nil {
		t.Fatal(err)
	}
	a := 2.0 / 6
	if want := power * 3 * (1 - math.Exp(-a)) / (1 - math.Exp(-4*a)); math.Abs(h.Hottest/want-1) > 1e-4 {
		t.Errorf("hottest %.4f K at %g s, want %.4f", h.Hottest, h.At, want)
	}
	if at := math.Mod(h.At, 8); math.Abs(at-2) > 0.11 || math.Abs(h.Power/(power/4)-1) > 1e-3 || len(h.Rise) != 800 {
		t.Errorf("hottest at %g s of the period by %g W in %d steps, want the end of the burst, %g W, 800 steps", at, h.Power, len(h.Rise), power/4)
	}
}

// The long run of noise is the steady rise of its spectrum, by another way through
// the code: through the motion of a driver, in which neither 1/i nor the share of the
// coil is simple.
func TestHeatingOfNoiseIsTheSteadyRise(t *testing.T) {
	w := way(t)
	n, err := signal.NewNoise(signal.NoiseSetup{SampleRate: 48e3, Duration: 2, From: 20, To: 20e3, Shape: signal.Programme{}, Crest: 2, Seed: 4})
	if err != nil {
		t.Fatal(err)
	}
	const volts = 1.6 // rms at the input, 16 V at the amplifier
	p, err := limits.NewPlay(limits.PlaySetup{Clip: n.Clip, Volts: volts / n.RMS, Loop: true})
	if err != nil {
		t.Fatal(err)
	}
	w.Coil.Thermal = limits.Thermal{{Resistance: 3, Capacity: 60}, {Resistance: 1.2, Capacity: 90}} // slow against the clip
	w.Rise = 100                                                                                    // which neither depends on
	h, err := w.Heating(p, limits.HeatingSetup{Duration: 4000})
	if err != nil {
		t.Fatal(err)
	}
	s, err := w.Steady(volts)
	if err != nil {
		t.Fatal(err)
	}
	if end := h.Rise[len(h.Rise)-1]; math.Abs(end/s.Rise-1) > 0.02 || s.Rise < 40 {
		t.Errorf("%.2f K after 4000 s, %.2f in the long run", end, s.Rise)
	}
}

func TestHeatingRefusals(t *testing.T) {
	c := limits.Coil{Re: 5, Wire: limits.Copper, Thermal: limits.Thermal{{Resistance: 3, Capacity: 2}}, MaxRise: 150}
	p := play(t, 8e3, make([]float64, 8000), limits.PlaySetup{Volts: 1})
	for want, s := range map[string]limits.HeatingSetup{
		"steps of -1 s":         {Duration: 10, Step: -1},
		"steps of 3 s":          {Duration: 10, Step: 3},
		"followed for 0 s":      {},
		"followed for +Inf s i": {Duration: math.Inf(1)},
	} {
		if _, err := p.Heating(c, freq.Gain(1), freq.Gain(0.2), s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
	if h, err := p.Heating(c, freq.Gain(1), freq.Gain(0.2), limits.HeatingSetup{Duration: 5}); err != nil || h.Hottest != 0 || !math.IsInf(h.Reserve, 1) {
		t.Errorf("silence: %+v, %v", h, err)
	}
	if _, err := p.Heating(limits.Coil{}, freq.Gain(1), freq.Gain(0.2), limits.HeatingSetup{Duration: 5}); err == nil {
		t.Error("an empty coil was accepted")
	}
}
