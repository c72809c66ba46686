package diffraction

import (
	"fmt"
	"math"
	"runtime"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// Study asks where on the front of a cabinet a driver should sit. The receivers of its
// setup are the listening window, of which the first is the axis.
type Study struct {
	plan    *Plan
	faceted *Plan // the body of rounded edges, if there is one
	radius  float64
	workers int
	driver  []radiation.Element
	weights []float64
	ripple  Ripple
}

// NewStudy prepares a study of a driver, by its elements about the origin in the plane of
// the front, with the weights of the receivers in the window's power average (nil: all
// alike) and the ripple that is to be small. The setup's order counts: the first is
// fast and shows what a position does from the wavelength of the front up.
func NewStudy(s Setup, driver []radiation.Element, weights []float64, ripple Ripple) (*Study, error) {
	if err := checkShares(driver); err != nil {
		return nil, err
	}
	if s.Workers < 0 || s.Workers > mostWorkers {
		return nil, fmt.Errorf("diffraction: %d workers, want 1 … %d, or 0 for one a processor", s.Workers, mostWorkers)
	}
	workers := s.Workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	s.Workers = 1 // positions are what runs side by side
	p, err := NewPlan(s)
	if err != nil {
		return nil, err
	}
	if err := ripple.check(s.Grid); err != nil {
		return nil, err
	}
	if weights == nil {
		for range s.Receivers {
			weights = append(weights, 1)
		}
	}
	sum := 0.0
	for i, w := range weights {
		if !(w >= 0) || math.IsInf(w, 0) {
			return nil, fmt.Errorf("diffraction: receiver %d has the weight %g, want a finite value ≥ 0", i, w)
		}
		sum += w
	}
	if len(weights) != len(s.Receivers) || !(sum > 0) || math.IsInf(sum, 0) {
		return nil, fmt.Errorf("diffraction: %d weights of %d receivers with the sum %g, want one for each and a finite sum > 0", len(weights), len(s.Receivers), sum)
	}
	return &Study{plan: p, workers: workers, driver: append([]radiation.Element(nil), driver...), weights: append([]float64(nil), weights...), ripple: ripple}, nil
}

// Rounded returns the study for edges of a radius around the front, by
// [Plan.JoinRounded]: the body of the study is the sharp one, solved by two orders if the
// ripple counts from three times c over its size on, and else by all; the given one has the
// same front with its edges in facets.
//
// A body that is larger or smaller, or elsewhere, is refused.
func (s *Study) Rounded(c *Cabinet, radius float64) (*Study, error) {
	setup := s.plan.setup
	if c != nil {
		lo, hi := setup.Cabinet.extent()
		a, b := c.extent()
		if tol := 1e-6 * setup.Cabinet.size; r3.Norm(r3.Sub(lo, a)) > tol || r3.Norm(r3.Sub(hi, b)) > tol {
			return nil, fmt.Errorf("diffraction: the cabinet in facets goes from %v to %v and the sharp one from %v to %v, want the same body with and without rounded edges", a, b, lo, hi)
		}
	}
	setup.Cabinet, setup.Order = c, Second
	p, err := NewPlan(setup)
	if err != nil {
		return nil, err
	}
	if _, err := s.plan.JoinRounded(nil, make([]complex128, p.Len()), make([]complex128, p.Len()), 0, radius); err != nil {
		return nil, err
	}
	r := *s
	r.faceted, r.radius = p, radius
	return &r, nil
}

// Position is a place on the front and how even a driver sounds there.
type Position struct {
	X, Y   float64 // m
	Window float64 // ripple of the power average over the window, dB
	Axis   float64 // ripple of the first receiver, dB
}

// trial is the workspace of one goroutine of a study.
type trial struct {
	state, facets *State
	h, faceted    []complex128
	source        Source
}

func (s *Study) newTrial() *trial {
	t := &trial{state: s.plan.NewState(), h: make([]complex128, s.plan.Len()), source: Source{Elements: make([]radiation.Element, len(s.driver))}}
	if s.faceted != nil {
		t.facets, t.faceted = s.faceted.NewState(), make([]complex128, s.faceted.Len())
	}
	return t
}

// At returns the ripple with the driver's centre at a place of the front.
func (s *Study) At(x, y float64) (Position, error) { return s.at(s.newTrial(), x, y) }

func (s *Study) at(t *trial, x, y float64) (Position, error) {
	axis, window, err := s.levels(t, x, y)
	if err != nil {
		return Position{}, err
	}
	p := Position{X: x, Y: y}
	if p.Axis, err = s.ripple.Of(axis, s.plan.setup.Grid); err != nil {
		return Position{}, err
	}
	p.Window, err = s.ripple.Of(window, s.plan.setup.Grid)
	return p, err
}

// levels returns the levels on the axis and in the window, dB re half space.
func (s *Study) levels(t *trial, x, y float64) (axis, window []float64, err error) {
	for i, e := range s.driver {
		e.At = r3.Add(e.At, r3.Vec{X: x, Y: y})
		t.source.Elements[i] = e
	}
	if _, err := t.state.SolveTo(t.h, t.source); err != nil {
		return nil, nil, err
	}
	if s.faceted != nil {
		if _, err := t.facets.SolveTo(t.faceted, t.source); err != nil {
			return nil, nil, err
		}
		if _, err := s.plan.JoinRounded(t.h, t.h, t.faceted, 0, s.radius); err != nil {
			return nil, nil, err
		}
	}
	n := s.plan.setup.Grid.Len()
	axis, window = level.OfComplex(nil, t.h[:n]), make([]float64, n)
	sum := 0.0
	for r, w := range s.weights {
		sum += w
		for i, v := range t.h[r*n : (r+1)*n] {
			window[i] += w * (real(v)*real(v) + imag(v)*imag(v))
		}
	}
	for i, v := range window {
		window[i] = level.PowerDB(v / sum)
	}
	return axis, window, nil
}
