package limits_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
)

// Cold, hot, and with 2 dB more of everything in the chain: a gain in front takes from
// no plateau anything, as it is turned down at the input, but the digital one keeps
// its sample values and so gives 2 dB at the output; heat takes from volts what the
// level falls by, and from excursion nothing that Q does not change.
func TestStateTable(t *testing.T) {
	g, err := freq.LogGrid(20, 20e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	of := func(w limits.Way) *limits.Ceiling {
		c, err := w.Ceiling(g)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	neutral := way(t)
	louder := neutral
	louder.Chain = freq.Series{neutral.Chain, freq.Gain(level.Ratio(2))} // behind the digital part
	setup := limits.StateSetup{From: 40, To: 300, PlateauFrom: 100, PlateauTo: 300, Level: 98.5}
	rows, err := limits.StateTable([]limits.Condition{{Name: "cold", Ceiling: of(neutral)}, {Name: "hot", Ceiling: of(neutral.Hottest())}, {Name: "+2 dB", Ceiling: of(louder)}}, setup)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 27 {
		t.Fatalf("%d rows, want 9 bounds in 3 states", len(rows))
	}
	find := func(state string, cause limits.Cause) limits.StateRow {
		for _, r := range rows {
			if r.Condition == state && r.Bound == "woofer "+cause.String() {
				return r
			}
		}
		t.Fatalf("no row of %s in %s", cause, state)
		return limits.StateRow{}
	}
	for _, cause := range []limits.Cause{limits.Excursion, limits.VentAir, limits.Volts, limits.Heat, limits.ProgrammeHeat} {
		if r := find("+2 dB", cause); math.Abs(r.Change) > 1e-9 || math.Abs(level.DB(r.Input/find("cold", cause).Input)+2) > 1e-9 {
			t.Errorf("2 dB more: %+v, want no change at an input that is 2 dB lower", r)
		}
	}
	if r := find("+2 dB", limits.FullScale); math.Abs(r.Change-2) > 1e-9 {
		t.Errorf("digital full scale with 2 dB more behind it: %+v, want +2 dB", r)
	}
	if r := find("hot", limits.Volts); r.Change > -1 || r.Change < -level.DB(1+0.00393*130) {
		t.Errorf("volts with a hot coil: %+v", r)
	}
	binding := limits.Binding(rows)
	if len(binding) != 3 {
		t.Fatalf("%d rows bind, want one a state", len(binding))
	}
	for i, c := range []*limits.Ceiling{of(neutral), of(neutral.Hottest()), of(louder)} {
		p, err := c.Plateau(40, 300, 100, 300)
		if err != nil {
			t.Fatal(err)
		}
		b := binding[i]
		if b.Level != p.Level || b.Bound != p.Bound.String() || b.At != p.At || math.Abs(b.Headroom-(p.Level-98.5)) > 1e-12 {
			t.Errorf("%+v binds, want %+v", b, p)
		}
	}
	for want, c := range map[string][]limits.Condition{"no ceiling": {{Name: "cold"}}, `(state "cold")`: {{Name: "cold", Ceiling: of(neutral)}}} {
		bad := setup
		bad.To = 1e6
		if _, err := limits.StateTable(c, bad); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

// With a shelf of +6 dB below 100 Hz in front, sample values and everything else that
// a low frequency drives come to their bound 6 dB earlier there; the level is that of
// the plateau above, which the shelf leaves alone.
func TestConditionsOfAWay(t *testing.T) {
	g, err := freq.LogGrid(20, 2e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	w := 2 * math.Pi * 20
	shelf := &freq.PolyRatio{Num: freq.NewPoly(2*w*w, 2*math.Sqrt2*w, 1), Den: freq.NewPoly(w*w, math.Sqrt2*w*math.Sqrt2, 1)}
	conditions, err := way(t).Conditions(g, limits.Setting{Name: "bass up", Stage: shelf})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, c := range conditions {
		names = append(names, c.Name)
	}
	if got := strings.Join(names, "; "); got != "neutral, cold; neutral, hot; bass up, cold; bass up, hot" {
		t.Fatalf("states %q", got)
	}
	gain := shelf.ResponseTo(nil, g)
	for _, pair := range [][2]int{{0, 2}, {1, 3}} {
		a, b := conditions[pair[0]].Ceiling, conditions[pair[1]].Ceiling
		for k, bound := range a.Bounds() {
			if bound.Cause == limits.WorstAmperes || bound.Cause == limits.ProgrammeHeat {
				continue // of any programme, not of a frequency
			}
			for i := range g.Len() {
				// The level at every frequency is the same, the input smaller by the gain.
				if d := a.Each[k].At(i) - b.Each[k].At(i); math.Abs(d) > 1e-9 {
					t.Fatalf("%v at %g Hz: %g dB less with the shelf, want none", bound, g.At(i), d)
				}
			}
		}
		for i := range g.Len() {
			if a.Cause[i] == b.Cause[i] && a.Bounds()[a.Cause[i]].Cause == limits.Excursion {
				if r := a.Input.At(i) / b.Input.At(i); math.Abs(r/cmplx.Abs(gain[i])-1) > 1e-9 {
					t.Fatalf("%g Hz: input %g times smaller, want %g", g.At(i), r, cmplx.Abs(gain[i]))
				}
			}
		}
	}
	cold := way(t)
	cold.Coil = limits.Coil{}
	if c, err := cold.Conditions(g); err != nil || len(c) != 1 {
		t.Errorf("%d states without a thermal network, %v, want 1", len(c), err)
	}
	cold.VentAir = math.NaN()
	if _, err := cold.Conditions(g); err == nil || !strings.Contains(err.Error(), `state "neutral, cold"`) {
		t.Errorf("a vent air of NaN: %v", err)
	}
	sum, err := freq.Evaluate(freq.Gain(1), g, "sum", freq.Basis{Quantity: freq.Pressure, Per: freq.PerInput, Space: freq.FullSpace, Distance: 1})
	if err != nil {
		t.Fatal(err)
	}
	one, two := way(t), way(t)
	two.Name = "second woofer"
	c, err := limits.CeilingOf(sum, one, two)
	if err != nil || len(c.Bounds()) != 18 || c.Bounds()[9].Way != "second woofer" {
		t.Errorf("%d bounds of two ways, %v, want 18", len(c.Bounds()), err)
	}
	two.Rise = -1
	if _, err := limits.CeilingOf(sum, one, two); err == nil {
		t.Error("a rise of -1 K was accepted")
	}
}
