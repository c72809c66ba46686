package limits_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/signal"
)

// Pink noise from a to b through a first-order low-pass at c:
// ∫df/(f·(1+(f/c)²)) = ½·ln((b²/(b²+c²))·((a²+c²)/a²)) against ln(b/a).
func TestRMSOfAProgramme(t *testing.T) {
	const a, b, c = 20.0, 20e3, 500.0
	g, err := freq.LogGrid(a, b, 24)
	if err != nil {
		t.Fatal(err)
	}
	low := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1/(2*math.Pi*c))}
	end := g.Last()
	want := math.Sqrt(0.5 * math.Log(end*end/(end*end+c*c)*(a*a+c*c)/(a*a)) / math.Log(end/a))
	p, err := limits.NewProgramme(signal.Pink{}, 2, g)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := p.RMS(low); err != nil || math.Abs(got/want-1) > 2e-4 {
		t.Errorf("rms %.6f, %v, want %.6f", got, err, want)
	}
	n, err := signal.NewNoise(signal.NoiseSetup{SampleRate: 48e3, Duration: 5, From: a, To: end, Shape: signal.Pink{}, Crest: 3, Seed: 5})
	if err != nil {
		t.Fatal(err)
	}
	of, err := limits.ProgrammeOf(n.Clip, 0, g)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := of.RMS(low); err != nil || math.Abs(got/want-1) > 5e-3 || of.Crest() > n.Crest*(1+1e-9) || of.Crest() < 0.9*n.Crest {
		t.Errorf("of a clip: rms %.6f, %v, want %.6f; crest %g, want %g", got, err, want, of.Crest(), n.Crest)
	}
}

// A resistance on a sine of the bound's input reaches the allowed rise exactly: the
// steady rise of that input is what was asked for, by another way through the code
// and by the sum of resistances, ΔT = ΣR·U²/Re(T).
func TestHeatBoundIsTheAllowedRise(t *testing.T) {
	output, _, _, _ := closedBox(t)
	c := limits.Coil{Re: 5.5, Wire: limits.Copper, Thermal: limits.Thermal{{Resistance: 3, Capacity: 6}, {Resistance: 1.2, Capacity: 900}}, MaxRise: 130}
	hot := freq.Gain(1 / (5.5 * limits.Copper.Ratio(130)))
	sine, err := c.Bound("woofer", hot)
	if err != nil {
		t.Fatal(err)
	}
	g, _ := freq.LogGrid(20, 20e3, 12)
	programme, err := limits.NewProgramme(signal.Programme{}, 2, g)
	if err != nil {
		t.Fatal(err)
	}
	noise, err := c.ProgrammeBound("woofer", hot, programme)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range []struct {
		limits.Bound
		crest float64
	}{{sine, math.Sqrt2}, {noise, 2}} {
		ceiling, err := limits.NewCeiling(output, []limits.Bound{b.Bound})
		if err != nil {
			t.Fatal(err)
		}
		rms := ceiling.Input.At(7) / b.crest
		if want := 4.2 * rms * rms / (5.5 * (1 + 0.00393*130)); math.Abs(want-130) > 1e-9 {
			t.Errorf("%v: %.6f V rms give a rise of %.9f K, want 130", b.Bound, rms, want)
		}
		w, err := c.Steady(rms, freq.Gain(1), freq.Gain(1/5.5), programme)
		if err != nil || math.Abs(w.Rise-130) > 1e-9 {
			t.Errorf("%v: %+v, %v, want a rise of 130 K", b.Bound, w, err)
		}
	}
}

// A heat bound gives the same level with output and current of the cold coil as with
// those of the hot one, and Hot is the model with the hot driver (both from the
// circuit: a resistance in series changes nothing per ampere; no source).
func TestHotIsTheHotDriver(t *testing.T) {
	cold := way(t)
	hot := cold.Hottest()
	mc, err := cold.Motion()
	if err != nil {
		t.Fatal(err)
	}
	mh, err := hot.Motion()
	if err != nil {
		t.Fatal(err)
	}
	g := study(t).Grid
	added := cold.Mounted.Driver.Re * (limits.Copper.Ratio(cold.Coil.MaxRise) - 1)
	for k, pair := range [][2]freq.Transfer{{mc.Pressure, mh.Pressure}, {mc.Cone, mh.Cone}, {mc.Current, mh.Current}, {mc.VentAir, mh.VentAir}} {
		want := pair[1].ResponseTo(nil, g)
		for i, z := range (limits.Hot{Of: pair[0], Current: mc.Current, Added: added}).ResponseTo(nil, g) {
			if cmplx.Abs(z-want[i]) > 1e-12*cmplx.Abs(want[i]) {
				t.Fatalf("quantity %d at %g Hz: %v, want %v", k, g.At(i), z, want[i])
			}
		}
	}
	of := func(w limits.Way) *limits.Ceiling {
		c, err := w.Ceiling(g)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	a, b := of(cold), of(hot)
	k := -1
	for i, bound := range a.Bounds() {
		if bound.Cause == limits.Heat {
			k = i
		}
	}
	for i := range g.Len() {
		if math.Abs(a.Each[k].At(i)-b.Each[k].At(i)) > 1e-9 {
			t.Fatalf("heat at %g Hz: %.6f dB cold and %.6f hot, want the same", g.At(i), a.Each[k].At(i), b.Each[k].At(i))
		}
	}
	// Where volts bind, heat costs what it costs in level: at most the ratio of Re.
	last := g.Len() - 1
	if loss := a.Each[3].At(last) - b.Each[3].At(last); a.Bounds()[3].Cause != limits.Volts || loss < 1 || loss > level.DB(limits.Copper.Ratio(130)) {
		t.Errorf("%v: hot %.3f dB less at %g Hz", a.Bounds()[3], loss, g.At(last))
	}
}

func TestHeatRefusals(t *testing.T) {
	good := limits.Coil{Re: 5.5, Wire: limits.Copper, Thermal: limits.Thermal{{Resistance: 3, Capacity: 6}}, MaxRise: 130}
	g, _ := freq.LogGrid(20, 20e3, 3)
	p, _ := limits.NewProgramme(signal.Pink{}, 2, g)
	for want, change := range map[string]func(*limits.Coil){
		"coil of 0 Ω":    func(c *limits.Coil) { c.Re = 0 },
		"0 per K":        func(c *limits.Coil) { c.Wire = 0 },
		"+Inf K allowed": func(c *limits.Coil) { c.MaxRise = math.Inf(1) },
		"no stage":       func(c *limits.Coil) { c.Thermal = nil },
		"in percent":     func(c *limits.Coil) { c.Wire = 0.393 },
	} {
		c := good
		change(&c)
		if _, err := c.Bound("woofer", freq.Gain(1)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
		if _, err := c.Steady(1, freq.Gain(1), freq.Gain(1), p); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
	if _, err := good.Steady(math.NaN(), freq.Gain(1), freq.Gain(1), p); err == nil {
		t.Error("NaN volts were accepted")
	}
	if w, err := good.Steady(0, freq.Gain(1), freq.Gain(1), p); err != nil || w != (limits.Warmth{Ratio: 1, Compression: 1}) {
		t.Errorf("silence: %+v, %v", w, err)
	}
	if _, err := good.ProgrammeBound("woofer", freq.Gain(1), limits.Programme{}); err == nil || !strings.Contains(err.Error(), "programme is empty") {
		t.Errorf("an empty programme: %v", err)
	}
	if _, err := limits.NewProgramme(signal.Pink{}, 0.5, g); err == nil {
		t.Error("a crest below 1 was accepted")
	}
	if _, err := limits.NewProgramme(nil, 2, g); err == nil {
		t.Error("a programme without a shape was accepted")
	}
}
