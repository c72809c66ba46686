package activerc_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/activerc"
	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/report"
	"example.org/loudspeaker/speakerlib/signalpath"
)

// An invented amplifier of audio grade.
var audio = activerc.Amplifier{
	Name: "audio", GBW: 10e6, DCGain: 1e5, Voltage: 5e-9, VoltageCorner: 50, Current: 0.5e-12, CurrentCorner: 200,
	Swing: 11, Slew: 9e6,
}

func crossover(t testing.TB, b analog.Band, a activerc.Amplifier) *activerc.Chain {
	t.Helper()
	f, err := analog.Design(b, analog.LinkwitzRiley(4))
	if err != nil {
		t.Fatal(err)
	}
	c, err := activerc.RealiseAll(f.Sections(), a, activerc.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Low-pass and high-pass of Linkwitz–Riley sum to an all-pass (S. H. Linkwitz, JAES 24, 1976),
// built of E96 and E12 to within what the values leave.
func TestLinkwitzRileySumsFlat(t *testing.T) {
	lp := crossover(t, analog.Lowpass{Fc: 2200}, activerc.Amplifier{})
	hp := crossover(t, analog.Highpass{Fc: 2200}, activerc.Amplifier{})
	g := grid(t, 20, 20e3, 24)
	a, b := lp.ResponseTo(nil, g), hp.ResponseTo(nil, g)
	polarity := complex(1, 0)
	if lp.Inverted() != hp.Inverted() {
		polarity = -1
	}
	for i := range a {
		if e := level.DB(cmplx.Abs(a[i] + polarity*b[i])); math.Abs(e) > 0.04 {
			t.Errorf("sum at %g Hz is %.3f dB, want within 0.04 dB of 0", g.At(i), e)
		}
	}
}

// The figures against what they are made of.
func TestFigures(t *testing.T) {
	c := crossover(t, analog.Highpass{Fc: 2200}, audio)
	g := grid(t, 20, 20e3, 12)
	ones := make([]complex128, g.Len())
	for i := range ones {
		ones[i] = complex(0.4, 0) // 86 dB at 1 V
	}
	p, err := freq.NewResponse(g, ones, "tweeter", freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1})
	if err != nil {
		t.Fatal(err)
	}
	k := activerc.Conditions{
		After: activerc.After{Gain: freq.Gain(10), Acoustic: p}, From: 1000, To: 20e3,
		Tolerances: activerc.Tolerances{R: 0.01, C: 0.02}, Trials: activerc.Trials{Samples: 400, Seed: 1},
	}
	f, err := c.Figures("analogue", g, k)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v", f)
	// error: by the definition, on the band
	worst := 0.0
	h, want := c.ResponseTo(nil, g), c.Target().ResponseTo(nil, g)
	for i := range h {
		if hz := g.At(i); hz >= 1000 {
			if e := level.DB(cmplx.Abs(h[i] / want[i])); math.Abs(e) > math.Abs(worst) {
				worst = e
			}
		}
	}
	if math.Abs(f.ErrorDB-worst) > 1e-9 {
		t.Errorf("response error is %g dB, want %g", f.ErrorDB, worst)
	}
	if math.Abs(f.ErrorDB) > 0.1 {
		t.Errorf("response error is %.3f dB, want less than 0.1", f.ErrorDB)
	}
	// noise: a flat acoustic response turns A-weighted volts into pressure
	v, err := c.Volts(g, level.A, activerc.RoomTemperature)
	if err != nil {
		t.Fatal(err)
	}
	if w := level.SPL(v * 10 * 0.4); math.Abs(f.NoiseSPL-w) > 1e-9 {
		t.Errorf("noise is %g dB(A), want %g", f.NoiseSPL, w)
	}
	// a follower of finite gain-bandwidth is late by 1/ω_t: two of them
	if lag := 2 / (2 * math.Pi * audio.GBW); f.Latency < 0 || f.Latency > 10*lag+0.01/2200 {
		t.Errorf("latency is %g s, want some %g", f.Latency, lag)
	}
	if f.SpreadDB < 0.1 || f.SpreadDB > 1 {
		t.Errorf("spread is %g dB for parts of 1 and 2 %%, want some tenths", f.SpreadDB)
	}
	if f.MaxInput < 5 || f.MaxInput > 11.05 {
		t.Errorf("input is at most %g V, want hardly more than the swing of 11 V", f.MaxInput)
	}
	for name, change := range map[string]func(*activerc.Conditions){
		"no acoustic response": func(k *activerc.Conditions) { k.After.Acoustic = freq.Response{} },
		"band outside":         func(k *activerc.Conditions) { k.From, k.To = 30e3, 40e3 },
		"half a band":          func(k *activerc.Conditions) { k.From, k.To = 1000, 0 },
		"few samples":          func(k *activerc.Conditions) { k.Trials.Samples = 1 },
		"temperature":          func(k *activerc.Conditions) { k.Kelvin = -3 },
	} {
		bad := k
		change(&bad)
		if _, err := c.Figures("", g, bad); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// What is compared with itself, late and louder, is late and louder by as much.
func TestCompare(t *testing.T) {
	band := grid(t, 100, 10e3, 12)
	target := crossover(t, analog.Lowpass{Fc: 2200}, audio).Target()
	f, err := activerc.Compare("late", freq.Series{target, freq.Delay(1.2e-3), freq.Gain(1.1)}, target, band)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(f.Latency-1.2e-3) > 1e-9 || math.Abs(f.ErrorDB-0.827853703) > 1e-8 { // 20·lg 1.1
		t.Errorf("latency is %g s and error %g dB, want 1.2 ms and 0.827853703 dB", f.Latency, f.ErrorDB)
	}
	measured, err := freq.Evaluate(target, band, "measured", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string][2]freq.Transfer{
		"measured": {measured, target}, "silence": {freq.Gain(0), target}, "silent target": {target, freq.Gain(0)}, "nothing": {nil, target}, "no target": {target, nil},
	} {
		if _, err := activerc.Compare("", x[0], x[1], band); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// As an element of a signal path, in front of a power amplifier and a driver, the chain makes the
// same noise as by its own figure: another package, other quadrature.
func TestNoiseInASignalPath(t *testing.T) {
	c := crossover(t, analog.Highpass{Fc: 2200}, audio)
	g := grid(t, 20, 20e3, 48)
	pa := make([]complex128, g.Len())
	for i, w := range g.Omega() {
		pa[i] = complex(0.4, 0) / complex(1, w/(2*math.Pi*9e3))
	}
	p, err := freq.NewResponse(g, pa, "tweeter", freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1})
	if err != nil {
		t.Fatal(err)
	}
	own, err := c.SPL(activerc.After{Gain: freq.Gain(10), Acoustic: p}, 300)
	if err != nil {
		t.Fatal(err)
	}
	noise, err := c.Noise(g, 300, "crossover")
	if err != nil {
		t.Fatal(err)
	}
	path := signalpath.Path{
		Name: "tweeter",
		Elements: []signalpath.Element{
			signalpath.Amplifier{Name: "crossover", Gain: 1, Transfer: c, Noise: signalpath.Density[signalpath.Volt]{Curve: noise}},
			signalpath.Amplifier{Name: "power amplifier", Gain: 10},
		},
		Driver: signalpath.Driver{Name: "tweeter", Impedance: freq.Gain(6), Pressure: p},
	}
	s, err := path.On(g)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := signalpath.IdleNoise(signalpath.NoiseSetup{Distance: 1, Air: air.Room(), Weighting: level.A}, []float64{1}, s)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if math.Abs(r.Level-own) > 0.01 {
			t.Errorf("noise of %s is %.3f dB(A), want %.3f", r.Way, r.Level, own)
		}
	}
	if len(rows) == 0 {
		t.Error("no rows")
	}
}

// A slow amplifier moves f0 and Q, and the stage says so.
func TestResonanceMovesWithTheAmplifier(t *testing.T) {
	st, err := activerc.Realise(activerc.Lowpass(10e3, 3, 1), activerc.Amplifier{GBW: 3e6}, activerc.Options{Uncorrected: true})
	if err != nil {
		t.Fatal(err)
	}
	ideal, real, err := st.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	f0, q, fr, qr := ideal.F0, ideal.Q, real.F0, real.Q
	if math.Abs(f0/10e3-1) > 0.01 || math.Abs(q/3-1) > 0.01 {
		t.Errorf("ideal resonance is %.5g Hz, Q %.4g, want 10 kHz and 3 within 1 %%", f0, q)
	}
	// by hand, to first order in 1/ω_t: Δf0/f0 = −½·(R1C1 + R1C2 + R2C2)/(R1R2C1C2·ω_t), and Q rises by
	// as much as f0 falls
	v := map[string]float64{}
	for _, p := range st.Circuit().Parts() {
		v[p.Name] = p.Value
	}
	a1 := v["R1"]*(v["C1"]+v["C2"]) + v["R2"]*v["C2"]
	want := -a1 / (2 * v["R1"] * v["R2"] * v["C1"] * v["C2"] * 2 * math.Pi * 3e6)
	if off := (fr/f0 - 1) / want; off < 0.9 || off > 1.1 {
		t.Errorf("f0 falls to %.6g Hz, %.3g times what first order says", fr, off)
	}
	if off := (1 - qr/q) / want; off < 0.8 || off > 1.2 {
		t.Errorf("Q rises to %.6g, %.3g times what first order says", qr, off)
	}
	first, err := activerc.Realise(activerc.FirstLowpass(1e3, 1), audio, activerc.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if i, r, err := first.Resonance(); err != nil || i.Q != 0 || math.Abs(i.F0/1e3-1) > 0.01 || math.Abs(r.F0/i.F0-1) > 1e-3 {
		t.Errorf("first order: %+v, with the amplifier %+v (%v), want 1 kHz and no Q", i, r, err)
	}
}

// Values that make up for a slow amplifier put the poles where the target has them.
func TestCorrectionPutsThePolesBack(t *testing.T) {
	for _, c := range []struct {
		name string
		s    analog.Section
		t    activerc.Topology
		gbw  float64
		q    float64
	}{
		{"Sallen–Key", activerc.Lowpass(10e3, 3, 1), activerc.SallenKey, 3e6, 3},
		{"multiple feedback", activerc.Lowpass(10e3, 3, 1), activerc.MultipleFeedback, 3e6, 3},
		{"state variable", activerc.Lowpass(5e3, 8, 1), activerc.StateVariable, 3e6, 8},
		{"all-pass", activerc.Allpass(8e3, 2), activerc.BandpassSum, 1.5e6, 2},
	} {
		a := activerc.Amplifier{GBW: c.gbw}
		st, err := activerc.Realise(c.s, a, activerc.Options{Topology: c.t})
		if err != nil {
			t.Fatal(err)
		}
		plain, err := activerc.Realise(c.s, a, activerc.Options{Topology: c.t, Uncorrected: true})
		if err != nil {
			t.Fatal(err)
		}
		f0 := math.Sqrt(c.s.D0) / (2 * math.Pi)
		_, r, err := st.Resonance()
		if err != nil {
			t.Fatal(err)
		}
		_, p, err := plain.Resonance()
		if err != nil {
			t.Fatal(err)
		}
		fr, qr, fp, qp := r.F0, r.Q, p.F0, p.Q
		e, _ := st.Error()
		ep, _ := plain.Error()
		t.Logf("%s: %.5g Hz, Q %.4g (uncorrected %.5g Hz, Q %.4g), error %.2g (%.2g)", c.name, fr, qr, fp, qp, e, ep)
		if math.Abs(fr/f0-1) > 0.005 || math.Abs(qr/c.q-1) > 0.01 {
			t.Errorf("%s: poles are at %.5g Hz, Q %.4g, want %.5g Hz and %g", c.name, fr, qr, f0, c.q)
		}
		if math.Abs(fp/f0-1) < 0.005 && math.Abs(qp/c.q-1) < 0.01 || e > 1.05*ep {
			t.Errorf("%s: without correction %.5g Hz, Q %.4g and an error of %.2g, with it %.2g: want less", c.name, fp, qp, ep, e)
		}
	}
}

func TestPartsList(t *testing.T) {
	c := crossover(t, analog.Lowpass{Fc: 2200}, audio)
	rows := c.PartsList()
	seen := map[string]bool{}
	for _, r := range rows {
		if seen[r.Designator] {
			t.Errorf("%s is there twice", r.Designator)
		}
		seen[r.Designator] = true
		switch {
		case r.Kind == "resistor" && !strings.HasSuffix(r.Value, "kΩ"), r.Kind == "capacitor" && !strings.HasSuffix(r.Value, "nF"),
			r.Kind == "amplifier" && r.Value != "audio":
			t.Errorf("%s is a %s of %q", r.Designator, r.Kind, r.Value)
		}
	}
	if r := rows[9]; r.From != "p2, out" || r.To != "out" { // the follower of the last stage
		t.Errorf("nodes of %s are %q and %q, want its inputs p2, out and its output out", r.Designator, r.From, r.To)
	}
	if r := rows[5]; r.From != "out1" {
		t.Errorf("%s begins on %q, want the output of the first stage, out1", r.Designator, r.From)
	}
	if len(rows) != 10 || !seen["R101"] || !seen["C202"] || !seen["U201"] {
		t.Errorf("list has %d rows, want 10 from R101 to U201: %+v", len(rows), rows)
	}
}

// A title cannot bring cards of its own into the netlist.
func TestNetlistTitleIsOneLine(t *testing.T) {
	c := crossover(t, analog.Lowpass{Fc: 2200}, activerc.Amplifier{})
	n, err := c.Netlist("title\nR999 in 0 1\r.end", 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(strings.TrimSpace(n), "\n") {
		if i == 0 != strings.HasPrefix(line, "*") || strings.HasPrefix(line, "R999") {
			t.Errorf("line %d is %q", i, line)
		}
	}
	if _, err := c.Netlist("", math.Inf(1)); err == nil {
		t.Error("an infinite temperature passes, want an error")
	}
}

// Rows are tables of package report.
func TestRowsAreTables(t *testing.T) {
	c := crossover(t, analog.Lowpass{Fc: 2200}, activerc.Amplifier{})
	if _, err := report.NewTable("parts", c.PartsList()); err != nil {
		t.Error(err)
	}
	h, err := c.Headroom(grid(t, 20, 20e3, 12))
	if err != nil {
		t.Fatal(err)
	}
	table, err := report.NewTable("headroom", h)
	if err != nil {
		t.Fatal(err)
	}
	if s := table.Text(); !strings.Contains(s, "U1") {
		t.Errorf("table is\n%s", s)
	}
	if _, err := report.NewTable("figures", []activerc.Figures{{Name: "analogue", MaxInput: math.Inf(1)}}); err != nil {
		t.Error(err)
	}
	r, err := activerc.DelayFor(100e-6, 2000, 1e-6, activerc.MaximallyFlat)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := report.NewTable("delay", []activerc.DelayReach{r}); err != nil {
		t.Error(err)
	}
}

// A chain and another behind it.
func TestThen(t *testing.T) {
	a, b := crossover(t, analog.Lowpass{Fc: 2200}, audio), crossover(t, analog.Highpass{Fc: 300}, audio)
	g := grid(t, 20, 20e3, 3)
	ha, hb := a.ResponseTo(nil, g), b.ResponseTo(nil, g)
	for i, h := range a.Then(b).ResponseTo(nil, g) {
		if want := ha[i] * hb[i]; cmplx.Abs(h-want) > 1e-12*cmplx.Abs(want) {
			t.Errorf("at %g Hz it is %v, want %v", g.At(i), h, want)
		}
	}
	if n := len(a.Then(b).Stages()); n != 4 || len(a.Stages()) != 2 {
		t.Errorf("%d stages and %d in the first, want 4 and 2", n, len(a.Stages()))
	}
}

func TestChainsRefused(t *testing.T) {
	if _, err := activerc.NewChain(); err == nil {
		t.Error("a chain without stages passes")
	}
	if _, err := activerc.NewChain(nil); err == nil {
		t.Error("a chain with no stage in it passes")
	}
	if _, err := activerc.RealiseAll([]analog.Section{activerc.Lowpass(1e3, 1, 1), {}}, audio, activerc.Options{}); err == nil || !strings.Contains(err.Error(), "section 2 of 2") {
		t.Errorf("error is %v, want one that names section 2 of 2", err)
	}
}
