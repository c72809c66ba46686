package signalpath_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/signalpath"
)

// testdata/ramp.cir, ngspice 39, .tran: 0.5 V at the amplifier along half a cosine of 0.5 ms, at
// the terminals and at the coil's inner node, which stands for the sound here. The step of the
// simulation is 1 µs.
func TestTransientAgreesWithCircuitSimulation(t *testing.T) {
	rows := readTable(t, "testdata/ramp_ngspice.txt", 3)
	p := tweeterPath()
	p.Driver.Pressure = network.Impedance(func(dst []complex128, g *freq.Grid) []complex128 {
		dst = tweeterImpedance().ResponseTo(dst, g)
		for i, w := range g.Omega() {
			dst[i] = motional(w) / dst[i]
		}
		return dst
	})
	const rate = 480000
	e := must(signalpath.Switched("amplifier", 0.5, 0.5e-3, 0.012, rate))(t)
	got := must(p.Transient(e))(t)
	volts, inner := must(got.Terminals.Channel(0))(t), must(got.Pressure.Channel(0))(t)
	for _, r := range rows {
		i := int(math.Round(r[0] * rate))
		if d := math.Abs(volts[i] - r[1]); d > 3e-6 {
			t.Errorf("terminals at %g ms: %.6f V, want %.6f", r[0]*1e3, volts[i], r[1])
		}
		if d := math.Abs(inner[i] - r[2]); d > 3e-6 {
			t.Errorf("inner node at %g ms: %.6f V, want %.6f", r[0]*1e3, inner[i], r[2])
		}
	}
	if got.Volts < 0.15 || got.Volts > 0.25 {
		t.Errorf("peak is %g V", got.Volts)
	}
}

// dcPath is an amplifier and a resistance that moves a cone by 1 mm/V, and sounds behind a
// high-pass of the first order at 100 Hz, 1 Pa/V: invented.
func dcPath() signalpath.Path {
	_, basis := evenPressure(1)
	w0 := 2 * math.Pi * 100
	return signalpath.Path{Name: "way",
		Elements: []signalpath.Element{signalpath.Amplifier{Name: "amplifier", Gain: 10, Offset: 0.02, Output: network.Source{R: 2}}},
		Driver: signalpath.Driver{Name: "driver", Impedance: ohms(8), Basis: basis, Displacement: freq.Gain(1e-3),
			Pressure: &freq.PolyRatio{Num: freq.NewPoly(0, 1), Den: freq.NewPoly(w0, 1)}}}
}

// Closed form: behind a high-pass of the first order with the corner ω₀, y′ + ω₀y = u′, a raised
// cosine of the length T gives for t ≤ T and with β = π/T
//
//	y = ½·β/(β² + ω₀²)·(ω₀·sin βt − β·cos βt + β·e^{−ω₀t})
//
// of its height. The terminals have 8/10 of the offset, for ever, behind 2 Ω.
func TestThumpOfAnOffset(t *testing.T) {
	p := dcPath()
	const ramp, rate, w0 = 5e-3, 48000.0, 2 * math.Pi * 100
	rows := must(p.Thumps(ramp, 0.2, rate))(t)
	beta := math.Pi / ramp
	var want float64
	for i := range int(ramp*rate) + 1 {
		x := float64(i) / rate
		y := 0.02 * 0.8 * 0.5 * beta / (beta*beta + w0*w0) * (w0*math.Sin(beta*x) - beta*math.Cos(beta*x) + beta*math.Exp(-w0*x))
		want = max(want, y)
	}
	if r := rows[0]; len(rows) != 1 || math.Abs(r.Volts-0.016) > 1e-6 || math.Abs(r.Move-16e-6) > 1e-9 || math.Abs(r.Level-level.DB(want/20e-6)) > 1e-3 {
		t.Errorf("rows are %+v, want 16 mV, 16 µm, %.4f dB", rows, level.DB(want/20e-6))
	}
	bound := 0.2 * 0.016
	short := must(p.RampFor("amplifier", 0.02, bound, 0.4, rate))(t)
	at := func(ramp float64) float64 {
		return must(p.Transient(must(signalpath.Switched("amplifier", 0.02, ramp, 0.4, rate))(t)))(t).Pascal
	}
	if a, b := at(short), at(0.97*short); a > bound || b <= bound {
		t.Errorf("ramp of %g s: %g and, 3 %% shorter, %g Pa, want %g between them", short, a, b, bound)
	}
	if none := must(p.RampFor("amplifier", 0.02, 1, 0.4, rate))(t); none != 0 {
		t.Errorf("a bound that a step keeps asks for a ramp of %g s", none)
	}
	if _, err := p.RampFor("amplifier", 0.02, 1e-9, 0.1, rate); err == nil || !strings.Contains(err.Error(), "longer duration than 0.1 s") {
		t.Errorf("a bound out of reach: %v", err)
	}
}

// Each offset on its way: 1e-3 FS in front of a converter of 2 V rms are 2.828 mV behind it, and
// 10 times that in the amplifier, of which 8/10 are at the terminals.
func TestOffsetsOfAllElements(t *testing.T) {
	p := dcPath()
	p.Elements = []signalpath.Element{
		signalpath.ADC{Name: "input", Rate: 48000, FullScale: 2, Offset: 1e-3},
		signalpath.Processor{Name: "processor", Rate: 48000, Offset: -2e-3, Filters: must(digital.NewCascade(48000, digital.LowShelf{F0: 100, Q: 0.7, Gain: 0.5}))(t)},
		signalpath.DAC{Name: "converter", Rate: 48000, FullScale: 2, Offset: 3e-3},
		p.Elements[0],
	}
	rows := must(p.Thumps(0.02, 0.5, 48000))(t)
	want := []float64{1e-3 * 0.5 * 2 * math.Sqrt2 * 10 * 0.8, 2e-3 * 2 * math.Sqrt2 * 10 * 0.8, 3e-3 * 10 * 0.8, 0.02 * 0.8}
	if len(rows) != len(want) {
		t.Fatalf("%d rows: %+v", len(rows), rows)
	}
	for i, v := range want {
		r := rows[i]
		last := i > 0 && math.Abs(r.Volts/v-1) > 1e-6
		// The shelf passes the fast part of the ramp whole, so that the peak is above its end.
		if last || i == 0 && !(r.Volts > 0.999999*v && r.Volts < 2*v) || r.Element != p.Elements[i].Label() {
			t.Errorf("row %d is %+v, want %g V", i, r, v)
		}
	}
	if _, err := p.Thumps(0, 0.5, 96000); err == nil || !strings.Contains(err.Error(), "48000 Hz") {
		t.Errorf("at another rate: %v", err)
	}
}

// testdata/exchange.py: SciPy's sosfilt, whose states are those of the same form.
func TestExchangeKeepsStatesAsSciPyDoes(t *testing.T) {
	rows := readTable(t, "testdata/exchange_scipy.txt", 2)
	x := signalpath.Exchange{
		From: must(digital.NewCascade(96000, digital.Highpass{F0: 30, Q: math.Sqrt2 / 2}, digital.Peak{F0: 50, Q: 2, Gain: 2}))(t),
		To:   must(digital.NewCascade(96000, digital.Highpass{F0: 45, Q: 1.2}, digital.Peak{F0: 80, Q: 1, Gain: 0.5}))(t),
		At:   300,
	}
	in := make([]float64, len(rows))
	for i, r := range rows {
		in[i] = r[0]
	}
	got := must(x.Run(in))(t)
	for i, r := range rows {
		if math.Abs(got[i]-r[1]) > 1e-10 {
			t.Fatalf("sample %d is %.15g, want %.15g", i, got[i], r[1])
		}
	}
	j := must(x.Jump(in))(t)
	own := x.To.NewFilter().Process(nil, in)
	if j.Peak <= j.After || math.Abs(j.Excess-j.Peak/max(j.Before, j.After)) > 1e-15 || math.Abs(got[300+j.Settled-1]-own[300+j.Settled-1]) <= j.After/1000 {
		t.Errorf("jump is %+v", j)
	}
}

// A change to the same coefficients is none; with the states at rest it is another start; a mute
// is silent for its time, and its gain is half in the middle of the ramp.
func TestExchangeAndMute(t *testing.T) {
	c := must(must(digital.NewCascade(48000, digital.Highpass{F0: 30, Q: 0.7}))(t).WithDelay(7))(t)
	in := make([]float64, 400)
	for i := range in {
		in[i] = math.Sin(float64(i)/5) + 0.3
	}
	want := c.NewFilter().Process(nil, in)
	x := signalpath.Exchange{From: c, To: c, At: 200}
	for i, v := range must(x.Run(in))(t) {
		if math.Abs(v-want[i]) > 1e-13 {
			t.Fatalf("sample %d is %g, want %g", i, v, want[i])
		}
	}
	x.Mute = &signalpath.Mute{Ramp: 20, Hold: 50}
	got := must(x.Run(in))(t)
	for i := range got {
		gain := math.NaN()
		switch {
		case i < 187 || i >= 277:
			gain = 1
		case i >= 207 && i < 257+1:
			gain = 0
		case i == 197 || i == 267:
			gain = 0.5
		}
		if !math.IsNaN(gain) && math.Abs(got[i]-gain*want[i]) > 1e-13 {
			t.Errorf("sample %d is %g, want %g of %g", i, got[i], gain, want[i])
		}
	}
	x.Mute, x.Rest = nil, true
	fresh := c.NewFilter().Process(nil, in[200:])
	for i, v := range must(x.Run(in))(t)[207:] {
		if math.Abs(v-fresh[i+7]) > 1e-13 {
			t.Fatalf("sample %d after rest is %g, want %g", i, v, fresh[i+7])
		}
	}
}

// The worst instant is no better than any, and one of those that were asked for.
func TestWorstInstant(t *testing.T) {
	low := func(hz float64) *digital.Cascade {
		return must(digital.NewCascade(48000, digital.Lowpass{F0: hz, Q: 0.7}))(t)
	}
	in := make([]float64, 3000)
	for i := range in {
		in[i] = math.Sin(float64(i) / 90)
	}
	x := signalpath.Exchange{From: low(3000), To: low(100)}
	worst := must(x.Worst(in, 1000, 1570, 30))(t)
	if worst.Excess < 5 || (worst.At-1000)%30 != 0 || worst.At < 1000 || worst.At >= 1570 {
		t.Errorf("worst is %+v", worst)
	}
	for x.At = 1000; x.At < 1570; x.At += 30 {
		if j := must(x.Jump(in))(t); j.Peak > worst.Peak {
			t.Errorf("worse than the worst: %+v", j)
		}
	}
	if _, err := x.Worst(in, 10, 10, 1); err == nil {
		t.Error("no instant is no error")
	}
}

// The gain and the polarity change with the sections; a constant behind gains is only multiplied.
func TestExchangeOfGains(t *testing.T) {
	one := must(digital.NewCascade(48000))(t)
	x := signalpath.Exchange{From: must(one.WithGain(0.5))(t), To: must(one.WithGain(3))(t).WithPolarity(true), At: 2}
	got := must(x.Run([]float64{1, 1, 1, 1}))(t)
	for i, want := range []float64{0.5, 0.5, -3, -3} {
		if got[i] != want {
			t.Errorf("samples are %v", got)
			break
		}
	}
	if j := must(x.Jump([]float64{1, 1, 1, 1}))(t); j != (signalpath.Jump{At: 2, Before: 0.5, After: 3, Peak: 3, Excess: 1}) {
		t.Errorf("jump is %+v", j)
	}
}

// A digital value behind a converter of 2 V rms and a gain of 10 into 8 of 10 Ω: 1e-3 FS are 22.63
// mV. Peaks before Since do not count.
func TestEventOfSamples(t *testing.T) {
	p := dcPath()
	p.Elements = []signalpath.Element{signalpath.Processor{Name: "processor", Rate: 48000}, signalpath.DAC{Name: "converter", Rate: 48000, FullScale: 2}, p.Elements[0]}
	e := signalpath.Event{At: "processor", Samples: make([]float64, 4800), SampleRate: 48000}
	for i := range e.Samples {
		e.Samples[i] = 1e-3
	}
	for i := range 100 {
		e.Samples[i] = 1
	}
	e.Since = 2000
	got := must(p.Transient(e))(t)
	if want := 1e-3 * 2 * math.Sqrt2 * 10 * 0.8; math.Abs(got.Volts/want-1) > 1e-3 {
		t.Errorf("peak is %g V, want %g", got.Volts, want)
	}
	e.Since = 0
	if all := must(p.Transient(e))(t); all.Volts < 22 {
		t.Errorf("peak of all is %g V", all.Volts)
	}
	for _, c := range []struct {
		change func(*signalpath.Event)
		want   string
	}{
		{func(e *signalpath.Event) { e.Since = 4800 }, "sample 4800 of 4800"},
		{func(e *signalpath.Event) { e.SampleRate = 96000 }, "sampled at 96000 Hz, want the rate there, 48000 Hz"},
	} {
		bad := e
		c.change(&bad)
		if _, err := p.Transient(bad); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want %q in it", err, c.want)
		}
	}
	p.Elements = append(p.Elements, signalpath.SeriesCapacitor{Name: "capacitor", C: 1e-5})
	if _, err := p.Transient(signalpath.Event{At: "capacitor", Samples: []float64{1, 1}, SampleRate: 48000}); err == nil || !strings.Contains(err.Error(), "of its own") {
		t.Errorf("event of a capacitor: %v", err)
	}
}

func TestSwitchingRefusals(t *testing.T) {
	two := must(digital.NewCascade(48000, digital.Highpass{F0: 30, Q: 1}, digital.Highpass{F0: 30, Q: 1}))(t)
	one := must(digital.NewCascade(48000, digital.Highpass{F0: 30, Q: 1}))(t)
	other := must(digital.NewCascade(96000, digital.Highpass{F0: 30, Q: 1}))(t)
	for _, c := range []struct {
		x    signalpath.Exchange
		want string
	}{
		{signalpath.Exchange{From: one}, "two cascades"},
		{signalpath.Exchange{From: one, To: other}, "48000 Hz for one at 96000 Hz"},
		{signalpath.Exchange{From: one, To: two}, "1 sections for 2"},
		{signalpath.Exchange{From: one, To: one, At: -1}, "sample -1"},
		{signalpath.Exchange{From: one, To: one, At: 5, Mute: &signalpath.Mute{Ramp: 6}}, "6 samples down before sample 5"},
		{signalpath.Exchange{From: one, To: must(one.WithDelay(1))(t)}, "delay of 0 samples for 1"},
	} {
		if err := c.x.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want %q in it", err, c.want)
		}
	}
	p := dcPath()
	for _, c := range []struct {
		e    signalpath.Event
		want string
	}{
		{signalpath.Event{At: "amplifier", Samples: []float64{1}, SampleRate: 48000}, "1 samples"},
		{signalpath.Event{At: "amplifier", Samples: []float64{1, math.NaN()}, SampleRate: 48000}, "sample 1"},
		{signalpath.Event{At: "amplifier", Samples: []float64{1, 1}}, "sample rate"},
		{signalpath.Event{At: "nobody", Samples: []float64{1, 1}, SampleRate: 48000}, `no element "nobody"`},
	} {
		if _, err := p.Transient(c.e); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want %q in it", err, c.want)
		}
	}
	g := must(freq.NewGrid([]float64{100, 1000}))(t)
	p.Driver.Pressure = must(freq.Evaluate(freq.Gain(1), g, "measured", p.Driver.Basis))(t)
	if _, err := p.Thumps(0, 0.1, 48000); err == nil {
		t.Error("a measured pressure on its own grid has a transient")
	}
}
