package placement_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/placement"
)

// ceiling returns a loudspeaker of 1 Pa/V whose cone moves x m/V and whose amplifier gives 26 V.
func ceiling(t *testing.T, g *freq.Grid, x float64) *limits.Ceiling {
	t.Helper()
	out := must[freq.Response](t)(freq.Evaluate(freq.Gain(1), g, "out", freq.Basis{Quantity: freq.Pressure, Space: freq.HalfSpace, Distance: 1, Per: freq.PerInput}))
	return must[*limits.Ceiling](t)(limits.NewCeiling(out, []limits.Bound{{Cause: limits.Excursion, Way: "woofer", PerVolt: freq.Gain(x), Peak: 6e-3}, {Cause: limits.Volts, Way: "woofer", PerVolt: freq.Gain(1), Peak: 26}}))
}

// By hand: 10 V move the cone by 5 mm of 6 mm cold, 1.58 dB, and by 4.5 mm hot, 2.50 dB; 26 V are
// 8.30 dB above them. A shelf of 2 dB takes as much of all of them at low frequencies.
func TestCeilingsColdAndHot(t *testing.T) {
	g := grid(t, 10, 300, 24)
	cold := must[[]placement.Ceiling](t)(placement.CeilingsOf("cold", ceiling(t, g, 0.5e-3), 10))
	hot := must[[]placement.Ceiling](t)(placement.CeilingsOf("hot", ceiling(t, g, 0.45e-3), 10))
	c := &placement.Controls{Controls: []placement.Control{{Name: "bass", Positions: []placement.Position{
		{Name: "neutral", Cascade: cascade(t, 0)}, {Name: "up", Cascade: cascade(t, 0, digital.LowShelf{F0: 300, Gain: level.Ratio(2), Q: 0.7})}}}}}
	h := must[*placement.Headroom](t)(c.Headroom(grid(t, 20, 20e3, 24), placement.Way{Name: "woofer", Ceilings: append(cold, hot...)}))
	if len(h.Worst) != 5 {
		t.Fatalf("limits %+v", h.Worst)
	}
	for k, want := range []struct {
		name  string
		left  float64
		least float64
		over  int
	}{
		{"digital full scale", 0, -2, 1},
		{"cold: " + excursionName(t, g), level.DB(6. / 5), level.DB(6./5) - 2, 1},
		{"cold: " + voltsName(t, g), level.DB(2.6), level.DB(2.6) - 2, 0},
		{"hot: " + excursionName(t, g), level.DB(6 / 4.5), level.DB(6/4.5) - 2, 0},
		{"hot: " + voltsName(t, g), level.DB(2.6), level.DB(2.6) - 2, 0},
	} {
		w := h.Worst[k]
		if w.Limit != want.name || math.Abs(w.Neutral-want.left) > 1e-9 || math.Abs(w.Least-want.least) > 1e-3 || w.Exceeded != want.over || w.Way != "woofer" || w.With != "bass up" {
			t.Errorf("%d: %+v, want %+v", k, w, want)
		}
	}
	if h.SafeOf != 1 || c.Words(h.Safe) != "bass neutral" {
		t.Errorf("%d are safe, %s", h.SafeOf, c.Words(h.Safe))
	}
	// The hot coil alone: neutral is safe for the cold one and not for the hot one.
	tight := must[[]placement.Ceiling](t)(placement.CeilingsOf("hot", ceiling(t, g, 0.7e-3), 10))
	_, err := c.Headroom(grid(t, 20, 20e3, 24), placement.Way{Name: "woofer", Ceilings: append(cold, tight...)})
	if err == nil || !strings.Contains(err.Error(), "-1.34 dB left to hot: ") {
		t.Errorf("a hot coil that moves too far: %v", err)
	}
}

func excursionName(t *testing.T, g *freq.Grid) string { return ceiling(t, g, 1).Bounds()[0].String() }
func voltsName(t *testing.T, g *freq.Grid) string     { return ceiling(t, g, 1).Bounds()[1].String() }

func TestCeilingsRefuse(t *testing.T) {
	g := grid(t, 10, 300, 24)
	for _, v := range []float64{0, -1, math.Inf(1), math.NaN()} {
		if _, err := placement.CeilingsOf("x", ceiling(t, g, 1e-3), v); err == nil || !strings.Contains(err.Error(), "finite value > 0") {
			t.Errorf("at %g V: %v", v, err)
		}
	}
	if _, err := placement.CeilingsOf("x", nil, 1); err == nil {
		t.Error("no ceiling was taken")
	}
	c := panel(t)
	one := must[[]placement.Ceiling](t)(placement.CeilingsOf("x", ceiling(t, g, 1e-3), 1))
	high := must[freq.Curve](t)(freq.NewCurve(grid(t, 1e3, 60e3, 3), make([]float64, grid(t, 1e3, 60e3, 3).Len()), "", "dB", freq.Basis{}))
	for name, q := range map[string]struct {
		of   []placement.Ceiling
		want string
	}{
		"twice":     {append(one, one[0]), "name of its own"},
		"no name":   {[]placement.Ceiling{{Most: one[0].Most}}, "name of its own"},
		"no curve":  {[]placement.Ceiling{{Name: "n"}}, "in dB"},
		"too high":  {[]placement.Ceiling{{Name: "n", Most: high}}, "half the sample rate"},
		"no volts ": {[]placement.Ceiling{{Name: "n", Most: one[0].Most.Times(1, "V")}}, `"V"`},
	} {
		if _, err := c.Headroom(grid(t, 20, 20e3, 24), placement.Way{Name: "w", Ceilings: q.of}); err == nil || !strings.Contains(err.Error(), q.want) {
			t.Errorf("%s: %v, want %q", name, err, q.want)
		}
	}
}
