package release_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/release"
	"example.org/loudspeaker/speakerlib/report"
)

func active(low, high crossover.Chain) crossover.Active {
	low.Name, high.Name = "woofer", "tweeter"
	return crossover.Active{Ways: []crossover.Chain{low, high}}
}

// Ways whose acoustic sum is an all-pass: fourth order at 2 kHz.
func acoustic(t testing.TB) []freq.Response {
	return []freq.Response{write(t, woofer(t)[1:], pressure), write(t, tweeter(t), pressure)}
}

func differ(t testing.TB, a, b crossover.Active) *release.Difference {
	t.Helper()
	d, err := release.Differ(a, b, acoustic(t), 30, 18000)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestDifferenceInClosedForm(t *testing.T) {
	var wire crossover.Chain
	g := grid(t)
	// A gain on both is one in the sum.
	k := crossover.Chain{Stages: freq.Series{freq.Gain(1.1)}}
	d := differ(t, active(wire, wire), active(k, k))
	want := 20 * math.Log(1.1) / math.Ln10
	for _, v := range d.Sum.Values() {
		if math.Abs(v-want) > 1e-9 {
			t.Fatalf("sum changes by %g dB, want %g", v, want)
		}
	}
	// Later by τ at the corner: |1 + e^{−jωτ}|/2 = cos(ωτ/2), by the weights off it.
	const tau = 40e-6
	d = differ(t, active(wire, wire), active(wire, crossover.Chain{Delay: tau}))
	if d.Ways[1].Delay != tau || d.Ways[0].Delay != 0 || math.Abs(d.Ways[1].Worst) > 1e-9 || d.Ways[1].Inverted {
		t.Errorf("tweeter: %g s, %g dB", d.Ways[1].Delay, d.Ways[1].Worst)
	}
	for i := range g.Len() {
		f := g.At(i)
		x := math.Pow(f/2000, 4)
		a, b := 1/(1+x), x/(1+x)
		want := level.DB(math.Hypot(a+b*math.Cos(2*math.Pi*f*tau), b*math.Sin(2*math.Pi*f*tau)))
		if got := d.Sum.At(i); math.Abs(got-want) > 1e-6 {
			t.Errorf("sum at %g Hz changes by %g dB, want %g", f, got, want)
			break
		}
	}
	// Inverted: a − b, a null at the corner that is below nothing else.
	d = differ(t, active(wire, wire), active(wire, crossover.Chain{Inverted: true}))
	if !d.Ways[1].Inverted || d.Ways[0].Inverted || math.Abs(d.WorstAt/2000-1) > 0.015 || d.Worst > -40 {
		t.Errorf("inverted: %.1f dB at %.0f Hz", d.Worst, d.WorstAt)
	}
	if d = differ(t, active(wire, crossover.Chain{Inverted: true}), active(wire, crossover.Chain{Inverted: true, Delay: tau})); d.Ways[1].Inverted || d.Ways[1].Delay != tau {
		t.Errorf("inverted before and after: %v, %g s", d.Ways[1].Inverted, d.Ways[1].Delay)
	}
	// A section shows where it is, as the cookbook has it, at its centre.
	s := crossover.Chain{Stages: freq.Series{sections(t, 1, digital.Peak{F0: g.At(240), Gain: 1.3, Q: 2})}}
	d = differ(t, active(wire, wire), active(s, wire))
	if w := d.Ways[0]; math.Abs(w.Worst-20*math.Log(1.3)/math.Ln10) > 1e-9 || w.WorstAt != g.At(240) {
		t.Errorf("section: %.4f dB at %g Hz, want %.4f at %g", w.Worst, w.WorstAt, 20*math.Log(1.3)/math.Ln10, g.At(240))
	}
	// And backwards it is the opposite.
	e := differ(t, active(s, wire), active(wire, wire))
	if math.Abs(e.Worst+d.Worst) > 1e-12 || e.WorstAt != d.WorstAt {
		t.Errorf("backwards %g dB, forwards %g dB", e.Worst, d.Worst)
	}
}

// A difference 60 dB down in the skirt is no finding.
func TestSkirtsDoNotCount(t *testing.T) {
	chain := func(f float64) crossover.Chain {
		return crossover.Chain{Stages: freq.Series{sections(t, 1, digital.Lowpass{F0: 500, Q: 0.5}, digital.Lowpass{F0: 500, Q: 0.5}, digital.Peak{F0: f, Gain: 4, Q: 5})}}
	}
	d := differ(t, active(chain(9000), crossover.Chain{}), active(chain(12000), crossover.Chain{}))
	if w := d.Ways[0]; math.Abs(w.Worst) > 0.1 {
		t.Errorf("worst of the woofer is %.2f dB at %.0f Hz", w.Worst, w.WorstAt)
	}
	if v, err := d.Ways[0].Level.Interpolate(12000); err != nil || v < 6 {
		t.Errorf("the curve has it: %g dB, %v", v, err)
	}
}

func TestDifferRefuses(t *testing.T) {
	var wire crossover.Chain
	one := active(wire, wire)
	for want, c := range map[string]struct {
		a, b crossover.Active
		r    []freq.Response
		from float64
	}{
		"another loudspeaker":  {one, crossover.Active{Ways: one.Ways[:1]}, acoustic(t), 30},
		"no way":               {one, crossover.Active{Ways: []crossover.Chain{{Name: "x"}, {Name: "y"}}}, acoustic(t), 30},
		"one each":             {one, one, acoustic(t)[:1], 30},
		"no acoustic response": {one, one, make([]freq.Response, 2), 30},
		"no point from":        {one, one, acoustic(t), 30000},
		"delay of":             {one, active(wire, crossover.Chain{Delay: -1}), acoustic(t), 30},
	} {
		if _, err := release.Differ(c.a, c.b, c.r, c.from, 18000); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

func TestMoves(t *testing.T) {
	air := report.AtMost("vent air", "brief 3.4", "m/s peak", 20)
	plateau := report.AtLeast("plateau", "brief 3.1", "dB", 98.5)
	latency := report.AtMost("latency", "brief 5", "ms", 3e-3)
	noise := report.AtMost("noise", "brief 6", "dB(A)", 0)
	mask := report.Within("mask", "brief 2", "dB", -0.75, 0.75)
	was := report.Requirements{air.Evaluate(18, 0.5), plateau.Evaluate(98.1, 0.2), latency.Evaluate(1e-3, 0), noise.NotEvaluated("no bench"), mask.Evaluate(0.5, 0.1)}
	is := report.Requirements{mask.Evaluate(-0.6, 0.1), noise.Evaluate(-3, 1), latency.Evaluate(1e-3, 0), plateau.Evaluate(98.9, 0.2), air.Evaluate(19.8, 0.5)}
	m, err := release.Moves(was, is)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, x := range m {
		names = append(names, x.Name)
	}
	// Worse first (air: pass → fail), then what got better, then moved.
	if got := strings.Join(names, ", "); got != "vent air, noise, plateau, mask" {
		t.Errorf("moved: %s", got)
	}
	x := m[0]
	if *x.From != 18 || *x.To != 19.8 || x.Was != report.Pass || x.Is != report.Fail || !x.Turned() || math.Abs(*x.Margin+1.8) > 1e-12 || !x.Beyond || x.Unit != "m/s peak" {
		t.Errorf("%+v", x)
	}
	for _, x := range m {
		switch x.Name {
		case "noise":
			if x.From != nil || *x.To != -3 || x.Margin != nil || x.Was != report.NotEvaluated || x.Is != report.Pass {
				t.Errorf("%+v", x)
			}
		case "mask": // 0.25 dB from one limit, then 0.15 dB from the other
			if x.Turned() || math.Abs(*x.Margin+0.1) > 1e-12 || !x.Beyond {
				t.Errorf("%+v", x)
			}
		}
	}
	if m, err = release.Moves(was, was); err != nil || len(m) != 0 {
		t.Errorf("nothing moves, got %+v, %v", m, err)
	}
	// What got worse comes first, though its value did not move and the other stands above.
	if m, err = release.Moves(report.Requirements{noise.NotEvaluated("no bench"), air.Evaluate(21, 0.5).WaivedBy("D1")}, report.Requirements{noise.Evaluate(-3, 1), air.Evaluate(21, 0.5)}); err != nil || len(m) != 2 || m[0].Name != "vent air" {
		t.Errorf("a waiver that is gone: %+v, %v", m, err)
	}
	// A waiver moves the verdict and not the value.
	if m, err = release.Moves(report.Requirements{air.Evaluate(21, 0.5)}, report.Requirements{air.Evaluate(21, 0.5).WaivedBy("D1")}); err != nil || len(m) != 1 || m[0].Is != report.Waived || *m[0].Margin != 0 {
		t.Errorf("waived: %+v, %v", m, err)
	}
	// Within the guard bands in quadrature: √(0.5² + 0.5²) = 0.707.
	for _, c := range []struct {
		to     float64
		beyond bool
	}{{18.7, false}, {18.71, true}} {
		m, err := release.Moves(report.Requirements{air.Evaluate(18, 0.5)}, report.Requirements{air.Evaluate(c.to, 0.5)})
		if err != nil || len(m) != 1 || m[0].Beyond != c.beyond {
			t.Errorf("18 → %g m/s: %+v, %v", c.to, m, err)
		}
	}
	if _, err := report.NewTable("moved", m); err != nil {
		t.Error(err)
	}
}

func TestMovesRefuses(t *testing.T) {
	a := report.AtMost("a", "brief", "Hz", 10).Evaluate(5, 0)
	for want, c := range map[string][2]report.Requirements{
		"want the same: coeff": {{a}, {a, report.AtMost("b", "brief", "Hz", 1)}},
		"not after":            {{a}, {report.AtMost("b", "brief", "Hz", 1)}},
		"asks for":             {{a}, {report.AtMost("a", "brief", "Hz", 11).Evaluate(5, 0)}},
		"names that differ":    {{a, a}, {a, a}},
		"evaluated as NaN":     {{a}, {a.Evaluate(math.NaN(), 0)}},
	} {
		if _, err := release.Moves(c[0], c[1]); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// That a silent sum does not change says nothing of a release.
func TestDifferRefusesSilence(t *testing.T) {
	a := crossover.Active{Ways: []crossover.Chain{{Name: "woofer"}}}
	if d, err := release.Differ(a, a, []freq.Response{write(t, freq.Gain(0), pressure)}, 30, 3000); err == nil || !strings.Contains(err.Error(), "is silent from 30 to 3000 Hz") {
		t.Errorf("%+v, %v", d, err)
	}
}
