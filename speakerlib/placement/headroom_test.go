package placement_test

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/placement"
)

func cascade(t testing.TB, db float64, s ...digital.Section) *digital.Cascade {
	t.Helper()
	return must[*digital.Cascade](t)(must[*digital.Cascade](t)(digital.NewCascade(fs, s...)).WithGain(level.Ratio(db)))
}

// three controls of 3, 3 and 4 positions.
func panel(t *testing.T) *placement.Controls {
	return &placement.Controls{Controls: []placement.Control{
		{Name: "placement", Positions: []placement.Position{
			{Name: "free", Cascade: cascade(t, 0)},
			{Name: "wall", Cascade: cascade(t, 0, digital.LowShelf{F0: 107, Gain: level.Ratio(-3), Q: 0.7})},
			{Name: "corner", Cascade: cascade(t, 0, digital.LowShelf{F0: 97, Gain: level.Ratio(-6), Q: 0.7})},
		}},
		{Name: "treble", Neutral: 1, Positions: []placement.Position{
			{Name: "soft", Cascade: cascade(t, 0, digital.HighShelf{F0: 4000, Gain: level.Ratio(-2), Q: 0.7})},
			{Name: "neutral", Cascade: cascade(t, 0)},
			{Name: "bright", Cascade: cascade(t, 0, digital.HighShelf{F0: 4000, Gain: level.Ratio(2), Q: 0.7})},
		}},
		{Name: "level", Positions: []placement.Position{
			{Name: "−12 dB", Cascade: cascade(t, -12)}, {Name: "−6 dB", Cascade: cascade(t, -6)}, {Name: "0 dB", Cascade: cascade(t, 0)}, {Name: "+6 dB", Cascade: cascade(t, 6)},
		}},
	}}
}

func TestCombinationsAreCounted(t *testing.T) {
	c := panel(t)
	all := must[[]placement.Choice](t)(c.Combinations())
	if len(all) != 36 {
		t.Fatalf("%d combinations, want 3·3·4", len(all))
	}
	seen := map[string]bool{}
	for _, at := range all {
		seen[c.Words(at)] = true
	}
	if len(seen) != 36 || !seen["placement corner, treble bright, level +6 dB"] {
		t.Errorf("%d different combinations", len(seen))
	}
	// A corner never with bright treble: 36 − 4.
	c.Reachable = func(at placement.Choice) bool { return !(at[0] == 2 && at[1] == 2) }
	if all = must[[]placement.Choice](t)(c.Combinations()); len(all) != 32 {
		t.Errorf("%d combinations, want 32", len(all))
	}
	one := must[[]placement.Choice](t)(c.OneAtATime())
	if len(one) != 1+2+2+3 || !slices.Equal(one[0], placement.Choice{0, 1, 0}) {
		t.Errorf("one at a time %v", one)
	}
}

// By hand: the largest gain is +6 dB of level and +2 dB of the shelf at high frequencies, which
// has its whole gain far above its corner.
func TestWorstOfAllCombinations(t *testing.T) {
	g := grid(t, 20, 40e3, 24)
	c := panel(t)
	h := must[*placement.Headroom](t)(c.Headroom(g, placement.Way{Name: "all"}))
	if h.Combinations != 36 {
		t.Errorf("%d combinations", h.Combinations)
	}
	if h.Sine.Sine > 8 || h.Sine.Sine < 7.98 || h.Sine.Choice[1] != 2 || h.Sine.Choice[2] != 3 || h.Sine.SineAt < 15e3 {
		t.Errorf("worst %+v, %s", h.Sine, c.Words(h.Sine.Choice))
	}
	if h.Margin.Margin.DB != -h.Sine.Sine {
		t.Errorf("margin %g dB to full scale, want %g", h.Margin.Margin.DB, -h.Sine.Sine)
	}
	if h.Any.Any < h.Sine.Sine {
		t.Errorf("any signal %g dB, less than a sine's %g", h.Any.Any, h.Sine.Sine)
	}
	// Neutral is −12 dB, free, and safe.
	if !slices.Equal(h.Safe, placement.Choice{0, 1, 0}) || math.Abs(h.Neutral[0].Sine+12) > 1e-9 || math.Abs(h.SafeNeed[0].Any+12) > 1e-9 {
		t.Errorf("safe %v %+v", h.Safe, h.SafeNeed)
	}
	// Safe are: all of −12 and −6 dB (18), and at 0 dB the six without bright treble.
	if h.SafeOf != 24 {
		t.Errorf("%d are safe, want 24", h.SafeOf)
	}
	// What cannot be reached does not count.
	c.Reachable = func(at placement.Choice) bool { return at[2] < 3 }
	if h = must[*placement.Headroom](t)(c.Headroom(g, placement.Way{Name: "all"})); h.Combinations != 27 || math.Abs(h.Sine.Sine-2) > 0.02 {
		t.Errorf("without +6 dB: %d, %g dB", h.Combinations, h.Sine.Sine)
	}
}

// Ways and ceilings: a woofer that bears 3 dB less below 50 Hz than full scale, and a chain of
// +2 dB. Neutral at 0 dB of level is then not safe, and what is one step away is taken.
func TestSafeDefault(t *testing.T) {
	g := grid(t, 20, 20e3, 24)
	c := panel(t)
	c.Controls[2].Neutral = 2
	v := make([]float64, g.Len())
	for i := range v {
		if g.At(i) < 50 {
			v[i] = -3
		}
	}
	ceiling := must[freq.Curve](t)(freq.NewCurve(g, v, "excursion", "dB", freq.Basis{}))
	woofer := placement.Way{Name: "woofer", Chain: cascade(t, 2, digital.Lowpass{F0: 2000, Q: 0.5}), Ceilings: []placement.Ceiling{{Name: "excursion", Most: ceiling}}}
	tweeter := placement.Way{Name: "tweeter", Chain: cascade(t, -8, digital.Highpass{F0: 2000, Q: 0.5})}
	h := must[*placement.Headroom](t)(c.Headroom(g, woofer, tweeter))
	// Nearest to neutral: one control off, and of those safe the one with the least gain, −12 dB.
	if c.Words(h.Safe) != "placement free, treble neutral, level −12 dB" {
		t.Errorf("safe: %s", c.Words(h.Safe))
	}
	if n := h.Neutral[0]; n.Way != "woofer" || math.Abs(n.Margin.DB+3) > 0.01 || n.Margin.Limit != "excursion" || n.Margin.At > 50 {
		t.Errorf("neutral %+v, want a margin of −3 dB", n)
	}
	if h.Margin.Way != "woofer" || math.Abs(h.Margin.Margin.DB+9) > 0.01 || h.Margin.Choice[0] != 0 {
		t.Errorf("least margin %+v, want −3 − 6 dB, free", h.Margin)
	}
	// Without a way down none is safe.
	c.Controls = c.Controls[:2]
	if _, err := c.Headroom(g, woofer); err != nil && !strings.Contains(err.Error(), "none of 9") {
		t.Errorf("%v", err)
	}
	c.Controls = c.Controls[1:2]
	if _, err := c.Headroom(g, woofer); err == nil || !strings.Contains(err.Error(), "none of 3") || !strings.Contains(err.Error(), "woofer") {
		t.Errorf("no safe combination: %v", err)
	}
}

// Σ|h| of 1/(1 ± a·z⁻¹) is 1/(1 − a), however it rings; a sine has that only where all terms add.
func TestAnySignal(t *testing.T) {
	g := grid(t, 20, 20e3, 24)
	for _, a := range []float64{0.9, -0.9, 0.9999} {
		ring := cascade(t, -60, digital.Given{SampleRate: fs, Coefficients: digital.Biquad{B0: 1, A1: a}})
		c := &placement.Controls{Controls: []placement.Control{{Name: "c", Positions: []placement.Position{{Name: "p", Cascade: ring}}}}}
		h, err := c.Headroom(g, placement.Way{Name: "w"})
		if a == 0.9999 && err == nil {
			// 80 dB less 60 dB at half the sample rate, which the grid does not reach.
			if want := level.DB(1e4) - 60; math.Abs(h.Any.Any-want) > 1e-6 {
				t.Errorf("a = %g: %g dB, want %g", a, h.Any.Any, want)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if want := level.DB(10) - 60; math.Abs(h.Any.Any-want) > 1e-9 {
			t.Errorf("a = %g: %g dB, want %g", a, h.Any.Any, want)
		}
		// Far below full scale there is a worst too. At a = −0.9 it is the lowest frequency.
		if h.Sine.Way != "w" || h.Any.Way != "w" || h.Margin.Way != "w" || h.Margin.Margin.DB != -h.Sine.Sine || h.Sine.Sine > -39 {
			t.Errorf("a = %g: %+v and %+v", a, h.Sine, h.Margin)
		}
		if a < 0 && (math.Abs(h.Sine.Sine+40) > 0.01 || h.Sine.SineAt != 20 || h.Margin.Margin.At != 20) {
			t.Errorf("a = %g: %+v, want −40 dB at 20 Hz", a, h.Sine)
		}
	}
}

func TestControlsRefuse(t *testing.T) {
	g := grid(t, 20, 20e3, 24)
	w := placement.Way{Name: "w"}
	slow := must[*digital.Cascade](t)(digital.NewCascade(48000))
	one := func(p ...placement.Position) *placement.Controls {
		return &placement.Controls{Controls: []placement.Control{{Name: "c", Positions: p}}}
	}
	wire := placement.Position{Name: "p", Cascade: cascade(t, 0)}
	late := must[*digital.Cascade](t)(cascade(t, 0).WithDelay(1))
	off := panel(t)
	off.Controls[0].Neutral = 3
	never := panel(t)
	never.Reachable = func(at placement.Choice) bool { return at[0] == 1 }
	var many placement.Controls
	for _, n := range []string{"a", "b", "c", "d", "e", "f"} {
		k := placement.Control{Name: n}
		for _, p := range "0123456789" {
			k.Positions = append(k.Positions, placement.Position{Name: string(p), Cascade: cascade(t, 0)})
		}
		many.Controls = append(many.Controls, k)
	}
	twice := panel(t)
	twice.Controls[1].Name = "placement"
	for name, c := range map[string]struct {
		c    *placement.Controls
		ways []placement.Way
		want string
	}{
		"no controls":  {&placement.Controls{}, []placement.Way{w}, "no controls"},
		"no positions": {one(), []placement.Way{w}, "neutral position"},
		"no filter":    {one(placement.Position{Name: "p"}), []placement.Way{w}, "no filter"},
		"same names":   {one(wire, wire), []placement.Way{w}, "name of its own"},
		"two controls": {twice, []placement.Way{w}, "name of its own"},
		"two rates":    {one(wire, placement.Position{Name: "q", Cascade: slow}), []placement.Way{w}, "48000 Hz"},
		"late":         {one(placement.Position{Name: "p", Cascade: late}), []placement.Way{w}, "delay of 1"},
		"inverting":    {one(placement.Position{Name: "p", Cascade: cascade(t, 0).WithPolarity(true)}), []placement.Way{w}, "inverts"},
		"neutral":      {off, []placement.Way{w}, "neutral position"},
		"unreachable":  {never, []placement.Way{w}, "cannot be reached"},
		"too many":     {&many, []placement.Way{w}, "at most"},
		"no ways":      {panel(t), nil, "at least 1 way"},
		"same ways":    {panel(t), []placement.Way{w, w}, "name of its own"},
		"way's rate":   {panel(t), []placement.Way{{Name: "w", Chain: slow}}, "48000 Hz"},
		"ceiling":      {panel(t), []placement.Way{{Name: "w", Ceilings: []placement.Ceiling{{Name: "c", Most: must[freq.Curve](t)(freq.NewCurve(g, make([]float64, g.Len()), "", "V", freq.Basis{}))}}}}, `"V"`},
	} {
		if _, err := c.c.Headroom(g, c.ways...); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	for _, at := range []placement.Choice{{0}, {0, 0, 4}, {0, -1, 0}} {
		if _, err := panel(t).Cascade(at); err == nil {
			t.Errorf("choice %v was taken", at)
		}
		func() {
			defer func() {
				if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "placement: ") {
					t.Errorf("words for choice %v: panic %q, want one that says whose mistake it is", at, s)
				}
			}()
			_ = panel(t).Words(at)
		}()
	}
	if all := must[*digital.Cascade](t)(panel(t).Cascade(placement.Choice{1, 0, 3})); all.Len() != 2 || math.Abs(level.DB(all.Gain())-6) > 1e-12 {
		t.Errorf("filter of a choice: %d sections, %g dB", all.Len(), level.DB(all.Gain()))
	}
}

// Every position goes into a coefficient document, and comes back to the last bit.
func TestSettingsExport(t *testing.T) {
	c := panel(t)
	doc := must[*export.Document](t)(export.New("study", "2026-01-31", []export.Chain{{Name: "woofer", Cascade: cascade(t, 1, digital.Lowpass{F0: 2000, Q: 0.7})}}, nil))
	doc.Ways[0].Sets = must[[]export.Set](t)(c.Sets())
	var b bytes.Buffer
	if err := doc.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	back := must[*export.Document](t)(export.ReadJSON(&b))
	n := 0
	for _, k := range c.Controls {
		for _, p := range k.Positions {
			n++
			if got := must[*digital.Cascade](t)(back.SetCascade("woofer", k.Name, p.Name)); !got.Equal(p.Cascade) {
				t.Errorf("%s %s came back as another filter", k.Name, p.Name)
			}
		}
	}
	if n != len(back.Ways[0].Sets) || n != 10 {
		t.Errorf("%d sets of %d positions", len(back.Ways[0].Sets), n)
	}
	// With programs, if they are committed: the document holds them, and that they are those of
	// their designs.
	doc.Ways[0].Sets = must[[]export.Set](t)(must[*placement.Controls](t)(c.Committed(words, dsp.Options{})).Sets())
	for _, s := range doc.Ways[0].Sets {
		if s.Program == nil || s.Program.Arithmetic != words {
			t.Fatalf("%s %s has no program", s.Setting, s.Name)
		}
	}
	if err := doc.CheckPrograms(); err != nil {
		t.Error(err)
	}
	c.Controls[0].Name = ""
	if _, err := c.Sets(); err == nil {
		t.Error("sets of a control without a name")
	}
}

// A peak of 12 dB at 60 Hz, of which the points at 20 and 300 Hz have little, must not pass for
// safe; nor does a grid with a point on it refuse.
func TestCoarseGridDoesNotHideAPeak(t *testing.T) {
	way := placement.Way{Name: "woofer", Chain: cascade(t, -3, digital.Peak{F0: 60, Gain: level.Ratio(12), Q: 4})}
	c := panel(t)
	c.Controls = c.Controls[:1]
	coarse := must[*freq.Grid](t)(freq.NewGrid([]float64{20, 300, 2000}))
	if h, err := c.Headroom(coarse, way); err == nil || !strings.Contains(err.Error(), "finer grid") {
		t.Errorf("%+v, error %v, want one that asks for a finer grid", h, err)
	}
	way.Chain = cascade(t, -13, digital.Peak{F0: 60, Gain: level.Ratio(12), Q: 4})
	h := must[*placement.Headroom](t)(c.Headroom(must[*freq.Grid](t)(freq.NewGrid([]float64{20, 60, 300, 2000})), way))
	if math.Abs(h.Sine.Sine+1) > 1e-6 || h.Sine.SineAt != 60 {
		t.Errorf("%+.3f dB at %g Hz, want −1 dB at 60 Hz", h.Sine.Sine, h.Sine.SineAt)
	}
}

// A grid from 200 Hz, or to 2 kHz, must not hide what a shelf below or a peak above adds.
func TestNarrowGridDoesNotHideAPeak(t *testing.T) {
	c := panel(t)
	c.Controls = c.Controls[:1]
	for _, x := range []struct {
		from, to float64
		s        digital.Section
		at       string
	}{
		{200, 20e3, digital.LowShelf{F0: 50, Gain: level.Ratio(9), Q: 0.7}, "at 20 Hz"},
		{20, 2000, digital.Peak{F0: 8000, Gain: level.Ratio(9), Q: 1}, "at 7896 Hz"},
	} {
		way := placement.Way{Name: "woofer", Chain: cascade(t, -3, x.s)}
		if h, err := c.Headroom(grid(t, x.from, x.to, 24), way); err == nil || !strings.Contains(err.Error(), "want a wider grid") || !strings.Contains(err.Error(), x.at) {
			t.Errorf("%g … %g Hz: %+v, error %v, want one that asks for a wider grid, %s", x.from, x.to, h, err, x.at)
		}
		way.Chain = cascade(t, -10, x.s)
		if _, err := c.Headroom(grid(t, 20, 20e3, 24), way); err != nil {
			t.Errorf("all of it: %v", err)
		}
	}
	// What is quieter there does not matter.
	if _, err := c.Headroom(grid(t, 200, 2000, 24), placement.Way{Name: "midrange"}); err != nil {
		t.Errorf("a flat way: %v", err)
	}
}
