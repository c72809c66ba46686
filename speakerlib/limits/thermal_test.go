package limits_test

import (
	"bufio"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
)

// table reads a file of testdata: the first column as it stands if it is a word.
func table(t *testing.T, name string) (words []string, rows [][]float64) {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	header := true
	for lines := bufio.NewScanner(file); lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "#") {
			continue
		}
		if header {
			header = false
			continue
		}
		var row []float64
		fields := strings.Split(lines.Text(), ",")
		word := ""
		for _, f := range fields {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				word = f
				continue
			}
			row = append(row, v)
		}
		words, rows = append(words, word), append(rows, row)
	}
	return words, rows
}

var wires = map[string]limits.Wire{"copper": limits.Copper, "aluminium": limits.Aluminium}

// testdata/thermal_coil.csv, by thermal.py.
func TestResistanceOfWire(t *testing.T) {
	words, rows := table(t, "thermal_coil.csv")
	for i, r := range rows {
		ratio := wires[words[i]].Ratio(r[0] - 20)
		if math.Abs(ratio-r[1]) > 1e-6 || math.Abs(level.DB(ratio)-r[2]) > 1e-5 {
			t.Errorf("%s at %g °C: %.6f, %.5f dB, want %.6f, %.5f", words[i], r[0], ratio, level.DB(ratio), r[1], r[2])
		}
		// Measured at 50 °C instead: the ratio from there is the quotient.
		if at := wires[words[i]].At(323.15).Ratio(r[0] - 50); math.Abs(at-ratio/wires[words[i]].Ratio(30)) > 1e-12 {
			t.Errorf("%s from 50 to %g °C: %.9f, want %.9f", words[i], r[0], at, ratio/wires[words[i]].Ratio(30))
		}
	}
	if len(rows) != 16 {
		t.Errorf("%d rows, want 16", len(rows))
	}
}

// testdata/thermal_selfconsistent.csv, by thermal.py: a coil that is a resistance and
// nothing else, for which the spectrum plays no part.
func TestSteadyRiseOfACoil(t *testing.T) {
	words, rows := table(t, "thermal_selfconsistent.csv")
	g, _ := freq.LogGrid(20, 20e3, 3)
	p, err := limits.NewProgramme(pinkShape{}, 2, g)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range rows {
		c := limits.Coil{Re: r[0], Wire: wires[words[i]], Thermal: limits.Thermal{{Resistance: r[2] * 0.7, Capacity: 5}, {Resistance: r[2] * 0.3, Capacity: 500}}, MaxRise: 150}
		w, err := c.Steady(r[1], freq.Gain(1), freq.Gain(1/r[0]), p)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(w.Rise-r[4]) > 1e-5 || math.Abs(level.DB(w.Ratio)-r[6]) > 1e-5 || math.Abs(w.Power-r[5]) > 1e-5 || math.Abs(-level.DB(w.Compression)-r[6]) > 1e-5 {
			t.Errorf("%s, %g Ω at %g V: %+v, %.6f dB, want %g K, %g W, %g dB", words[i], r[0], r[1], w, -level.DB(w.Compression), r[4], r[5], r[6])
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
	_, rows := table(t, "thermal_step.csv")
	network := limits.Thermal{{Resistance: 3, Capacity: 6}, {Resistance: 1.2, Capacity: 900}}
	for _, dt := range []float64{0.1, 1} {
		s, err := network.NewState(dt)
		if err != nil {
			t.Fatal(err)
		}
		var steps int
		for _, r := range rows {
			for ; float64(steps)*dt < r[0]-dt/2; steps++ {
				s.Step(20)
			}
			if math.Abs(s.Rise(0)-r[1]) > 1e-6 || math.Abs(s.Rise(1)-r[2]) > 1e-6 {
				t.Errorf("steps of %g s, %g s: %.8f and %.8f K, want %.8f and %.8f", dt, r[0], s.Rise(0), s.Rise(1), r[1], r[2])
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
