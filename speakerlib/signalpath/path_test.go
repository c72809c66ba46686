package signalpath_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/signalpath"
)

func TestPathRefusesWhatDoesNotGoTogether(t *testing.T) {
	g := audio(t)
	c := must(digital.NewCascade(48000, digital.Highpass{F0: 30, Q: 1}))(t)
	change := func(f func(*signalpath.Path)) signalpath.Path {
		p := demoWay(t)
		f(&p)
		return p
	}
	set := func(i int, e signalpath.Element) signalpath.Path {
		return change(func(p *signalpath.Path) { p.Elements[i] = e })
	}
	for _, bad := range []struct {
		p    signalpath.Path
		want string
	}{
		{change(func(p *signalpath.Path) { p.Name = "" }), "no name"},
		{change(func(p *signalpath.Path) { p.Elements = nil }), "no elements"},
		{change(func(p *signalpath.Path) { p.Driver.Impedance = nil }), "no impedance"},
		{change(func(p *signalpath.Path) { p.Driver.Pressure = nil }), "no sound pressure"},
		{change(func(p *signalpath.Path) { p.Driver.Basis.Distance = 0 }), "at a distance > 0"},
		{change(func(p *signalpath.Path) { p.Driver.Basis.Per = freq.PerInput }), "per volt at the terminals"},
		{change(func(p *signalpath.Path) { p.Driver.Impedance = ohms(-1) }), "positive resistance"},
		{change(func(p *signalpath.Path) { p.Driver.Radius = math.NaN() }), "radius"},
		{change(func(p *signalpath.Path) { p.Driver.Re = 16 }), "16 Ω, 2 times its impedance of 8 Ω"},
		{change(func(p *signalpath.Path) {
			p.Elements = append(p.Elements, signalpath.Cable{Name: "cable", Length: 1e200, Resistance: 1e200})
		}), "resistance of all of \"cable\" is +Inf Ω"},
		{change(func(p *signalpath.Path) {
			p.Elements[4] = signalpath.Amplifier{Name: "amplifier", Gain: 1e200}
		}), "at the terminals is NaN V²/Hz"},
		{change(func(p *signalpath.Path) {
			p.Elements[0] = signalpath.Amplifier{Name: "stage", Gain: 1e308, Transfer: freq.Gain(10)}
		}), "response of \"stage\" into its load"},
		{change(func(p *signalpath.Path) { p.Kelvin = -1 }), "temperature"},
		{change(func(p *signalpath.Path) { p.Elements = p.Elements[:3] }), "want volts for its driver"},
		{change(func(p *signalpath.Path) { p.Elements = p.Elements[2:]; p.SourceResistance = 50 }), "takes samples and has a source of 50 Ω"},
		{set(0, nil), "element 1"},
		{set(0, signalpath.Amplifier{Name: "amplifier", Gain: 1}), `two elements "amplifier"`},
		{set(0, signalpath.Cable{Name: "cable", Length: 1}), "no source resistance"},
		{set(1, signalpath.Amplifier{Name: "input", Gain: 1}), "want an A/D converter between them"},
		{set(3, signalpath.Processor{Name: "more", Rate: 96000}), "want a D/A converter between them"},
		{set(2, signalpath.Processor{Name: "processor", Rate: 48000, Filters: c}), "takes samples at 48000 Hz and gets samples at 96000 Hz from \"input\", off by +100 %, want a rate converter"},
		{set(2, signalpath.Processor{Name: "processor", Rate: 96000, Filters: c}), "made for 48000 Hz"},
		{set(2, signalpath.Processor{Name: "processor", Rate: 96000, Block: -3}), "latency of \"processor\" is -3 samples"},
		{set(0, signalpath.Amplifier{Name: "stage"}), "gain of \"stage\" is 0"},
		{set(0, signalpath.Amplifier{Name: "stage", Gain: math.Inf(1)}), "gain"},
		{set(0, signalpath.Amplifier{Name: "stage", Gain: 1, MeasuredInto: ohms(4)}), "has no transfer"},
		{set(0, signalpath.Amplifier{Name: "stage", Gain: 1, InputNoise: signalpath.Density[signalpath.Volt]{White: -1}}), "-1 V²/Hz"},
		{set(0, signalpath.Amplifier{Gain: 1}), "no name"},
		{set(1, signalpath.ADC{Name: "input", Rate: 96000}), "full scale of \"input\" is 0"},
		{set(1, signalpath.ADC{Name: "input", Rate: 96000, FullScale: 2, Offset: math.NaN()}), "offset"},
		{set(1, signalpath.RateConverter{Name: "rates", From: 96000, To: 96000, Ripple: 0.5}), "ripple"},
		{change(func(p *signalpath.Path) {
			p.Elements = append(p.Elements, signalpath.OutputFilter{Name: "filter", L: 1e-5, C: 1e-6, DampR: 4})
		}), "want both or none"},
		{change(func(p *signalpath.Path) {
			p.Elements = append(p.Elements, signalpath.SeriesCapacitor{Name: "capacitor"})
		}), "capacitance"},
		{change(func(p *signalpath.Path) { p.Elements = append(p.Elements, signalpath.Resistor{Name: "pad", R: -1}) }), "resistance"},
	} {
		if _, err := bad.p.On(g); err == nil || !strings.Contains(err.Error(), bad.want) {
			t.Errorf("error is %v, want %q in it", err, bad.want)
		}
	}
	if _, err := demoWay(t).On(nil); err == nil {
		t.Error("no grid is no error")
	}
	if _, err := demoWay(t).With(signalpath.Resistor{Name: "nobody", R: 1}); err == nil {
		t.Error("a place that is not there is no error")
	}
}

func TestPairFindsWhatDiffers(t *testing.T) {
	left := demoWay(t)
	rows := must(signalpath.Pair(left, demoWay(t)))(t)
	if all := rows[len(rows)-1]; !all.Exact || all.Finding != "alike" || all.Lead != 0 {
		t.Errorf("two of a kind: %+v", all)
	}
	c := must(must(digital.NewCascade(96000, digital.Peak{F0: 60, Q: 1, Gain: 2.0000000001}))(t).WithDelay(14))(t)
	d := demoDAC()
	d.Clock = signalpath.Clock{Name: "other", Tolerance: 30e-6}
	late := demoDAC()
	late.Latency = 1
	for _, bad := range []struct {
		e    signalpath.Element
		want signalpath.PairRow
	}{
		{signalpath.Processor{Name: "processor", Rate: 96000, Filters: c, Block: 32}, signalpath.PairRow{Finding: "processor: filters differ"}},
		{d, signalpath.PairRow{Finding: `converter: clocks "crystal" and "other" are not one`, Drift: 80e-6}},
		{late, signalpath.PairRow{Finding: "converter: left is 0 samples late, right 1", Lead: -1}},
	} {
		right, err := demoWay(t).With(bad.e)
		if err != nil {
			t.Fatal(err)
		}
		rows := must(signalpath.Pair(left, right))(t)
		got := rows[len(rows)-1]
		bad.want.Left, bad.want.Right = "all", "all"
		if math.Abs(got.Drift-bad.want.Drift) < 1e-15 {
			got.Drift = bad.want.Drift
		}
		if got != bad.want {
			t.Errorf("got %+v, want %+v", got, bad.want)
		}
	}
	skewed := func(skew float64) signalpath.Path {
		p := demoWay(t)
		p.Elements = append(p.Elements[:3:3], append([]signalpath.Element{signalpath.RateConverter{Name: "rates", From: 96000, To: 96000, Skew: skew}}, p.Elements[3:]...)...)
		return p
	}
	rows = must(signalpath.Pair(skewed(0), skewed(2e-6)))(t)
	if all := rows[len(rows)-1]; all.Exact || all.Skew != 2e-6 || !strings.Contains(all.Finding, "±2 µs") {
		t.Errorf("asynchronous: %+v", all)
	}
	if _, err := signalpath.Pair(left, skewed(0)); err == nil {
		t.Error("paths of another length are compared")
	}
	short := skewed(0)
	short.Elements[3] = signalpath.Processor{Name: "rates", Rate: 96000}
	rows = must(signalpath.Pair(skewed(0), short))(t)
	if r := rows[3]; r.Exact || !strings.Contains(r.Finding, "RateConverter from samples at 96000 Hz") {
		t.Errorf("two kinds: %+v", r)
	}
}
