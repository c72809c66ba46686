package directivity

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Origin is where the response of a direction comes from.
type Origin int

// The origins, from the best to the most doubtful.
const (
	Given        Origin = iota // measured or computed in that very direction
	Mirrored                   // that of the other side
	Interpolated               // from its neighbours
)

// String names the origin.
func (o Origin) String() string {
	switch o {
	case Given:
		return "given"
	case Mirrored:
		return "mirrored"
	case Interpolated:
		return "interpolated"
	}
	return fmt.Sprintf("Origin(%d)", int(o))
}

// Point is the response in a direction.
type Point struct {
	Direction Direction
	Response  freq.Response
	Origin    Origin
}

// Set is a loudspeaker's sound pressure over directions: on one grid, on one basis,
// about one reference point. It is immutable.
type Set struct {
	grid   *freq.Grid
	basis  freq.Basis
	clock  Clock
	usable float64
	points []Point // by orbit, then by angle
}

// NewSet returns the set of the points, which are pressures in half or full space at a
// stated distance, all on one basis and one grid, each in a direction of its own.
func NewSet(c Clock, points ...Point) (*Set, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	if len(points) == 0 {
		return nil, fmt.Errorf("directivity: set of no direction, want at least 1")
	}
	s := &Set{clock: c, points: slices.Clone(points)}
	for i, p := range s.points {
		if err := p.Direction.validate(); err != nil {
			return nil, err
		}
		if p.Origin < Given || p.Origin > Interpolated {
			return nil, fmt.Errorf("directivity: origin of %v is %d, want Given, Mirrored or Interpolated", p.Direction, int(p.Origin))
		}
		if p.Response.Grid() == nil {
			return nil, fmt.Errorf("directivity: no response %v, want one", p.Direction)
		}
		b := p.Response.Basis()
		if i == 0 {
			s.grid, s.basis = p.Response.Grid(), b
			if b.Quantity != freq.Pressure || b.Space != freq.FullSpace && b.Space != freq.HalfSpace || !(b.Distance > 0) {
				return nil, fmt.Errorf("directivity: response %v is %v, want a sound pressure in half or full space at a stated distance", p.Direction, b)
			}
			continue
		}
		if b != s.basis {
			return nil, fmt.Errorf("directivity: response %v is %v, and %v %v: want the same basis in a set", p.Direction, b, s.points[0].Direction, s.basis)
		}
		if !p.Response.Grid().Equal(s.grid) {
			return nil, fmt.Errorf("directivity: response %v is on %v, and %v on %v: want the same frequencies in a set", p.Direction, p.Response.Grid(), s.points[0].Direction, s.grid)
		}
	}
	slices.SortStableFunc(s.points, func(p, q Point) int {
		return cmp.Or(cmp.Compare(p.Direction.Orbit, q.Direction.Orbit), cmp.Compare(p.Direction.Degrees, q.Direction.Degrees))
	})
	for i := 1; i < len(s.points); i++ {
		if p, q := s.points[i-1], s.points[i]; p.Direction == q.Direction {
			return nil, fmt.Errorf("directivity: %q and %q are both %v (%v), want one response a direction", p.Response.Label(), q.Response.Label(), q.Direction, q.Direction.Orbit)
		}
	}
	return s, nil
}

// Grid returns the grid.
func (s *Set) Grid() *freq.Grid { return s.grid }

// Basis returns what the responses are.
func (s *Set) Basis() freq.Basis { return s.basis }

// Clock returns what the phases mean.
func (s *Set) Clock() Clock { return s.clock }

// UsableFrom returns the frequency from which all files of the set say that they are
// usable, because of the length of a gate for instance; 0 if none says.
func (s *Set) UsableFrom() float64 { return s.usable }

// Points returns all points, the horizontal orbit first, by ascending angle.
func (s *Set) Points() []Point { return slices.Clone(s.points) }

// Orbit returns the points of an orbit by ascending angle, those at 0° and 180° that
// only the other orbit has included.
func (s *Set) Orbit(o Orbit) []Point {
	var on []Point
	for _, p := range s.points {
		if p.Direction.Orbit == o {
			on = append(on, p)
		}
	}
	if len(on) == 0 {
		return nil
	}
	for _, degrees := range []float64{0, 180} {
		d := Direction{o, degrees}
		if _, own := s.find(d); own {
			continue
		}
		if p, ok := s.find(d.other()); ok {
			p.Direction = d
			on = append(on, p)
		}
	}
	slices.SortFunc(on, func(p, q Point) int { return cmp.Compare(p.Direction.Degrees, q.Direction.Degrees) })
	return on
}

// find returns the point of exactly that orbit and angle.
func (s *Set) find(d Direction) (Point, bool) {
	i, ok := slices.BinarySearchFunc(s.points, d, func(p Point, d Direction) int {
		return cmp.Or(cmp.Compare(p.Direction.Orbit, d.Orbit), cmp.Compare(p.Direction.Degrees, d.Degrees))
	})
	if !ok {
		return Point{}, false
	}
	return s.points[i], true
}

// Point returns the point of a direction; 0° and 180° may be those of the other orbit.
// A direction that the set has not is an error, never the nearest one.
func (s *Set) Point(d Direction) (Point, error) {
	if err := d.validate(); err != nil {
		return Point{}, err
	}
	if p, ok := s.find(d); ok {
		return p, nil
	}
	if d.shared() {
		if p, ok := s.find(d.other()); ok {
			p.Direction = d
			return p, nil
		}
	}
	return Point{}, fmt.Errorf("directivity: no response %v (%v), want one of %s, or Set.Fill to interpolate", d, d.Orbit, s.covered(d.Orbit))
}

// covered says which angles an orbit has.
func (s *Set) covered(o Orbit) string {
	var a []string
	for _, p := range s.Orbit(o) {
		a = append(a, fmt.Sprintf("%g", p.Direction.Degrees))
	}
	if a == nil {
		return fmt.Sprintf("no %v angle", o)
	}
	return fmt.Sprintf("the %v angles %s°", o, strings.Join(a, " "))
}

// Response returns the complex response of a direction. A set without phases has none.
func (s *Set) Response(d Direction) (freq.Response, error) {
	p, err := s.Point(d)
	if err != nil {
		return freq.Response{}, err
	}
	if s.clock.Phases == Unknown {
		return freq.Response{}, fmt.Errorf("directivity: complex response %v of a set with %v: its Magnitude is what there is", d, s.clock.Phases)
	}
	return p.Response, nil
}

// Magnitude returns the magnitude of the pressure in a direction; Curve.DB makes a level
// of it.
func (s *Set) Magnitude(d Direction) (freq.Curve, error) {
	p, err := s.Point(d)
	if err != nil {
		return freq.Curve{}, err
	}
	return p.Response.Magnitude(), nil
}

// SPL returns the sound pressure level in a direction at a drive in volts rms, in dB re
// 20 µPa. The set must be per volt.
func (s *Set) SPL(d Direction, volts float64) (freq.Curve, error) {
	p, err := s.Point(d)
	if err != nil {
		return freq.Curve{}, err
	}
	if err := s.drivable(volts); err != nil {
		return freq.Curve{}, err
	}
	return p.Response.SPL(volts), nil
}

func (s *Set) drivable(volts float64) error {
	if !(volts > 0) || math.IsInf(volts, 0) {
		return fmt.Errorf("directivity: drive is %g V, want a finite value > 0", volts)
	}
	if s.basis.Per != freq.PerTerminals && s.basis.Per != freq.PerInput {
		return fmt.Errorf("directivity: levels at %g V of a set that is %v, want one per volt", volts, s.basis)
	}
	return nil
}

// with returns a set with the same clock and other points.
func (s *Set) with(points []Point) (*Set, error) {
	t, err := NewSet(s.clock, points...)
	if err != nil {
		return nil, err
	}
	t.usable = s.usable
	return t, nil
}

// mapped returns the set with every response replaced.
func (s *Set) mapped(change func(v []complex128, omega []float64)) (*Set, error) {
	points := slices.Clone(s.points)
	for i, p := range points {
		v := p.Response.Values()
		change(v, s.grid.Omega())
		r, err := freq.NewResponse(s.grid, v, p.Response.Label(), s.basis)
		if err != nil {
			return nil, err
		}
		points[i].Response = r
	}
	return s.with(points)
}

// Without returns the set with a time of flight in seconds taken out of every response,
// multiplied by e^{jωt}, and added to Clock.Removed. All ways of a loudspeaker take the
// same one.
func (s *Set) Without(flight float64) (*Set, error) {
	if math.IsNaN(flight) || math.IsInf(flight, 0) {
		return nil, fmt.Errorf("directivity: time of flight is %g s, want a finite value", flight)
	}
	if s.clock.Phases != Common {
		return nil, fmt.Errorf("directivity: taking a time of flight out of a set with %v, want one time zero", s.clock.Phases)
	}
	t, err := s.mapped(func(v []complex128, omega []float64) {
		for i, w := range omega {
			v[i] *= cmplx.Rect(1, w*flight)
		}
	})
	if err != nil {
		return nil, err
	}
	t.clock.Removed += flight
	return t, nil
}

// Mirror returns the set with the directions of an orbit that it lacks taken from the
// other side, where that has them, and marked as Mirrored. It is for a loudspeaker that
// is symmetric, such as one with all drivers on the middle line for the horizontal orbit;
// nothing tests that, and vertically hardly any is.
func (s *Set) Mirror(o Orbit) (*Set, error) {
	points := slices.Clone(s.points)
	for _, p := range s.Orbit(o) {
		p.Direction.Degrees = turned(-p.Direction.Degrees)
		if p.Direction.shared() {
			continue
		}
		if _, has := s.find(p.Direction); !has {
			p.Origin = max(p.Origin, Mirrored)
			points = append(points, p)
		}
	}
	return s.with(points)
}

// Gaps returns the angles of an orbit that are missing in its raster: with the commonest
// step between its neighbours, the multiples of the step between its first and its last
// angle that it has not. An orbit of fewer than three angles has no raster.
func (s *Set) Gaps(o Orbit) []float64 {
	on := s.Orbit(o)
	if len(on) < 3 {
		return nil
	}
	count, step := map[float64]int{}, 0.0
	for i := 1; i < len(on); i++ {
		d := on[i].Direction.Degrees - on[i-1].Direction.Degrees
		count[d]++
		if count[d] > count[step] || count[d] == count[step] && d < step {
			step = d
		}
	}
	var gaps []float64
	for i := 1; i < len(on); i++ {
		a, b := on[i-1].Direction.Degrees, on[i].Direction.Degrees
		for k := 1.0; a+k*step < b-step/2; k++ {
			gaps = append(gaps, a+k*step)
		}
	}
	return gaps
}

// power returns |p|² of a point.
func power(r freq.Response) []float64 {
	p := make([]float64, r.Len())
	for i := range p {
		v := r.At(i)
		p[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	return p
}

// relative returns the level of a response re another of the same grid, in dB.
func relative(r, re freq.Response) ([]float64, error) {
	p, q := power(r), power(re)
	for i := range p {
		if q[i] == 0 {
			return nil, fmt.Errorf("directivity: reference %q is 0 at %g Hz, want a reference that is not silent", re.Label(), re.Grid().At(i))
		}
		p[i] = level.PowerDB(p[i] / q[i])
	}
	return p, nil
}
