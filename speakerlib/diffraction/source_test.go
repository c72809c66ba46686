package diffraction_test

import (
	"math"
	"math/cmplx"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/radiation"
)

func TestSourceRefuses(t *testing.T) {
	p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 100, 1000), Receivers: []diffraction.Receiver{diffraction.Angles(0, 0)}})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		s   diffraction.Source
		say string
	}{
		"off the face":    {diffraction.Source{Elements: point(0, 0, 0.001)}, "off face"},
		"outside":         {diffraction.Source{Elements: point(0.1, 0, 0)}, "inside the edges"},
		"on the edge":     {diffraction.Source{Elements: point(0.095, 0, 0)}, "inside the edges"},
		"another face":    {diffraction.Source{Face: 1, Elements: point(0, 0, 0)}, "off face"},
		"no face":         {diffraction.Source{Face: 6, Elements: point(0, 0, 0)}, "face"},
		"no elements":     {diffraction.Source{}, "elements"},
		"no number":       {diffraction.Source{Elements: []radiation.Element{{Weight: math.NaN()}}}, "finite"},
		"ms for s":        {diffraction.Source{Elements: []radiation.Element{{Weight: 0.5}, {Weight: 0.5, Delay: 1.5}}}, "element 1 of the source has a delay of 1.5 s, want −0.0513 … 0.0513 s"},
		"ms for s, early": {diffraction.Source{Elements: []radiation.Element{{Weight: 1, Delay: -0.3}}}, "has a delay of -0.3 s"},
		"centuries late":  {diffraction.Source{Elements: []radiation.Element{{Weight: 1, Delay: 1e10}}}, "has a delay of 1e+10 s"},
		"half of it":      {diffraction.Source{Elements: []radiation.Element{{Weight: 0.5}}}, "add up to 0.5"},
		"silent":          {diffraction.Source{Elements: []radiation.Element{{Weight: 1}, {Weight: -1}}}, "add up to 0"},
		"cancelling":      {diffraction.Source{Elements: []radiation.Element{{Weight: 1e6}, {Weight: 1 - 1e6}}}, "sizes to 2e+06"},
		"infinitely late": {diffraction.Source{Elements: []radiation.Element{{Weight: 1, Delay: math.Inf(1)}}}, "finite"},
	} {
		if _, err := p.NewState().SolveTo(nil, c.s); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.say)
		}
	}
}

// What a state did before decides neither whether it takes a source nor what it says of it:
// a state keeps some delay in reserve, here of the 0.05 s between elements that the sines of
// so many frequencies allow.
func TestDelaysAfterOthers(t *testing.T) {
	g, err := freq.LinearGrid(400e3/750, 400e3, 750)
	if err != nil {
		t.Fatal(err)
	}
	p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: g, Receivers: []diffraction.Receiver{diffraction.Angles(0, 0)}, Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	used := p.NewState()
	for _, delay := range []float64{0.039, 0.046, 0.0505} {
		late := diffraction.Source{Elements: []radiation.Element{{Weight: 0.5}, {Weight: 0.5, Delay: delay}}}
		want, refused := p.NewState().SolveTo(nil, late)
		h, err := used.SolveTo(nil, late)
		if (refused != nil) != (delay > 0.05) || (err != nil) != (refused != nil) || !slices.Equal(h, want) {
			t.Errorf("%g s: a used state says %v, a new one %v, or they differ", delay, err, refused)
		}
	}
}

// Two orders keep fine samples of all delays, which a thousand goroutines make gigabytes.
func TestDelaysThatTakeGigabytes(t *testing.T) {
	late := diffraction.Source{Elements: []radiation.Element{{Weight: 0.5, Delay: -0.05}, {Weight: 0.5, Delay: 0.05}}}
	for workers, good := range map[int]bool{1: true, 1024: false} {
		p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 10000), Receivers: []diffraction.Receiver{diffraction.Angles(0, 0)}, Order: diffraction.Second, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.NewState().SolveTo(nil, late); (err == nil) != good || err != nil && !strings.Contains(err.Error(), "bytes") {
			t.Errorf("%d workers: error %v, want one that says how much it takes: %v", workers, err, !good)
		}
	}
}

// A point source has no pressure where it is.
func TestReceiverInSource(t *testing.T) {
	p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 100, 1000), Reference: r3.Vec{Y: 1}, Receivers: []diffraction.Receiver{diffraction.At(r3.Vec{X: 0.02, Y: 0.05})}})
	if err != nil {
		t.Fatal(err)
	}
	if h, err := p.NewState().SolveTo(nil, diffraction.Source{Elements: point(0.02, 0.05, 0)}); err == nil || !strings.Contains(err.Error(), "receiver 0 is in element 0") {
		t.Errorf("%v, error %v, want one that tells of receiver and element", h, err)
	}
}

// Near to a piston its elements are points. At the least distance that is taken the sound is
// that of a piston of sixteen times as many elements within 2 %; above the hole in the
// middle of the rings within 8 %.
func TestReceiverNearPiston(t *testing.T) {
	solve := func(rings int, at r3.Vec) (complex128, error) {
		e, err := radiation.Piston{Radius: 0.05}.Elements(r3.Vec{}, r3.Vec{Z: 1}, rings)
		if err != nil {
			t.Fatal(err)
		}
		p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 1000), Reference: r3.Vec{Y: 0.1}, Receivers: []diffraction.Receiver{diffraction.At(at)}})
		if err != nil {
			t.Fatal(err)
		}
		h, err := p.NewState().SolveTo(nil, diffraction.Source{Elements: e})
		if err != nil {
			return 0, err
		}
		return h[0], nil
	}
	for _, mm := range []float64{0, 10, 20, 35, 45, 50, 60} {
		at := r3.Vec{X: 0.8e-3 * mm, Y: 0.6e-3 * mm, Z: 0.0005}
		for {
			_, err := solve(4, at)
			if err == nil {
				break
			}
			if !strings.Contains(err.Error(), "apart there") {
				t.Fatal(err)
			}
			at.Z += 0.0001
		}
		got, err := solve(4, at)
		if err != nil {
			t.Fatal(err)
		}
		want, err := solve(16, at)
		if err != nil {
			t.Fatal(err)
		}
		limit := 0.02
		if mm == 0 {
			limit = 0.08
		}
		if e := cmplx.Abs(got/want - 1); e > limit || at.Z > 0.015 {
			t.Errorf("%g mm from the axis, %.1f mm above the piston: off by %.3f, want %g at most, and no more than 15 mm", mm, 1000*at.Z, e, limit)
		}
	}
}
