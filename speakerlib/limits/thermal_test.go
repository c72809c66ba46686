package limits_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
)

var wires = map[string]limits.Wire{"copper": limits.Copper, "aluminium": limits.Aluminium}

// testdata/thermal_coil.csv, by thermal.py.
func TestResistanceOfWire(t *testing.T) {
	rows := testtable.Read(t, "testdata/thermal_coil.csv")
	for _, r := range rows {
		name, celsius := r.Text(t, "wire"), r.Number(t, "celsius")
		want, db := r.Number(t, "ratio"), r.Number(t, "loss_dB_at_fixed_voltage")
		wire := wires[name]
		ratio := wire.Ratio(celsius - 20)
		if math.Abs(ratio-want) > 1e-6 || math.Abs(level.DB(ratio)-db) > 1e-5 {
			t.Errorf("%s at %g °C: %.6f, %.5f dB, want %.6f, %.5f", name, celsius, ratio, level.DB(ratio), want, db)
		}
		// Measured at 50 °C instead: the ratio from there is the quotient.
		if at := wire.At(323.15).Ratio(celsius - 50); math.Abs(at-ratio/wire.Ratio(30)) > 1e-12 {
			t.Errorf("%s from 50 to %g °C: %.9f, want %.9f", name, celsius, at, ratio/wire.Ratio(30))
		}
	}
	if len(rows) != 16 {
		t.Errorf("%d rows, want 16", len(rows))
	}
}

// testdata/thermal_selfconsistent.csv, by thermal.py: a coil that is a resistance and
// nothing else, for which the spectrum plays no part.
func TestSteadyRiseOfACoil(t *testing.T) {
	rows := testtable.Read(t, "testdata/thermal_selfconsistent.csv")
	g, _ := freq.LogGrid(20, 20e3, 3)
	p, err := limits.NewProgramme(pinkShape{}, 2, g)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		wire, re, volts, rth := r.Text(t, "wire"), r.Number(t, "Re"), r.Number(t, "Vrms"), r.Number(t, "Rth")
		rise, power, db := r.Number(t, "rise"), r.Number(t, "P_hot"), r.Number(t, "compression_dB")
		c := limits.Coil{Re: re, Wire: wires[wire], Thermal: limits.Thermal{{Resistance: rth * 0.7, Capacity: 5}, {Resistance: rth * 0.3, Capacity: 500}}, MaxRise: 150}
		w, err := c.Steady(volts, freq.Gain(1), freq.Gain(1/re), p)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(w.Rise-rise) > 1e-5 || math.Abs(level.DB(w.Ratio)-db) > 1e-5 || math.Abs(w.Power-power) > 1e-5 || math.Abs(-level.DB(w.Compression)-db) > 1e-5 {
			t.Errorf("%s, %g Ω at %g V: %+v, %.6f dB, want %g K, %g W, %g dB", wire, re, volts, w, -level.DB(w.Compression), rise, power, db)
		}
	}
	if len(rows) != 10 {
		t.Errorf("%d rows, want 10", len(rows))
	}
}

type pinkShape struct{}

func (pinkShape) Amplitude(hz float64) float64 { return 1 / math.Sqrt(hz) }

// testdata/thermal_step.csv, by thermal.py: steps of any length are exact while the
// power is constant.
func TestStepOfTwoStages(t *testing.T) {
	rows := testtable.Read(t, "testdata/thermal_step.csv")
	network := limits.Thermal{{Resistance: 3, Capacity: 6}, {Resistance: 1.2, Capacity: 900}}
	for _, dt := range []float64{0.1, 1} {
		s, err := network.NewState(dt)
		if err != nil {
			t.Fatal(err)
		}
		var steps int
		for _, r := range rows {
			at, coil, magnet := r.Number(t, "t"), r.Number(t, "coil"), r.Number(t, "magnet")
			for ; float64(steps)*dt < at-dt/2; steps++ {
				s.Step(20)
			}
			if math.Abs(s.Rise(0)-coil) > 1e-6 || math.Abs(s.Rise(1)-magnet) > 1e-6 {
				t.Errorf("steps of %g s, %g s: %.8f and %.8f K, want %.8f and %.8f", dt, at, s.Rise(0), s.Rise(1), coil, magnet)
			}
		}
	}
	s, err := network.NewState(0.1)
	if err != nil {
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(100, func() { s.Step(10) }); n != 0 {
		t.Errorf("a step allocates %g times", n)
	}
	if r := network.Resistance(); math.Abs(r-4.2) > 1e-15 {
		t.Errorf("resistance %g K/W, want 4.2", r)
	}
}

func TestThermalRefusals(t *testing.T) {
	good := limits.Thermal{{Resistance: 3, Capacity: 6}}
	for want, c := range map[string]struct {
		t  limits.Thermal
		dt float64
	}{
		"no stage":        {nil, 1},
		"0 K/W":           {limits.Thermal{{Resistance: 0, Capacity: 6}}, 1},
		"NaN J/K":         {limits.Thermal{{Resistance: 3, Capacity: math.NaN()}}, 1},
		"step of a th":    {good, 0},
		"is +Inf s":       {good, math.Inf(1)},
		"at most 1.8e+09": {good, 1e10},
		"stage 2 of a ":   {limits.Thermal{{Resistance: 3, Capacity: 6}, {}}, 1},
	} {
		if _, err := c.t.NewState(c.dt); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}
