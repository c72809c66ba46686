package crossover_test

import (
	"math"
	"math/cmplx"
	"os"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
	"example.org/loudspeaker/speakerlib/network"
)

func good[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// measured reads a file of the demonstration data from lo to hi hertz.
func measured(t *testing.T, name string, lo, hi float64) freq.Response {
	t.Helper()
	f := good(os.Open("../../datasets/standmount/" + name))(t)
	defer f.Close()
	read := measure.ReadResponse
	if strings.HasPrefix(name, "impedance/") {
		read = measure.ReadImpedance
	}
	table := good(read(f, name, measure.Format{}))(t)
	return good(good(table.Between(lo, hi))(t).Stated())(t)
}

// demo is the network that datasets/README.md states, with measured drivers.
func demo(t *testing.T, woofer, tweeter freq.Transfer) crossover.Passive {
	t.Helper()
	return crossover.Passive{
		Network: good(network.New("in",
			network.Inductor{Name: "choke", A: "in", B: "w", L: 1.8e-3, R: 0.32},
			network.Capacitor{Name: "shunt", A: "w", B: "0", C: 8.2e-6, ESR: 0.1},
			network.Load{Name: "woofer", A: "w", B: "0", Z: woofer},
			network.Capacitor{Name: "first", A: "in", B: "t", C: 5.1e-6},
			network.Inductor{Name: "coil", A: "t", B: "0", L: 0.36e-3, R: 0.3},
			network.Capacitor{Name: "second", A: "t", B: "p", C: 68e-6},
			network.Resistor{Name: "pad", A: "p", B: "h", R: 3.9},
			network.Resistor{Name: "across", A: "h", B: "0", R: 47},
			network.Load{Name: "tweeter", A: "h", B: "0", Z: tweeter},
		))(t),
		Ways: []crossover.Tap{{"low", "woofer"}, {"high", "tweeter"}},
	}
}

// The loudspeaker's measured input impedance is that of the stated network with the measured
// impedances of its drivers (datasets/standmount/impedance). The files have noise of some
// tenths of a percent.
func TestDemoInputImpedance(t *testing.T) {
	want := measured(t, "impedance/passive.txt", 21, 19000)
	g := want.Grid()
	zw := good(measure.Resample(measured(t, "impedance/woofer-in-box.txt", 20, 19600), g))(t)
	zt := good(measure.Resample(measured(t, "impedance/tweeter-free-air.txt", 20, 19600), g))(t)
	z := good(good(demo(t, zw, zt).On(g))(t).Solution.InputImpedance("input"))(t)
	worst, at := 0.0, 0.0
	for i := range g.Len() {
		if e := cmplx.Abs(z.At(i)-want.At(i)) / cmplx.Abs(want.At(i)); e > worst {
			worst, at = e, g.At(i)
		}
	}
	t.Logf("largest difference %.2f %% at %.0f Hz", worst*100, at)
	if worst > 0.013 {
		t.Errorf("input impedance is off by %.2f %% at %.0f Hz, want at most 1.3 %%", worst*100, at)
	}
}

// The loudspeaker's measured pressure on its axis and off it is Σ H·D of its drivers measured
// alone, from 400 Hz on, above what the gate takes from either; and the cone's near field behind
// the network is that at its terminals times H.
func TestDemoResponses(t *testing.T) {
	for _, where := range []string{"axis", "up20", "side45"} {
		want := measured(t, "far-field/passive-"+where+".txt", 400, 19000)
		g := want.Grid()
		zw := good(measure.Resample(measured(t, "impedance/woofer-in-box.txt", 20, 19600), g))(t)
		zt := good(measure.Resample(measured(t, "impedance/tweeter-free-air.txt", 20, 19600), g))(t)
		divided := good(demo(t, zw, zt).On(g))(t)
		got := good(divided.Sum([]freq.Response{
			measured(t, "far-field/woofer-"+where+".txt", 400, 19000),
			measured(t, "far-field/tweeter-"+where+".txt", 400, 19000)}, "sum"))(t)
		if got.Basis() != want.Basis() {
			t.Errorf("sum is %v, want %v as in the file", got.Basis(), want.Basis())
		}
		compare(t, where, got, want, 0.06)
	}
	want := measured(t, "near-field/passive-cone.txt", 21, 1900)
	g := want.Grid()
	zw := good(measure.Resample(measured(t, "impedance/woofer-in-box.txt", 20, 19600), g))(t)
	zt := good(measure.Resample(measured(t, "impedance/tweeter-free-air.txt", 20, 19600), g))(t)
	low := good(demo(t, zw, zt).On(g))(t).Ways[0].ResponseTo(nil, g)
	cone := measured(t, "near-field/woofer-cone.txt", 21, 1900).Values()
	for i := range cone {
		cone[i] *= low[i]
	}
	compare(t, "near field", good(freq.NewResponse(g, cone, "cone", want.Basis()))(t), want, 0.06)
}

// compare takes both as averages over a third octave, as noise and notches are not of the network.
func compare(t *testing.T, what string, got, want freq.Response, allowed float64) {
	t.Helper()
	d := good(good(got.SmoothPower(3, 1))(t).Minus(good(want.SmoothPower(3, 1))(t)))(t)
	hi := good(d.Max(d.Grid().First(), d.Grid().Last()))(t)
	lo := good(d.Min(d.Grid().First(), d.Grid().Last()))(t)
	t.Logf("%s: %+.3f dB at %.0f Hz … %+.3f dB at %.0f Hz", what, lo.Value, lo.Hz, hi.Value, hi.Hz)
	if hi.Value > allowed || lo.Value < -allowed {
		t.Errorf("%s is off by %+.3f dB at %.0f Hz and %+.3f dB at %.0f Hz, want within ±%g", what, lo.Value, lo.Hz, hi.Value, hi.Hz, allowed)
	}
}

// A resistance in front of a driver is a larger Qes (R. H. Small, "Direct-Radiator Loudspeaker
// System Analysis", J. Audio Eng. Soc. 20, 1972: Qes·(Rg + Re)/Re; from memory): without a coil the
// loss over frequency is the ratio of two high-pass functions,
//
//	s²/(s² + s/Qts′ + 1) over s²/(s² + s/Qts + 1), times Re/(Re + R)
func TestSeriesLossIsQ(t *testing.T) {
	const re, r, fs, qms, qes = 5.5, 0.32 + 0.1, 41.5, 4.7, 0.39
	w := 2 * math.Pi * fs
	mms := 15.2e-3
	p := driver.Params{Re: re, Mms: mms, Cms: 1 / (w * w * mms), Rms: w * mms / qms, Bl: math.Sqrt(w * mms * re / qes), Sd: 138e-4}
	g := good(freq.LogGrid(10, 400, 24))(t)
	for _, polarity := range []bool{false, true} {
		load := network.Load{Name: "D", A: "w", B: "0", Z: network.Impedance(p.ImpedanceTo)}
		if polarity {
			load.A, load.B = load.B, load.A
		}
		// A coil of next to no inductance: its resistance is the point.
		passive := crossover.Passive{
			Network: good(network.New("in", network.Inductor{Name: "choke", A: "in", B: "w", L: 1e-12, R: 0.32}, load))(t),
			Source:  network.Source{R: 0.1},
			Ways:    []crossover.Tap{{"low", "D"}},
		}
		loss := good(passive.SeriesLoss("low", g, 150, 300))(t)
		var mean float64
		want := make([]float64, g.Len())
		for i := range want {
			s := complex(0, g.At(i)/fs)
			q := 1 / (1/qms + 1/qes)
			q2 := 1 / (1/qms + re/(qes*(re+r)))
			want[i] = level.DB(cmplx.Abs((s*s + s/complex(q, 0) + 1) / (s*s + s/complex(q2, 0) + 1) * re / (re + r)))
		}
		c := good(freq.NewCurve(g, want, "", "dB", freq.Basis{}))(t)
		mean = good(c.Mean(150, 300))(t)
		if math.Abs(loss.Level-mean) > 1e-6 {
			t.Errorf("level lost is %.6f dB, want %.6f", loss.Level, mean)
		}
		for i := range want {
			if math.Abs(loss.Shape.At(i)-(want[i]-mean)) > 1e-6 {
				t.Errorf("shape at %.1f Hz is %.6f dB, want %.6f", g.At(i), loss.Shape.At(i), want[i]-mean)
			}
		}
		h := good(passive.On(g))(t).Ways[0].ResponseTo(nil, g)
		if (real(h[0]) < 0) != polarity {
			t.Errorf("load turned round is %v, response %v", polarity, h[0])
		}
	}
}

func TestPassiveRefusals(t *testing.T) {
	g := good(freq.LogGrid(100, 1000, 3))(t)
	p := demo(t, freq.Gain(6), freq.Gain(5))
	for want, q := range map[string]crossover.Passive{
		"nil":              {},
		"no way":           {Network: p.Network},
		`called "low"`:     {Network: p.Network, Ways: []crossover.Tap{{"low", "woofer"}, {"low", "tweeter"}}},
		`called "nothing"`: {Network: p.Network, Ways: []crossover.Tap{{"low", "nothing"}}},
		"want a load":      {Network: p.Network, Ways: []crossover.Tap{{"low", "choke"}}},
		"finite value ≥ 0": {Network: p.Network, Ways: p.Ways, Source: network.Source{L: -1}},
	} {
		if _, err := q.On(g); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error is %v, want one with %q", err, want)
		}
	}
	if _, err := p.SeriesLoss("nothing", g, 100, 1000); err == nil {
		t.Error("loss of a way that is not there is accepted")
	}
	d := good(p.On(g))(t)
	b := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}
	unit := func(g *freq.Grid, b freq.Basis) freq.Response { return good(freq.Evaluate(freq.Gain(1), g, "", b))(t) }
	ok, input, half := unit(g, b), b, b
	input.Per, half.Space = freq.PerInput, freq.HalfSpace
	for want, drivers := range map[string][]freq.Response{
		"1 drivers, want 2":   {ok},
		"at its terminals":    {ok, unit(g, input)},
		`as that of "low"`:    {ok, unit(g, half)},
		`driver of "high" is`: {ok, unit(good(freq.LogGrid(100, 1000, 4))(t), b)},
	} {
		if _, err := d.Sum(drivers, ""); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("sum: error is %v, want one with %q", err, want)
		}
		if _, err := d.Sensitivities(drivers); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("sensitivities: error is %v, want one with %q", err, want)
		}
	}
}
