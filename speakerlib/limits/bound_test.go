package limits_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
)

// A bound from a curve allows that input and no more; behind a chain it is the chain
// that must give it (by definition, no source). Infinite means that it never binds.
func TestBoundFromACurve(t *testing.T) {
	output, cone, _, _ := closedBox(t)
	g := output.Grid()
	u := make([]float64, g.Len())
	for i := range u {
		if u[i] = 3 + g.At(i)/100; g.At(i) > 300 {
			u[i] = math.Inf(1)
		}
	}
	largest, err := freq.NewCurve(g, u, "3 % of distortion", "V", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := limits.FromCurve(limits.Distortion, "woofer", largest)
	if err != nil {
		t.Fatal(err)
	}
	c, err := limits.NewCeiling(output, []limits.Bound{b.Behind(freq.Gain(0.5)), {Cause: limits.Excursion, Way: "woofer", PerVolt: cone, Peak: 1}})
	if err != nil {
		t.Fatal(err)
	}
	for i := range g.Len() {
		if g.At(i) > 300 {
			if c.Cause[i] != 1 || !math.IsInf(c.Each[0].At(i), 1) {
				t.Fatalf("%g Hz: bound %d binds, want the excursion, as distortion never does", g.At(i), c.Cause[i])
			}
		} else if c.Cause[i] != 0 || math.Abs(c.Input.At(i)-2*u[i]) > 1e-9 {
			t.Fatalf("%g Hz: input of %g V by bound %d, want %g by the distortion", g.At(i), c.Input.At(i), c.Cause[i], 2*u[i])
		}
	}
	p, err := c.Plateaus(20, 2000, 500, 2000)
	if err != nil || len(p) != 2 || p[0].Bound.Cause != limits.Distortion || p[0].At > 20.3 {
		t.Errorf("plateaus %+v, %v, want the one of distortion at 20 Hz first", p, err)
	}
	u[3] = 0
	none, _ := freq.NewCurve(g, u, "", "V", freq.Basis{})
	metres, _ := freq.NewCurve(g, u, "", "m", freq.Basis{})
	for want, curve := range map[string]freq.Curve{"is 0 V, want > 0": none, `in "m", want V`: metres, `in "", want V`: {}} {
		if _, err := limits.FromCurve(limits.Distortion, "woofer", curve); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

func TestCausesHaveNamesAndUnits(t *testing.T) {
	seen := map[string]bool{}
	for c := limits.Excursion; c <= limits.FullScale; c++ {
		if s := c.String(); seen[s] || strings.HasPrefix(s, "Cause(") || c.Unit() == "?" {
			t.Errorf("cause %d is called %q in %q", c, s, c.Unit())
		}
		seen[c.String()] = true
	}
	if c := limits.FullScale + 1; c.Unit() != "?" || !strings.HasPrefix(c.String(), "Cause(") {
		t.Errorf("beyond the causes there is %v in %s", c, c.Unit())
	}
}

// A resistance of the source in front of a resistive load of 8 Ω: 1/(8+R) and
// 8/(8+R) (Ohm's law). With amperes as the bound the sound pressure of a constant
// load is that of I·(Z+R).
func TestAmplifierIntoALoad(t *testing.T) {
	output, _, _, p0 := closedBox(t)
	a := limits.Amplifier{PeakVolts: 100, PeakAmperes: 5, OutputResistance: 0.4}
	z := freq.Gain(8)
	c, err := limits.NewCeiling(output, []limits.Bound{a.Bound("woofer", freq.Gain(0.5)), a.AmpereBound("woofer", freq.Gain(0.5), a.Current(z))})
	if err != nil {
		t.Fatal(err)
	}
	last := output.Len() - 1
	if want := level.SPL(p0 * 5 * 8.4 / 0.5 / math.Sqrt2); c.Cause[last] != 1 || math.Abs(c.Level.At(last)-want) > 1e-4 {
		t.Errorf("%.4f dB by bound %d, want %.4f by the amperes", c.Level.At(last), c.Cause[last], want)
	}
	if v := a.Terminals(z).ResponseTo(nil, output.Grid())[0]; math.Abs(real(v)-8/8.4) > 1e-15 {
		t.Errorf("voltage of the load is %v, want %g", v, 8/8.4)
	}
	if err := (limits.Amplifier{PeakVolts: 26, OutputResistance: -1}).Validate(); err == nil {
		t.Error("an output resistance of -1 Ω was accepted")
	}
}
