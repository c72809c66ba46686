package limits_test

import (
	"math"
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
	rows, err := limits.StateTable([]limits.Condition{{"cold", of(neutral)}, {"hot", of(neutral.Hottest())}, {"+2 dB", of(louder)}}, setup)
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
	for want, c := range map[string][]limits.Condition{"no ceiling": {{Name: "cold"}}, `(state "cold")`: {{"cold", of(neutral)}}} {
		bad := setup
		bad.To = 1e6
		if _, err := limits.StateTable(c, bad); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}
