package network_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/signal"
)

// Values that nobody means, next to some that somebody may.
var absurd = []float64{0, -1, math.NaN(), math.Inf(1), math.Inf(-1), 5e-324, 1e-300, 1e-12, 1, 1e12, 1e300, math.MaxFloat64}

// judge is what must hold whatever went in: an error that names the package and says what
// it had and wants, or voltages, currents and powers that are finite.
func judge(t *testing.T, what string, parts []network.Part, source network.Source, err error) {
	t.Helper()
	check := func(err error) bool {
		t.Helper()
		if err == nil {
			return true
		}
		if s := err.Error(); !strings.Contains(s, ": ") || strings.Contains(s, "%!") || !strings.Contains(s, "want") && !strings.Contains(s, "not determined") {
			t.Errorf("%s: error %q, want one that says what is wanted", what, s)
		}
		return false
	}
	if !check(err) {
		return
	}
	net, err := network.New("in", parts...)
	if !check(err) {
		return
	}
	plan, err := network.NewPlan(net, grid(t, 1, 1e5, 1), source)
	if !check(err) {
		return
	}
	sol, err := plan.Solve()
	if !check(err) {
		return
	}
	for _, p := range parts {
		port := must(plan.Across(p.Label()))(t)
		for i, v := range sol.VoltageTo(nil, port) {
			if cmplx.IsNaN(v) || cmplx.IsInf(v) {
				t.Errorf("%s: %v across %q at %g Hz", what, v, p.Label(), plan.Grid().At(i))
				return
			}
		}
		if _, err := sol.Current(p.Label()); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	rows, err := sol.Stress(network.Drive{Shape: signal.Pink{}, Volts: 10, From: 1, To: 1e5, Peak: 40})
	if !check(err) {
		return
	}
	for _, r := range rows {
		for _, v := range []float64{r.Watts, r.Volts, r.Amperes, r.PeakVolts, r.PeakAmps, r.SineWatts} {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
				t.Errorf("%s: %+v", what, r)
				break
			}
		}
	}
}

func TestNetworksOfAbsurdValues(t *testing.T) {
	load := network.Resistor{Name: "load", A: "a", B: "0", R: 8}
	for _, a := range absurd {
		judge(t, fmt.Sprintf("resistor of %g", a), []network.Part{network.Resistor{Name: "X", A: "in", B: "a", R: a}, load}, network.Source{}, nil)
		judge(t, fmt.Sprintf("load of %g", a), []network.Part{load, network.Load{Name: "X", A: "in", B: "a", Z: freq.Gain(a)}}, network.Source{}, nil)
		judge(t, fmt.Sprintf("source of %g", a), []network.Part{network.Resistor{Name: "X", A: "in", B: "0", R: 8}}, network.Source{R: a}, nil)
		judge(t, fmt.Sprintf("source with %g Ω measured", a), []network.Part{network.Resistor{Name: "X", A: "in", B: "0", R: 8}}, network.Source{Z: freq.Gain(a)}, nil)
		for _, b := range absurd {
			judge(t, fmt.Sprintf("coil of %g, %g", a, b), []network.Part{network.Inductor{Name: "X", A: "in", B: "a", L: a, R: b}, load}, network.Source{}, nil)
			judge(t, fmt.Sprintf("capacitor of %g, %g", a, b), []network.Part{network.Capacitor{Name: "X", A: "in", B: "a", C: a, ESR: b}, load}, network.Source{L: 1e-6}, nil)
			judge(t, fmt.Sprintf("core of %g, %g turns", a, b), []network.Part{network.Transformer{Name: "X", Magnetising: a,
				Windings: []network.Winding{{A: "in", B: "0", Turns: 1, R: 0.1}, {A: "a", B: "0", Turns: b, R: 0.1}}}, load}, network.Source{R: 0.1}, nil)
			judge(t, fmt.Sprintf("winding of %g Ω, %g H", a, b), []network.Part{network.Transformer{Name: "X", Magnetising: 1,
				Windings: []network.Winding{{A: "in", B: "0", Turns: 1, R: a}, {A: "a", B: "0", Turns: 2, Leakage: b}}}, load}, network.Source{R: 0.1}, nil)
			pad, err := network.PadFor(a, b)
			judge(t, fmt.Sprintf("pad of %g, %g", a, b), append(pad.Parts("P", "in", "a"), load), network.Source{}, err)
			cable, err := network.Cable{Length: a, Area: b, Inductance: a}.Source()
			judge(t, fmt.Sprintf("cable of %g m, %g m²", a, b), []network.Part{network.Resistor{Name: "X", A: "in", B: "0", R: 8}}, cable, err)
			for _, band := range []analog.Band{analog.Lowpass{Fc: a}, analog.Highpass{Fc: a}} {
				parts, err := network.Ladder(band, analog.Butterworth(4), b, "L", "in", "a")
				judge(t, fmt.Sprintf("ladder for %v, %g Ω", band, b), append(parts, load), network.Source{}, err)
			}
			parts, err := network.Flatten(a, b, nil, "F", "in", "0")
			judge(t, fmt.Sprintf("cell of %g, %g", a, b), parts, network.Source{R: 1}, err)
			parts, err = network.Flatten(5.5, 1e-3, &network.Resonator{R: a, L: b, C: 1e-4}, "F", "in", "0")
			judge(t, fmt.Sprintf("branch of %g, %g", a, b), parts, network.Source{R: 1}, err)
		}
	}
}
