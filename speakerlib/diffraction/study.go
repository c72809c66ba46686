package diffraction

import (
	"fmt"
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// Ripple is a measure of unevenness: the rms, over log frequency from one frequency to
// another, of what a level deviates from its own trend, in dB. The trend is the mean of
// the level over an octave range around each frequency; it follows the step from full to
// half space, so that the step counts for nothing and what is left is ripple. A narrow
// trend follows slow ripple too.
//
// It is this library's own measure, and not one of a standard.
type Ripple struct {
	From, To float64 // Hz
	Trend    float64 // width of the mean, octaves; 0: 2
}

func (r Ripple) trend() float64 {
	if r.Trend == 0 {
		return 2
	}
	return r.Trend
}

// check reports a range that the grid does not cover together with the trend beside it.
func (r Ripple) check(g *freq.Grid) error {
	if !(r.From > 0 && r.To > r.From) || math.IsInf(r.To, 0) || !(r.trend() > 0) || math.IsInf(r.Trend, 0) {
		return fmt.Errorf("diffraction: ripple from %g to %g Hz about a trend of %g octaves, want 0 < from < to and a finite width > 0", r.From, r.To, r.trend())
	}
	half := math.Exp2(r.trend() / 2)
	const hair = 1e-9
	if lo, hi := r.From/half, r.To*half; g.First() > lo*(1+hair) || g.Last() < hi*(1-hair) {
		return fmt.Errorf("diffraction: ripple from %g to %g Hz needs its trend from %.4g to %.4g Hz, but the grid has %v", r.From, r.To, lo, hi, g)
	}
	if i, j := g.Between(r.From, r.To); j-i < 3 {
		return fmt.Errorf("diffraction: %d frequencies from %g to %g Hz, want at least 3", j-i, r.From, r.To)
	}
	return nil
}

// Of returns the ripple of a level in dB over a grid. The level is taken as linear over
// log frequency between the points.
func (r Ripple) Of(levels []float64, g *freq.Grid) (float64, error) {
	if g == nil || len(levels) != g.Len() {
		return 0, fmt.Errorf("diffraction: %d levels, want one for each point of a grid", len(levels))
	}
	if err := r.check(g); err != nil {
		return 0, err
	}
	// The running integral of the level over log₂ f.
	u, sum := make([]float64, g.Len()), make([]float64, g.Len())
	for i := range u {
		u[i] = math.Log2(g.At(i))
		if i > 0 {
			sum[i] = sum[i-1] + (levels[i]+levels[i-1])/2*(u[i]-u[i-1])
		}
	}
	at := 0
	integral := func(x float64) float64 { // x rises from call to call but for the width
		for at > 0 && u[at] > x {
			at--
		}
		for at < len(u)-2 && u[at+1] < x {
			at++
		}
		d := math.Min(math.Max(x, u[at]), u[at+1]) - u[at]
		slope := (levels[at+1] - levels[at]) / (u[at+1] - u[at])
		return sum[at] + d*(levels[at]+d*slope/2)
	}
	first, end := g.Between(r.From, r.To)
	var square, weight, before float64
	for i := first; i < end; i++ {
		mean := (integral(u[i]+r.trend()/2) - integral(u[i]-r.trend()/2)) / r.trend()
		d := (levels[i] - mean) * (levels[i] - mean)
		if i > first {
			square += (d + before) / 2 * (u[i] - u[i-1])
			weight += u[i] - u[i-1]
		}
		before = d
	}
	return math.Sqrt(square / weight), nil
}

// Study asks where on the front of a cabinet a driver should sit. The receivers of its
// setup are the listening window, of which the first is the axis.
type Study struct {
	plan    *Plan
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
	if err := radiation.CheckElements(driver); err != nil {
		return nil, err
	}
	workers := s.Workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	s.Workers = min(workers, 1) // positions are what runs side by side
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
	if len(weights) != len(s.Receivers) || !(sum > 0) {
		return nil, fmt.Errorf("diffraction: %d weights of %d receivers with the sum %g, want one for each and a sum > 0", len(weights), len(s.Receivers), sum)
	}
	return &Study{plan: p, workers: workers, driver: append([]radiation.Element(nil), driver...), weights: append([]float64(nil), weights...), ripple: ripple}, nil
}

// Position is a place on the front and how even a driver sounds there.
type Position struct {
	X, Y   float64 // m
	Window float64 // ripple of the power average over the window, dB
	Axis   float64 // ripple of the first receiver, dB
}

// trial is the workspace of one goroutine of a study.
type trial struct {
	state  *State
	h      []complex128
	source Source
}

func (s *Study) newTrial() *trial {
	return &trial{state: s.plan.NewState(), h: make([]complex128, s.plan.Len()), source: Source{Elements: make([]radiation.Element, len(s.driver))}}
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

// Map returns the ripple at places of the front in an even pattern of about the given
// spacing, row by row from the lower left, wherever the driver's elements are within the
// outline by the margin. None at all is an error.
func (s *Study) Map(spacing, margin float64) ([]Position, error) {
	c := s.plan.setup.Cabinet
	if !(spacing > 0) || math.IsInf(spacing, 0) || !(margin >= 1e-4*c.size) || math.IsInf(margin, 0) {
		return nil, fmt.Errorf("diffraction: a map every %g m, %g m inside the edges, want a finite spacing > 0 and a margin of at least %g m", spacing, margin, 1e-4*c.size)
	}
	lo, hi := r3.Vec{X: math.Inf(1), Y: math.Inf(1)}, r3.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, v := range c.Outline(0) {
		lo.X, lo.Y, hi.X, hi.Y = math.Min(lo.X, v.X), math.Min(lo.Y, v.Y), math.Max(hi.X, v.X), math.Max(hi.Y, v.Y)
	}
	if n := (hi.X - lo.X) * (hi.Y - lo.Y) / (spacing * spacing); n > 1e6 {
		return nil, fmt.Errorf("diffraction: a map of %.3g places, want at most a million", n)
	}
	var places []Position
	nx, ny := int((hi.X-lo.X)/spacing/2), int((hi.Y-lo.Y)/spacing/2)
	for j := -ny; j <= ny; j++ {
		for i := -nx; i <= nx; i++ {
			p := Position{X: (lo.X+hi.X)/2 + float64(i)*spacing, Y: (lo.Y+hi.Y)/2 + float64(j)*spacing}
			if s.fits(p, margin) {
				places = append(places, p)
			}
		}
	}
	if len(places) == 0 {
		return nil, fmt.Errorf("diffraction: the driver fits nowhere on the front with a margin of %g m", margin)
	}
	return places, s.solveAll(places)
}

func (s *Study) fits(p Position, margin float64) bool {
	for _, e := range s.driver {
		if s.plan.setup.Cabinet.inset(0, r3.Add(e.At, r3.Vec{X: p.X, Y: p.Y})) < margin {
			return false
		}
	}
	return true
}

func (s *Study) solveAll(places []Position) error {
	errs := make([]error, s.workers)
	var wait sync.WaitGroup
	for w := range s.workers {
		wait.Go(func() {
			t := s.newTrial()
			for i := w; i < len(places) && errs[w] == nil; i += s.workers {
				places[i], errs[w] = s.at(t, places[i].X, places[i].Y)
			}
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// Best returns the place with the least ripple in the window: the best of a map, then
// walked from in steps that are halved down to the tolerance wherever no neighbour is
// better. Between the places of the map another basin may be missed.
func (s *Study) Best(spacing, margin, tolerance float64) (Position, error) {
	if !(tolerance > 0) {
		return Position{}, fmt.Errorf("diffraction: a place to within %g m, want a tolerance > 0", tolerance)
	}
	places, err := s.Map(spacing, margin)
	if err != nil {
		return Position{}, err
	}
	best := places[0]
	for _, p := range places {
		if p.Window < best.Window {
			best = p
		}
	}
	for step := spacing / 2; step > tolerance/2; {
		around := s.around(best, step, margin)
		if err := s.solveAll(around); err != nil {
			return Position{}, err
		}
		better := best
		for _, p := range around {
			if p.Window < better.Window {
				better = p
			}
		}
		if better == best {
			step /= 2
		}
		best = better
	}
	return best, nil
}

// around returns the eight neighbours that fit.
func (s *Study) around(p Position, by, margin float64) []Position {
	var places []Position
	for _, d := range [][2]float64{{-1, -1}, {-1, 0}, {-1, 1}, {0, -1}, {0, 1}, {1, -1}, {1, 0}, {1, 1}} {
		if q := (Position{X: p.X + d[0]*by, Y: p.Y + d[1]*by}); s.fits(q, margin) {
			places = append(places, q)
		}
	}
	return places
}

// Sensitivity is what a shift of a driver does.
type Sensitivity struct {
	At             Position
	Least, Most    float64 // ripple on the axis over all shifts, dB
	LevelChange    float64 // largest change of the level on the axis within the band, dB
	AtHz           float64 // where that is
	ShiftX, ShiftY float64 // the shift that does it, m
}

// Sensitivity returns what shifts by a distance (5 mm, say) to the eight sides do to the
// response on the axis. Shifts that do not fit are left out; if none does, it is an
// error.
func (s *Study) Sensitivity(x, y, by float64) (Sensitivity, error) {
	t := s.newTrial()
	g := s.plan.setup.Grid
	at, err := s.at(t, x, y)
	if err != nil {
		return Sensitivity{}, err
	}
	base, _, err := s.levels(t, x, y)
	if err != nil {
		return Sensitivity{}, err
	}
	if !(by > 0) {
		return Sensitivity{}, fmt.Errorf("diffraction: a shift of %g m, want > 0", by)
	}
	places := s.around(at, by, 1e-4*s.plan.setup.Cabinet.size)
	if len(places) == 0 {
		return Sensitivity{}, fmt.Errorf("diffraction: no shift of %g m fits on the front", by)
	}
	out := Sensitivity{At: at, Least: at.Axis, Most: at.Axis}
	first, end := g.Between(s.ripple.From, s.ripple.To)
	for _, p := range places {
		axis, _, err := s.levels(t, p.X, p.Y)
		if err != nil {
			return Sensitivity{}, err
		}
		ripple, err := s.ripple.Of(axis, g)
		if err != nil {
			return Sensitivity{}, err
		}
		out.Least, out.Most = math.Min(out.Least, ripple), math.Max(out.Most, ripple)
		for i := first; i < end; i++ {
			if d := math.Abs(axis[i] - base[i]); d > out.LevelChange {
				out.LevelChange, out.AtHz, out.ShiftX, out.ShiftY = d, g.At(i), p.X-x, p.Y-y
			}
		}
	}
	return out, nil
}
