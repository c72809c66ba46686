package diffraction

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/radiation"
)

// Map returns the ripple at places of the front in an even pattern of about the given
// spacing, row by row from the lower left, wherever the driver's elements are within the
// outline by the margin and its rim is within it. None at all is an error.
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

// fits tells whether the driver has its place on the front, or on both fronts.
func (s *Study) fits(p Position, margin float64) bool {
	sharp := s.plan.setup.Cabinet
	for _, e := range s.driver {
		e.At = r3.Add(e.At, r3.Vec{X: p.X, Y: p.Y})
		if !sharp.holds(e, margin) || s.faceted != nil && !s.faceted.setup.Cabinet.holds(e, 1e-4*sharp.size) {
			return false
		}
	}
	return true
}

// holds tells whether an element is inside the edges of the front by a margin, and the
// surface that it is a part of at all.
func (c *Cabinet) holds(e radiation.Element, margin float64) bool {
	return c.inset(0, e.At) >= margin && c.room(0, e) >= -flat*c.size
}

// solveAll returns the error of the first place that has one, whoever found it.
func (s *Study) solveAll(places []Position) error {
	errs := make([]error, len(places))
	var wait sync.WaitGroup
	for w := range s.workers {
		wait.Go(func() {
			t := s.newTrial()
			for i := w; i < len(places); i += s.workers {
				if places[i], errs[i] = s.at(t, places[i].X, places[i].Y); errs[i] != nil {
					return
				}
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

// alike is what places may differ by and be equally good, dB: far more than rounding leaves
// between a place and its mirror image. The first of them counts, on every processor.
const alike = 1e-9

// Best returns the place with the least ripple in the window: the best of a map, then
// walked from in steps that are halved down to the tolerance wherever no neighbour is
// better. Between the places of the map another basin may be missed. Of places that are
// alike, as mirror images are, the first counts, in rows from the lower left.
func (s *Study) Best(spacing, margin, tolerance float64) (Position, error) {
	if least := 1e-6 * s.plan.setup.Cabinet.size; !(tolerance >= least) || math.IsInf(tolerance, 0) {
		return Position{}, fmt.Errorf("diffraction: a place to within %g m, want a finite tolerance of at least %.2g m", tolerance, least)
	}
	places, err := s.Map(spacing, margin)
	if err != nil {
		return Position{}, err
	}
	best := places[0]
	for _, p := range places {
		if p.Window < best.Window-alike {
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
			if p.Window < better.Window-alike {
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
	if size := s.plan.setup.Cabinet.size; !(by >= 1e-6*size && by <= size) {
		return Sensitivity{}, fmt.Errorf("diffraction: a shift of %g m, want %.2g … %.4g m", by, 1e-6*size, size)
	}
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
			if d := math.Abs(axis[i] - base[i]); d > out.LevelChange+alike {
				out.LevelChange, out.AtHz, out.ShiftX, out.ShiftY = d, g.At(i), p.X-x, p.Y-y
			}
		}
	}
	return out, nil
}

// Swept is a value of a dimension and what became of a driver's place with it.
type Swept struct {
	Value float64
	Position
}

// Sweep varies a dimension of the cabinet: its width, or the radius of its edges. For each
// value it makes a study and asks it for a place, as by [Study.At] or [Study.Best].
func Sweep(values []float64, study func(value float64) (*Study, error), place func(*Study) (Position, error)) ([]Swept, error) {
	if len(values) == 0 || study == nil || place == nil {
		return nil, fmt.Errorf("diffraction: a sweep of %d values (with a study: %t, with a place to ask for: %t), want at least one value and both", len(values), study != nil, place != nil)
	}
	out := make([]Swept, len(values))
	for i, v := range values {
		s, err := study(v)
		if err != nil {
			return nil, fmt.Errorf("value %d of the sweep, %g: %w", i, v, err)
		}
		p, err := place(s)
		if err != nil {
			return nil, fmt.Errorf("value %d of the sweep, %g: %w", i, v, err)
		}
		out[i] = Swept{v, p}
	}
	return out, nil
}
