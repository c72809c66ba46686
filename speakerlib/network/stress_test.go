package network_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/signal"
)

func relative(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got/want-1) <= tol) {
		t.Errorf("%s is %.8g, want %.8g", what, got, want)
	}
}

// Pink noise on a capacitor and a resistor in series: with x = 2πfRC the share of the mean
// square at the resistor is x²/(1 + x²), and its mean over ln f from x = a to b is
// ½·ln((1+b²)/(1+a²))/ln(b/a), the capacitor's the rest (closed form).
func TestStressOfNoise(t *testing.T) {
	const r, c, volts = 8.0, 10e-6, 12.0
	net := must(network.New("in",
		network.Capacitor{Name: "C", A: "in", B: "r", C: c},
		network.Resistor{Name: "R", A: "r", B: "0", R: r}))(t)
	plan := must(network.NewPlan(net, grid(t, 31.25, 16000, 24), network.Source{}))(t)
	rows := must(must(plan.Solve())(t).Stress(network.Drive{Shape: signal.Pink{}, Volts: volts, From: 62.5, To: 16000, Peak: 40}))(t)
	a, b := 2*math.Pi*62.5*r*c, 2*math.Pi*16000*r*c
	share := math.Log((1+b*b)/(1+a*a)) / 2 / math.Log(b/a)
	ca, re := rows[0], rows[1]
	if ca.Part != "C" || re.Part != "R" {
		t.Fatalf("rows are %q and %q", ca.Part, re.Part)
	}
	relative(t, "V of the resistor", re.Volts, volts*math.Sqrt(share), 2e-5)
	relative(t, "A of the resistor", re.Amperes, volts*math.Sqrt(share)/r, 2e-5)
	relative(t, "W of the resistor", re.Watts, volts*volts*share/r, 4e-5)
	relative(t, "V of the capacitor", ca.Volts, volts*math.Sqrt(1-share), 2e-5)
	relative(t, "A of the capacitor", ca.Amperes, re.Amperes, 1e-12)
	if ca.Watts != 0 || ca.SineWatts != 0 {
		t.Errorf("a capacitor without resistance takes %g W", ca.Watts)
	}
	// The sine is worst at the ends of the band.
	relative(t, "peak A", re.PeakAmps, 40/r*b/math.Hypot(1, b), 1e-12)
	relative(t, "peak V of the capacitor", ca.PeakVolts, 40/math.Hypot(1, a), 1e-12)
	relative(t, "sine W", re.SineWatts, 800/r*b*b/(1+b*b), 1e-12)
	relative(t, "frequency of peak A", re.AmpsAt, 16000, 1e-9)
	relative(t, "frequency of peak W", re.WattsAt, 16000, 1e-9)
	relative(t, "frequency of peak V", ca.VoltsAt, 62.5, 1e-9)
}

// A series circuit of quality Q: the coil's current is highest at resonance, V/R, and the
// capacitor's voltage at f₀·√(1−1/2Q²), Q/√(1−1/4Q²) times that of the source (closed form).
func TestStressOfSine(t *testing.T) {
	const q, f0, c = 3.0, 1000.0, 10e-6
	w := 2 * math.Pi * f0
	r := 1 / (w * c * q)
	net := must(network.New("in",
		network.Inductor{Name: "L", A: "in", B: "a", L: 1 / (w * w * c), R: r},
		network.Capacitor{Name: "C", A: "a", B: "0", C: c}))(t)
	plan := must(network.NewPlan(net, grid(t, 125, 8000, 480), network.Source{}))(t)
	rows := must(must(plan.Solve())(t).Stress(network.Drive{Shape: signal.Programme{}, Volts: 1, From: 125, To: 8000, Peak: 30}))(t)
	relative(t, "peak A of the coil", rows[0].PeakAmps, 30/r, 1e-9)
	relative(t, "its frequency", rows[0].AmpsAt, f0, 1e-9)
	relative(t, "W of the coil's wire", rows[0].SineWatts, 450/r, 1e-9)
	relative(t, "peak V of the capacitor", rows[1].PeakVolts, 30*q/math.Sqrt(1-1/(4*q*q)), 1e-4)
	relative(t, "its frequency", rows[1].VoltsAt, f0*math.Sqrt(1-1/(2*q*q)), 1e-3)
}

// 24 points an octave are within a ten-thousandth of twenty times as many; 12 are not.
func TestStressOfCoarseGrid(t *testing.T) {
	stress := func(perOctave int) []network.Stress {
		plan := must(network.NewPlan(twoWay(t), grid(t, 31.25, 16000, perOctave), network.Source{}))(t)
		return must(must(plan.Solve())(t).Stress(network.Drive{Shape: signal.Programme{}, Volts: 10, From: 31.25, To: 16000, Peak: 40}))(t)
	}
	coarse, fine := stress(24), stress(480)
	for i, c := range coarse {
		if fine[i].Watts > 0 {
			relative(t, "W of "+c.Part, c.Watts, fine[i].Watts, 1e-4)
		}
		relative(t, "V of "+c.Part, c.Volts, fine[i].Volts, 1e-4)
		relative(t, "A of "+c.Part, c.Amperes, fine[i].Amperes, 1e-4)
	}
}

// The density of a band is its power over its width, and the bands of pink noise are one
// spectrum that falls by 3 dB an octave from step to step.
func TestThirds(t *testing.T) {
	third := math.Exp(math.Ln10 / 10)
	b := network.Thirds{{Hz: 1000, Power: 2}, {Hz: 1000 * third, Power: 2}}
	edge := math.Sqrt(third)
	lower := b.Amplitude(1000)
	relative(t, "power of a band", lower*lower*1000*(edge-1/edge), 2, 1e-12)
	relative(t, "ratio of densities", lower/b.Amplitude(1000*third), math.Sqrt(third), 1e-12)
	if b.Amplitude(1000*edge*0.999) != lower || b.Amplitude(1000*edge*1.001) == lower {
		t.Error("the edge between the bands is not at 10^(1/20) of the middle")
	}
	if b.Amplitude(500) != 0 || b.Amplitude(2000) != 0 {
		t.Error("there is something outside the bands")
	}
}

func TestStressRefusals(t *testing.T) {
	plan := must(network.NewPlan(twoWay(t), grid(t, 20, 20e3, 12), network.Source{}))(t)
	sol := must(plan.Solve())(t)
	good := network.Drive{Shape: signal.Pink{}, Volts: 10, From: 20, To: 19e3, Peak: 30}
	for want, f := range map[string]func(d *network.Drive){
		"no spectrum":             func(d *network.Drive) { d.Shape = nil },
		"rms voltage":             func(d *network.Drive) { d.Volts = 0 },
		"peak voltage":            func(d *network.Drive) { d.Peak = math.NaN() },
		"lowest frequency":        func(d *network.Drive) { d.From = -1 },
		"want a band":             func(d *network.Drive) { d.To = 20 },
		"within the grid":         func(d *network.Drive) { d.To = 21e3 },
		"2 or more":               func(d *network.Drive) { d.From, d.To = 100, 101 },
		"power of the spectrum":   func(d *network.Drive) { d.Shape = network.Thirds{} },
		"a band within the grid,": func(d *network.Drive) { d.From = 19 },
	} {
		d := good
		f(&d)
		if _, err := sol.Stress(d); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: error is %v, want one with %q", d, err, want)
		}
	}
}
