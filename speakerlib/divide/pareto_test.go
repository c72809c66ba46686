package divide_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/divide"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Bounds, what breaks them, and the front.
func TestBoundsAndFront(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)), same(analog.LinkwitzRiley(2)), same(analog.LinkwitzRiley(8)))
	s.Frequencies = []float64{1500, 2000, 3000}
	s.Inverted = []bool{false, true}
	s.Objectives = []divide.Objective{divide.Width, divide.GroupDelay}
	s.Bounds = divide.Bounds{Range: 0.5, Width: 25 * degree}
	f := find(t, s)
	if f.Err() != nil || len(f.Points) != 18 || len(f.Front) == 0 || len(f.Tallies) != 2 {
		t.Fatalf("%v: %d points, front %d", f.Err(), len(f.Points), len(f.Front))
	}
	for _, p := range f.Front {
		if !p.Feasible() || p.Range > 0.5 || p.Width < 25*degree {
			t.Errorf("on the front: %+v", p)
		}
		for _, q := range f.Points {
			if q.Feasible() && q.Width >= p.Width && q.Audible < p.Audible && q.Width > p.Width {
				t.Errorf("%v is better than %v", q.Candidate().Split, p.Candidate().Split)
			}
		}
	}
	for _, p := range f.Points {
		if want := max(p.Range/0.5, 25*degree/p.Width); math.Abs(p.Used-want) > 1e-12 || (p.Binding == "sum on the axis") != (p.Range/0.5 >= 25*degree/p.Width) && p.Binding != "width of the lobe" {
			t.Errorf("%+v", p)
		}
	}
	// Of the 18 nine have the wrong polarity.
	if b := f.Tallies[1]; b.Bound != "sum on the axis" || b.Broken != 9 || b.Least > 1e-6 {
		t.Errorf("%+v", f.Tallies)
	}
	alone := 0
	for _, p := range f.Points {
		if p.Range > 0.5 && p.Width >= 25*degree {
			alone++
		}
	}
	if alone == 0 || f.Tallies[1].Alone != alone {
		t.Errorf("%d break the range alone, told are %d", alone, f.Tallies[1].Alone)
	}
	if twins := divide.Front([]divide.Point{f.Points[0], f.Points[0]}, divide.Width, divide.GroupDelay); len(twins) != 2 {
		t.Errorf("%d of two that are alike", len(twins))
	}
	best, err := divide.Choose(f.Points, func(p *divide.Point) bool { return p.Hz == 2000 })
	if err != nil || best.Hz != 2000 || !best.Feasible() || len(best.Chains()) != 2 {
		t.Errorf("%v: %+v", err, best)
	}
	if _, err := divide.Choose(f.Points, func(*divide.Point) bool { return false }); err == nil {
		t.Error("nothing was wanted")
	}
	s.Bounds.Width = 80 * degree
	if err := find(t, s).Err(); err == nil || !strings.Contains(err.Error(), "% of width of the lobe") {
		t.Errorf("a lobe of 80°: %v", err)
	}
}

// The lobe narrows and the excursion falls as the frequency rises: with the width
// bounded the least excursion lies where the bound binds, at
// f = c·2·acos(10^(−3/20))/π/(2·d·sin(w/2)) (two points in phase), and refinement closes
// in on it.
func TestRefinement(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)))
	s.Frequencies = []float64{1000, 2000, 4000}
	s.Objectives = []divide.Objective{divide.Excursion}
	w := 2 * math.Pi * 900.0
	s.Tweeter = &divide.Tweeter{Cone: &freq.PolyRatio{Num: freq.NewPoly(1e-4), Den: freq.NewPoly(1, 1/w, 1/(w*w))}, Current: freq.Gain(0.2), Fs: 900}
	s.Bounds.Width = 30 * degree
	bound := sound * math.Acos(level.Ratio(-3)) / math.Pi / apart / math.Sin(15*degree)
	coarse := find(t, s)
	s.Refine = 5
	fine := find(t, s)
	if coarse.Front[0].Hz != 2000 || fine.Front[0].Hz > bound*1.03 || fine.Front[0].Hz < bound/1.05 || len(fine.Points) <= len(coarse.Points) {
		t.Errorf("%g Hz, refined %g Hz of %d points, want just below %g Hz", coarse.Front[0].Hz, fine.Front[0].Hz, len(fine.Points), bound)
	}
}

// Each refined frequency lies half way between neighbours of its own slopes.
func TestRefinementKeepsToItsSlopes(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)), same(analog.Butterworth(3)))
	s.Frequencies = []float64{1000, 2000, 4000}
	s.Objectives, s.Refine = []divide.Objective{divide.Width, divide.GroupDelay}, 3
	f := find(t, s)
	if len(f.Points) < 9 {
		t.Fatalf("%d points", len(f.Points))
	}
	for n, p := range f.Points[6:] {
		below, above := 0.0, math.Inf(1)
		for _, q := range f.Points[:6+n] {
			if q.Low != p.Low {
				continue
			}
			if q.Hz == p.Hz {
				t.Errorf("%s at %g Hz was tried twice", p.Low, p.Hz)
			}
			if q.Hz < p.Hz {
				below = max(below, q.Hz)
			} else {
				above = min(above, q.Hz)
			}
		}
		if math.Abs(p.Hz/math.Sqrt(below*above)-1) > 1e-9 {
			t.Errorf("%s at %g Hz, want half way between %g and %g Hz", p.Low, p.Hz, below, above)
		}
	}
}
