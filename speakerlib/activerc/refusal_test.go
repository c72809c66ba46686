package activerc_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/activerc"
	"example.org/loudspeaker/speakerlib/analog"
)

// What cannot be built is refused, and the error says by how much.
func TestSectionsRefused(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	amp := activerc.Amplifier{GBW: 10e6}
	for _, c := range []struct {
		name string
		s    analog.Section
		a    activerc.Amplifier
		o    activerc.Options
		says string
	}{
		{"NaN", activerc.Lowpass(nan, 1, 1), amp, activerc.Options{}, "finite"},
		{"infinite Q", activerc.Lowpass(1e3, inf, 1), amp, activerc.Options{}, "unstable"},
		{"negative Q", activerc.Lowpass(1e3, -1, 1), amp, activerc.Options{}, "unstable"},
		{"nothing passes", analog.Section{D2: 1, D1: 1, D0: 1}, amp, activerc.Options{}, "numerator of the section is 0"},
		{"gain of 1e300", activerc.Lowpass(1e3, 1, 1e300), amp, activerc.Options{}, "want a gain of at most 10000"},
		{"gain of 1e-300", activerc.Lowpass(1e3, 1, 1e-300), amp, activerc.Options{}, "no values"},
		{"improper", analog.Section{N2: 1, D1: 1, D0: 1}, amp, activerc.Options{}, "degree"},
		{"unstable of first order", analog.Section{N0: 1, D1: 1, D0: -1}, amp, activerc.Options{}, "left of 0"},
		{"too low a corner", activerc.Lowpass(0.1, 0.7, 1), amp, activerc.Options{}, "33.9 times too small"},
		{"too low a corner, first order", activerc.FirstLowpass(0.1, 1), amp, activerc.Options{}, "corner is 0.1 Hz, want at least 3.386 Hz"},
		{"too high a corner", activerc.Lowpass(20e6, 0.7, 1), amp, activerc.Options{}, "times too large"},
		{"gain below 1", activerc.Lowpass(1e3, 0.7, 0.5), amp, activerc.Options{Topology: activerc.SallenKey}, "gain is 0.5, want at least 1"},
		{"band-pass as Sallen–Key", activerc.Bandpass(1e3, 2, 1), amp, activerc.Options{Topology: activerc.SallenKey}, "low-pass or high-pass"},
		{"shelf with multiple feedback", activerc.LowShelf(1e3, 2, 0.7), amp, activerc.Options{Topology: activerc.MultipleFeedback}, "want that of"},
		{"shelf as a sum", activerc.LowShelf(1e3, 2, 0.7), amp, activerc.Options{Topology: activerc.BandpassSum}, "want the same"},
		{"a wire", activerc.Peak(1e3, 1, 2), amp, activerc.Options{Topology: activerc.BandpassSum}, "at all frequencies"},
		{"relocation without k", activerc.Relocate(62, 1.1, 36, 0.4), amp, activerc.Options{Topology: activerc.BridgedT}, "k of the relocation"},
		{"all-pass by bridged T", activerc.Allpass(1e3, 1), amp, activerc.Options{Topology: activerc.BridgedT}, "minimum phase"},
		{"zeros on both sides", analog.Section{N2: 1, N0: -1e6, D2: 1, D1: 1e3, D0: 1e6}, amp, activerc.Options{}, "both sides"},
		{"zero on the right, first order", analog.Section{N1: -1, N0: 3000, D1: 1, D0: 6000}, amp, activerc.Options{}, "want an all-pass"},
		{"first order as second", activerc.FirstLowpass(1e3, 1), amp, activerc.Options{Topology: activerc.SallenKey}, "first order, want second"},
		{"second order as first", activerc.Lowpass(1e3, 1, 1), amp, activerc.Options{Topology: activerc.FirstOrder}, "second order, want first"},
		{"no such topology", activerc.Lowpass(1e3, 1, 1), amp, activerc.Options{Topology: 42}, "topology is 42"},
		{"Q out of reach", activerc.Lowpass(1e3, 40, 1), amp, activerc.Options{Topology: activerc.SallenKey,
			Capacitors: activerc.Range{Series: activerc.E12, Lo: 1e-9, Hi: 100e-9}}, "off by"},
		{"coarse values", activerc.Lowpass(1e3, 3, 1), amp, activerc.Options{Topology: activerc.MultipleFeedback, Limit: 1e-5}, "want at most 1e-05"},
		{"slow amplifier", activerc.Lowpass(20e3, 10, 1), activerc.Amplifier{GBW: 300e3}, activerc.Options{}, "unstable"},
		{"no such topology, first order", activerc.FirstLowpass(1e3, 1), amp, activerc.Options{Topology: -1}, "topology is -1"},
		{"negative gain-bandwidth", activerc.Lowpass(1e3, 1, 1), activerc.Amplifier{GBW: -1}, activerc.Options{}, "gain-bandwidth"},
		{"noise of NaN", activerc.Lowpass(1e3, 1, 1), activerc.Amplifier{Voltage: nan}, activerc.Options{}, "noise voltage"},
		{"gain of 3", activerc.Lowpass(1e3, 1, 1), activerc.Amplifier{DCGain: 3}, activerc.Options{}, "at least 10"},
		{"negative limit", activerc.Lowpass(1e3, 1, 1), amp, activerc.Options{Limit: -1}, "within 0 … 1"},
		{"no values", activerc.Lowpass(1e3, 1, 1), amp, activerc.Options{Resistors: activerc.Range{Series: activerc.E12, Lo: 11e3, Hi: 11.5e3}}, "no value of E12"},
		{"more values than can be searched", activerc.Lowpass(1e3, 1, 1), amp, activerc.Options{Resistors: activerc.Range{Series: activerc.E96, Lo: 1, Hi: 1e7},
			Capacitors: activerc.Range{Series: activerc.E96, Lo: 1e-12, Hi: 1e-5}}, "673 resistors and 673 capacitors, which makes 3e+08"},
		{"reversed range", activerc.Lowpass(1e3, 1, 1), amp, activerc.Options{Capacitors: activerc.Range{Series: activerc.E12, Lo: 1e-9, Hi: 1e-10}}, "ascending"},
	} {
		_, err := activerc.Realise(c.s, c.a, c.o)
		if err == nil {
			t.Errorf("%s: no error", c.name)
			continue
		}
		if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error is %q, want one with %q", c.name, err, c.says)
		}
	}
}

func TestCircuitsRefused(t *testing.T) {
	r := func(name string, a, b activerc.Node, v float64) activerc.Part {
		return activerc.Part{Name: name, Kind: activerc.Resistor, A: a, B: b, Value: v}
	}
	u := []activerc.Opamp{{Name: "U1", Plus: "p", Minus: "out", Out: "out"}}
	for _, c := range []struct {
		name  string
		out   activerc.Node
		u     []activerc.Opamp
		parts []activerc.Part
		says  string
	}{
		{"value of 0", "out", u, []activerc.Part{r("R1", "in", "p", 0), r("R2", "p", "0", 1)}, `value of "R1" is 0`},
		{"infinite value", "out", u, []activerc.Part{r("R1", "in", "p", math.Inf(1)), r("R2", "p", "0", 1)}, `value of "R1"`},
		{"two of a name", "out", u, []activerc.Part{r("R1", "in", "p", 1), r("R1", "p", "0", 1)}, "two parts"},
		{"no name", "out", u, []activerc.Part{r("", "in", "p", 1)}, "no name"},
		{"both ends", "out", u, []activerc.Part{r("R1", "p", "p", 1)}, "both ends"},
		{"no node", "out", u, []activerc.Part{r("R1", "", "p", 1)}, "no node"},
		{"kind", "out", u, []activerc.Part{{Name: "L1", Kind: 7, A: "in", B: "p", Value: 1}}, "kind"},
		{"loose end", "out", u, []activerc.Part{r("R1", "in", "p", 1), r("R2", "p", "x", 1)}, `node "x"`},
		{"no input", "out", u, []activerc.Part{r("R1", "p", "0", 1)}, "input"},
		{"output that nothing drives", "p", u, []activerc.Part{r("R1", "in", "p", 1), r("R2", "p", "0", 1)}, "want the output of an amplifier"},
		{"two outputs on a node", "out", append(u[:1:1], activerc.Opamp{Name: "U2", Plus: "p", Minus: "0", Out: "out"}),
			[]activerc.Part{r("R1", "in", "p", 1), r("R2", "p", "0", 1)}, "which U1 drives"},
		{"inputs on a node", "out", []activerc.Opamp{{Name: "U1", Plus: "p", Minus: "p", Out: "out"}},
			[]activerc.Part{r("R1", "in", "p", 1), r("R2", "p", "0", 1)}, "both inputs"},
		{"no feedback", "out", []activerc.Opamp{{Name: "U1", Plus: "p", Minus: "0", Out: "out"}},
			[]activerc.Part{r("R1", "in", "p", 1), r("R2", "p", "0", 1)}, "not determined"},
	} {
		_, err := activerc.NewCircuit(c.out, c.u, c.parts...)
		if err == nil {
			t.Errorf("%s: no error", c.name)
			continue
		}
		if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error is %q, want one with %q", c.name, err, c.says)
		}
	}
}

// The rules of Choose, one section each; that they are taken is what the test is about (the
// rules themselves are common practice, no source).
func TestChoose(t *testing.T) {
	for _, c := range []struct {
		s    analog.Section
		want activerc.Topology
	}{
		{activerc.FirstShelf(700, 350, 1), activerc.FirstOrder},
		{activerc.Lowpass(1e3, 0.7, 1), activerc.SallenKey},
		{activerc.Lowpass(1e3, 0.7, -1), activerc.SallenKey},
		{activerc.Lowpass(1e3, 0.7, 0.5), activerc.MultipleFeedback},
		{activerc.Highpass(1e3, 4, 1), activerc.MultipleFeedback},
		{activerc.Highpass(1e3, 7, 1), activerc.StateVariable},
		{activerc.Bandpass(1e3, 4, 1), activerc.MultipleFeedback},
		{activerc.Bandpass(1e3, 0.5, 1), activerc.StateVariable},
		{activerc.Peak(1e3, 2, 2), activerc.BandpassSum},
		{activerc.Allpass(1e3, 0.6), activerc.BandpassSum},
		{activerc.Notch(1e3, 20), activerc.StateVariable},
		{activerc.HighShelf(1e3, 2, 0.7), activerc.StateVariable},
		{activerc.Relocate(62, 1.1, 36, 0.707), activerc.BridgedT},
		{activerc.Relocate(62, 1.1, 36, 0.4), activerc.StateVariable},
	} {
		got, err := activerc.Choose(c.s)
		if err != nil {
			t.Fatal(err)
		}
		if got != c.want {
			t.Errorf("topology of %+v is %v, want %v", c.s, got, c.want)
		}
	}
}

// Where the values of the first choice come not near enough, the rule falls back to the state
// variable; who asks for a topology gets it or an error.
func TestRuleFallsBack(t *testing.T) {
	s := activerc.Relocate(62, 1, 62./3, 0.707)
	if first, err := activerc.Choose(s); err != nil || first != activerc.BridgedT {
		t.Fatalf("first choice is %v (%v), want the bridged T", first, err)
	}
	if _, err := activerc.Realise(s, activerc.Amplifier{}, activerc.Options{Topology: activerc.BridgedT}); err == nil {
		t.Error("bridged T passes, want an error: its last resistors are nine times its first")
	}
	st, err := activerc.Realise(s, activerc.Amplifier{}, activerc.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if st.Topology() != activerc.StateVariable {
		t.Errorf("topology is %v, want the state variable", st.Topology())
	}
	if st.Target() != s {
		t.Errorf("target is %+v, want %+v", st.Target(), s)
	}
}
