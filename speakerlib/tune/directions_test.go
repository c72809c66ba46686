package tune_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/tune"
)

func flat(t *testing.T, g *freq.Grid, unit string, f func(hz float64) float64) freq.Curve {
	t.Helper()
	v := make([]float64, g.Len())
	for i := range v {
		v[i] = f(g.At(i))
	}
	c, err := freq.NewCurve(g, v, "made", unit, freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func constant(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// Two directions that ask for filters 3 dB apart at one place leave 1.5 dB, whatever
// the filter, and no more: the sharpest filter sits in the middle.
func TestMasksThatNoFilterMeets(t *testing.T) {
	g, err := freq.LogGrid(100, 10e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	at := g.At(g.Nearest(2310))
	d := tune.Directions{From: 200, To: 8e3, SampleRate: rate, Views: []tune.View{
		{Name: "axis", Counts: 1, Source: flat(t, g, "dB", constant(0.2)), Target: flat(t, g, "dB", constant(0))},
		{Name: "up", Counts: 1, Source: flat(t, g, "dB", func(f float64) float64 {
			if f == at {
				return -2.8
			}
			return 0
		}), Target: flat(t, g, "dB", constant(0))}}}
	if err := d.Within(1.51); err != nil {
		t.Errorf("±1.51 dB: %v", err)
	}
	var m *tune.MaskError
	if err := d.Within(0.75); !errors.As(err, &m) || math.Abs(m.Needed-1.5) > 1e-12 || m.Hz != at || m.First != "axis" || m.Second != "up" || !strings.Contains(err.Error(), "0.75 dB less") {
		t.Errorf("±0.75 dB: %v", err)
	}
	// Where a direction is hardly heard it asks for nothing.
	d.Views[1].Weight = flat(t, g, "1", func(f float64) float64 {
		if f == at {
			return 0.09
		}
		return 1
	})
	if err := d.Within(0.3); err != nil {
		t.Errorf("hardly heard: %v", err)
	}
	// A direction that does not count asks for nothing.
	d.Views[1].Counts = 0
	if err := d.Within(0.1); err != nil {
		t.Errorf("one direction: %v", err)
	}
}

// A direction that does not count changes nothing, and is told.
func TestDirectionsThatDoNotCountAreTold(t *testing.T) {
	g, err := freq.LogGrid(100, 10e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	d := tune.Directions{From: 100, To: 10e3, SampleRate: rate, Views: []tune.View{
		{Name: "axis", Counts: 1, Source: flat(t, g, "dB", constant(-2)), Target: flat(t, g, "dB", constant(0))},
		{Name: "side", Source: flat(t, g, "dB", constant(-5)), Target: flat(t, g, "dB", constant(0))}}}
	goal, err := d.Goal()
	if err != nil {
		t.Fatal(err)
	}
	r, err := tune.Sections(goal, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	all, err := d.Together(flat(t, g, "dB", constant(2)))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.Gain-dB(2)) > 1e-12 || all.RMS > 1e-12 || math.Abs(all.Views[1].Worst+3) > 1e-12 || math.Abs(all.Views[1].RMS-3) > 1e-12 {
		t.Errorf("gain %g, rms %g dB, side %+v", r.Gain, all.RMS, all.Views[1])
	}
}

func TestDirectionRefusals(t *testing.T) {
	g, err := freq.LogGrid(300, 5e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	good := tune.View{Name: "axis", Counts: 1, Source: flat(t, g, "dB", constant(0)), Target: flat(t, g, "dB", constant(0))}
	other, err := freq.LogGrid(300, 4e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	change := func(f func(*tune.View)) tune.View { v := good; f(&v); return v }
	for want, views := range map[string][]tune.View{
		"no direction":      nil,
		"no direction coun": {change(func(v *tune.View) { v.Counts = 0 })},
		"counts NaN":        {change(func(v *tune.View) { v.Counts = math.NaN() })},
		"no source":         {good, {Name: "empty", Counts: 1}},
		"want dB":           {change(func(v *tune.View) { v.Source = flat(t, g, "Pa", constant(1)) })},
		"is on":             {good, change(func(v *tune.View) { v.Source = flat(t, other, "dB", constant(0)) })},
		"weight of axis":    {change(func(v *tune.View) { v.Weight = flat(t, g, "1", constant(-1)) })},
	} {
		d := tune.Directions{Views: views, From: 400, To: 4e3, SampleRate: rate}
		if _, err := d.Goal(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q: %v", want, err)
		}
	}
	// A band that is not covered, by how much and where.
	d := tune.Directions{Views: []tune.View{good}, From: 200, To: 6e3, SampleRate: rate}
	goal, err := d.Goal()
	if err != nil {
		t.Fatal(err)
	}
	var c *tune.CoverageError
	if _, err := tune.Sections(goal, nil, nil); !errors.As(err, &c) || !strings.Contains(err.Error(), "100 Hz (a factor of 1.5) are missing below and") {
		t.Errorf("coverage: %v", err)
	}
	if err := d.Within(1); !errors.As(err, &c) {
		t.Errorf("coverage of a mask: %v", err)
	}
	// A mask in a band in which there is nothing to meet is not met.
	far := change(func(v *tune.View) { v.Target = flat(t, g, "dB", constant(40)) })
	low := change(func(v *tune.View) {
		v.Weight = flat(t, g, "1", func(hz float64) float64 { return math.Max(0, 1000-hz) })
	})
	for _, c := range []struct {
		from, to float64
		views    []tune.View
		want     string
	}{
		{4e3, 400, []tune.View{good, far}, "0 < from < to"}, {math.NaN(), 4e3, []tune.View{good, far}, "0 < from < to"},
		{400, math.NaN(), []tune.View{good, far}, "0 < from < to"}, {1000.1, 1000.2, []tune.View{good, far}, "no point"},
		{2e3, 4e3, []tune.View{low}, "nothing counts"},
	} {
		if err := (tune.Directions{Views: c.views, From: c.from, To: c.to, SampleRate: rate}).Within(1); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("mask from %g to %g Hz: %v, want %q", c.from, c.to, err, c.want)
		}
	}
	for _, band := range [][2]float64{{250, 4e3}, {400, 5.9e3}} { // on one side only
		goal.From, goal.To = band[0], band[1]
		if _, err := tune.Sections(goal, nil, nil); !errors.As(err, &c) {
			t.Errorf("%v Hz: %v", band, err)
		}
	}
	goal.From, goal.To = 295, 5.05e3 // less than a step outside
	if _, err := tune.Sections(goal, nil, nil); err != nil {
		t.Errorf("a step: %v", err)
	}
}
