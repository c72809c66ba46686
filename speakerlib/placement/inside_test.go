package placement_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/placement"
)

// words of 32 bits with 18 dB over full scale, and a coefficient's point that moves by one bit.
var words = dsp.Arithmetic{Signal: dsp.Fixed(3, 28), Coefficient: dsp.Fixed(0, 31), Accumulator: 64, Exponent: 1}

// bass has a shelf of 6 dB as it is, the same turned down by what it boosts, and a level.
func bass(t testing.TB) *placement.Controls {
	t.Helper()
	shelf := digital.LowShelf{F0: 80, Gain: level.Ratio(6), Q: 0.7}
	c := &placement.Controls{Controls: []placement.Control{
		{Name: "bass", Positions: []placement.Position{{Name: "neutral", Cascade: cascade(t, 0)}, {Name: "up", Cascade: cascade(t, 0, shelf)}, {Name: "up, turned down", Cascade: cascade(t, -6.1, shelf)}}},
		{Name: "input", Positions: []placement.Position{{Name: "0 dB", Cascade: cascade(t, 0)}, {Name: "+6 dB", Cascade: cascade(t, level.DB(2))}, {Name: "−12 dB", Cascade: cascade(t, -12)}}},
	}}
	return must[*placement.Controls](t)(c.Committed(words, dsp.Options{}))
}

// woofer is a chain of which the sums inside are as large as the words allow.
func woofer(t testing.TB) placement.Way {
	t.Helper()
	c := cascade(t, -6.8, digital.Highpass{F0: 33, Q: 1.2}, digital.Peak{F0: 60, Gain: level.Ratio(5), Q: 1}, digital.Peak{F0: 900, Gain: level.Ratio(3), Q: 2}, digital.Lowpass{F0: 2300, Q: 0.7})
	return placement.Way{Name: "woofer", Chain: c, Program: must[*dsp.Realisation](t)(dsp.Realise(dsp.Chain{Sections: c}, words, dsp.Options{})).Program}
}

// played runs a sine that rises slowly through the programs of a combination and of a way, and
// returns by how much the output is off what the same filters give without limits, in full scale.
func played(t *testing.T, c *placement.Controls, at placement.Choice, way *dsp.Program, amplitude, hz float64) (off float64) {
	t.Helper()
	const n = 3 * fs / 2
	x := make([]float64, n)
	for i := range x {
		x[i] = amplitude * min(1, float64(i)/fs) * math.Sin(2*math.Pi*hz*float64(i)/fs)
	}
	exact := append([]float64(nil), x...)
	var programs []*dsp.Program
	for i, k := range c.Controls {
		programs = append(programs, k.Positions[at[i]].Program)
	}
	for _, p := range append(programs, way) {
		p.NewRunner().Process(x, x)
		must[*digital.Cascade](t)(p.Cascade()).NewFilter().Process(exact, exact)
	}
	for i := range x {
		off = max(off, math.Abs(x[i]-exact[i]))
	}
	return off
}

// The run of the very words is the judge: a sine at the frequency of the fullest sum that is a
// tenth of a decibel below what is left comes out as it should, one that is half a decibel above
// does not.
func TestSumsInsideAgainstARun(t *testing.T) {
	c, w := bass(t), woofer(t)
	c.Controls[1].Positions = c.Controls[1].Positions[:2]
	h := must[*placement.Headroom](t)(c.Headroom(grid(t, 10, 40e3, 24), placement.Way{Name: "soft", Chain: w.Chain, Program: w.Program}))
	if len(h.Worst) != 3 || h.Worst[1].Limit != "sums inside, a sine" || h.Worst[1].Least > h.Worst[1].Neutral {
		t.Fatalf("limits %+v", h.Worst)
	}
	seen := 0
	for _, q := range []placement.Need{h.Neutral[0], h.Margin, h.SafeNeed[0]} {
		r := q.Rooms[1]
		if good := played(t, c, q.Choice, w.Program, level.Ratio(r.DB-0.1), r.At); good > 1e-5 {
			t.Errorf("%s: %.2g off at %.2f dB, %s", c.Words(q.Choice), good, r.DB-0.1, r.Where)
		}
		if bad := played(t, c, q.Choice, w.Program, level.Ratio(r.DB+0.5), r.At); bad < 1e-3 {
			t.Errorf("%s: only %.2g off at %.2f dB, %s", c.Words(q.Choice), bad, r.DB+0.5, r.Where)
		}
		seen++
	}
	if seen != 3 {
		t.Errorf("%d combinations played", seen)
	}
}

// What is in front counts: a gain by itself, a shelf by what it lifts where the sum is fullest, and
// one that is turned down by what it boosts leaves all sums at least what they had.
func TestGainInFrontOfSums(t *testing.T) {
	c, w := bass(t), woofer(t)
	h := must[*placement.Headroom](t)(c.Headroom(grid(t, 10, 40e3, 24), w))
	room := func(name string) placement.Worst {
		t.Helper()
		for _, r := range h.Worst {
			if r.Limit == name {
				return r
			}
		}
		t.Fatalf("no limit %q in %+v", name, h.Worst)
		return placement.Worst{}
	}
	sums, wrap, end := room("sums inside, a sine"), room("accumulators, any signal"), room("digital full scale")
	if sums.With != "bass up, input +6 dB" || wrap.With != sums.With || end.With != sums.With {
		t.Errorf("worst with %q, %q and %q", sums.With, wrap.With, end.With)
	}
	only := placement.Controls{Controls: c.Controls[1:]}
	level6 := must[*placement.Headroom](t)(only.Headroom(grid(t, 10, 40e3, 24), w))
	for k, r := range level6.Worst {
		if math.Abs(r.Neutral-r.Least-level.DB(2)) > 1e-6 {
			t.Errorf("%s: %.4f dB left with 6.02 dB in front, %.4f without (%d)", r.Limit, r.Least, r.Neutral, k)
		}
	}
	// The norm of the fullest accumulator by itself.
	least := math.Inf(1)
	for _, n := range must[[]dsp.Node](t)(w.Program.Headroom()) {
		least = min(least, level.DB(n.Accumulator/n.L1))
	}
	if math.Abs(wrap.Neutral-least) > 1e-9 {
		t.Errorf("accumulators: %.4f dB, want %.4f", wrap.Neutral, least)
	}
	soft := placement.Controls{Controls: []placement.Control{{Name: "bass", Positions: []placement.Position{c.Controls[0].Positions[0], c.Controls[0].Positions[2]}}}}
	turned := must[*placement.Headroom](t)(soft.Headroom(grid(t, 10, 40e3, 24), w))
	if turned.Worst[0].Exceeded != 0 || turned.Worst[0].Least != turned.Worst[0].Neutral {
		t.Errorf("turned down: %+v", turned.Worst[0])
	}
	if r := turned.Worst[1]; r.Exceeded != 0 || r.Where == "" {
		t.Errorf("turned down: %+v", r)
	}
}

// A gain between two wires that is taken back behind is still a sum: 2·8 = 16 where words end at 8.
func TestGainBetweenWires(t *testing.T) {
	g := grid(t, 10, 40e3, 24)
	c := &placement.Controls{Controls: []placement.Control{
		{Name: "a", Positions: []placement.Position{{Name: "up", Cascade: cascade(t, 24)}}},
		{Name: "b", Positions: []placement.Position{{Name: "down", Cascade: cascade(t, -30)}}},
	}}
	wire := cascade(t, -1)
	w := placement.Way{Name: "w", Chain: wire, Program: must[*dsp.Realisation](t)(dsp.Realise(dsp.Chain{Sections: wire}, words, dsp.Options{})).Program}
	c = must[*placement.Controls](t)(c.Committed(words, dsp.Options{}))
	if _, err := c.Headroom(g, w); err == nil || !strings.Contains(err.Error(), "-5.94 dB left to sums inside") {
		t.Errorf("24 dB in words of 18 dB over full scale: %v", err)
	}
	shelf := placement.Position{Name: "shelf", Cascade: cascade(t, 24, digital.LowShelf{F0: 100, Gain: level.Ratio(-3), Q: 0.7})}
	c.Controls[0].Positions = []placement.Position{shelf}
	c = must[*placement.Controls](t)(c.Committed(words, dsp.Options{}))
	if _, err := c.Headroom(g, w); err == nil || !strings.Contains(err.Error(), "left to sums inside") {
		t.Errorf("24 dB behind a shelf: %v", err)
	}
	float := dsp.Arithmetic{Signal: dsp.Float32(), Coefficient: dsp.Float32()}
	c = must[*placement.Controls](t)(c.Committed(float, dsp.Options{}))
	w.Program = must[*dsp.Realisation](t)(dsp.Realise(dsp.Chain{Sections: wire}, float, dsp.Options{})).Program
	if h := must[*placement.Headroom](t)(c.Headroom(g, w)); len(h.Worst) != 1 {
		t.Errorf("floating point has limits inside: %+v", h.Worst)
	}
}

// By hand: 12 dB in front and 12 dB at the way's end are 24 dB where words end 18.06 dB over full scale.
func TestGainAtTheEnd(t *testing.T) {
	c := &placement.Controls{Controls: []placement.Control{{Name: "level", Positions: []placement.Position{{Name: "down", Cascade: cascade(t, -30)}, {Name: "up", Cascade: cascade(t, 12)}}}}}
	c = must[*placement.Controls](t)(c.Committed(words, dsp.Options{}))
	chain := cascade(t, 12)
	w := placement.Way{Name: "w", Chain: chain, Program: must[*dsp.Realisation](t)(dsp.Realise(dsp.Chain{Sections: chain}, words, dsp.Options{})).Program}
	h := must[*placement.Headroom](t)(c.Headroom(grid(t, 10, 40e3, 24), w))
	if r := h.Worst[1]; math.Abs(r.Least-(level.DB(8)-24)) > 1e-6 || !strings.HasPrefix(r.Where, "way, gain") || r.With != "level up" || r.Exceeded != 1 {
		t.Errorf("%+v, want −5.94 dB in the way's gain", r)
	}
}

func TestProgramsRefuse(t *testing.T) {
	g := grid(t, 10, 40e3, 24)
	c, w := bass(t), woofer(t)
	late := *w.Program
	late.Delay = 1
	change := func(f func(p *placement.Position)) *placement.Controls {
		d := bass(t)
		f(&d.Controls[1].Positions[2])
		return d
	}
	for name, q := range map[string]struct {
		c    *placement.Controls
		w    placement.Way
		want string
	}{
		"not committed": {change(func(p *placement.Position) { p.Program = nil }), w, "want Controls.Committed"},
		"delay":         {change(func(p *placement.Position) { p.Program = &late }), w, "delay of 1"},
		"no program":    {change(func(p *placement.Position) { p.Program = &dsp.Program{} }), w, "−12 dB"},
		"arithmetic":    {must[*placement.Controls](t)(c.Committed(dsp.Arithmetic{Signal: dsp.Float32(), Coefficient: dsp.Float32()}, dsp.Options{})), w, "float32"},
		"no chain":      {c, placement.Way{Name: "w", Program: w.Program}, "no chain"},
		"no way":        {c, placement.Way{Name: "w", Chain: w.Chain, Program: &dsp.Program{}}, `way "w"`},
	} {
		if _, err := q.c.Headroom(g, q.w); err == nil || !strings.Contains(err.Error(), q.want) {
			t.Errorf("%s: %v, want %q", name, err, q.want)
		}
	}
	if _, err := (&placement.Controls{}).Committed(words, dsp.Options{}); err == nil {
		t.Error("no controls were committed")
	}
	if _, err := bass(t).Committed(dsp.Arithmetic{}, dsp.Options{}); err == nil || !strings.Contains(err.Error(), "bass") {
		t.Errorf("no arithmetic: %v", err)
	}
}
