package directivity

import (
	"fmt"
	"sync"

	"example.org/loudspeaker/speakerlib/freq"
)

// Method is how a response between two directions is found.
type Method int

// The methods. There is no default.
const (
	// LogPhase: ln|p| and the phase, by piecewise cubics over the angle. Good for lobes
	// without a null, whatever the time of flight. The phase between neighbours is
	// followed over frequency from the lowest one, where it is taken to be within half
	// a turn; a zero is refused.
	LogPhase Method = iota + 1
	// Complex: real and imaginary part, by piecewise cubics over the angle. It takes
	// nulls and changes of sign, and is poor where the phase turns by more than a quarter
	// of a turn from neighbour to neighbour, as it does of a driver beside the axis about
	// which the set was turned.
	Complex
	// Aligned: as Complex, with the delays between neighbours taken out first and their
	// cubic over the angle put back: those, within what the distance allows, at which the
	// correlation of their pressures over all frequencies (|Re Σ p·q*·e^{jωτ}|, per hertz) is
	// largest. It takes both nulls and drivers beside the axis, costs more, and is the one
	// to try first on a measured way.
	Aligned
	// Power: |p|², linearly over the angle, with the phase left at 0. For sets whose
	// phases have no common time zero; what it gives has none either.
	Power
)

// String names the method.
func (m Method) String() string {
	switch m {
	case LogPhase:
		return "logarithm and phase"
	case Complex:
		return "real and imaginary part"
	case Aligned:
		return "real and imaginary part, aligned"
	case Power:
		return "power"
	}
	return fmt.Sprintf("Method(%d)", int(m))
}

// widestGap is the largest gap in degrees that is bridged without another being stated.
const widestGap = 15

// Interpolation says how to interpolate over angle.
type Interpolation struct {
	Method Method
	// Widest is the largest gap that is bridged, in degrees. 0: 15.
	Widest float64
}

func (in Interpolation) validate(p Phases) (Interpolation, error) {
	if in.Method < LogPhase || in.Method > Power {
		return in, fmt.Errorf("directivity: method of interpolation is %d, want LogPhase, Complex, Aligned or Power", int(in.Method))
	}
	if in.Widest == 0 {
		in.Widest = widestGap
	}
	if !(in.Widest > 0 && in.Widest <= 180) {
		return in, fmt.Errorf("directivity: widest gap is %g°, want more than 0° and at most 180°", in.Widest)
	}
	if (in.Method == Power) != (p != Common) {
		return in, fmt.Errorf("directivity: interpolation of %v in a set with %v: want LogPhase, Complex or Aligned with one time zero, and Power without", in.Method, p)
	}
	return in, nil
}

// Fill returns the set with responses in more directions, interpolated over the angle of
// their own orbit and marked as Interpolated, with the neighbours in their label.
// Directions that the set has stay as they are. It refuses to extrapolate, and to bridge a
// gap wider than stated; beyond 180° the orbit goes on on the other side.
func (s *Set) Fill(in Interpolation, d ...Direction) (*Set, error) {
	in, err := in.validate(s.clock.Phases)
	if err != nil {
		return nil, err
	}
	points := s.Points()
	rings := [2]*ring{s.ring(Horizontal), s.ring(Vertical)}
	added := map[Direction]bool{}
	for _, at := range d {
		if err := at.validate(); err != nil {
			return nil, err
		}
		if _, err := s.Point(at); err == nil || added[at] {
			continue
		}
		p, err := s.between(rings[at.Orbit], at, in)
		if err != nil {
			return nil, err
		}
		added[at] = true
		points = append(points, p)
	}
	return s.with(points)
}

// ring is an orbit with the points of its other end added beyond 180°, two to either side, so
// that every gap within the circle has its neighbours.
type ring struct {
	points []Point
	once   []sync.Once
	late   []float64 // of point k re point k−1, s; made when first asked for
}

func (s *Set) ring(o Orbit) *ring {
	on := s.Orbit(o)
	n := min(2, len(on))
	var all []Point
	for _, p := range on[len(on)-n:] {
		p.Direction.Degrees -= 360
		all = append(all, p)
	}
	all = append(all, on...)
	for _, p := range on[:n] {
		p.Direction.Degrees += 360
		all = append(all, p)
	}
	return &ring{all, make([]sync.Once, len(all)), make([]float64, len(all))}
}

// bracket returns the index of the point before an angle, if there is one after it.
func (r *ring) bracket(degrees float64) (k int, ok bool) {
	for k+1 < len(r.points) && r.points[k+1].Direction.Degrees <= degrees {
		k++
	}
	return k, k+1 < len(r.points) && r.points[k].Direction.Degrees <= degrees
}

// gap returns the angle from point k to the next.
func (r *ring) gap(k int) float64 {
	return r.points[k+1].Direction.Degrees - r.points[k].Direction.Degrees
}

// between interpolates within a ring.
func (s *Set) between(r *ring, at Direction, in Interpolation) (Point, error) {
	refuse := func(format string, args ...any) (Point, error) {
		return Point{}, fmt.Errorf("directivity: interpolating %v (%v) in %s: %s", at, at.Orbit, s.covered(at.Orbit), fmt.Sprintf(format, args...))
	}
	k, ok := r.bracket(at.Degrees)
	if !ok {
		return refuse("want an angle between two of them")
	}
	widest := in.Widest * (1 + 1e-9)
	if r.gap(k) > widest {
		return refuse("the gap is %g°, want at most %g° (extrapolation is refused)", r.gap(k), in.Widest)
	}
	a, b := r.points[k], r.points[k+1]
	// The cubic takes a second neighbour on either side, where it is not too far.
	lo, hi := k, k+2
	if k > 0 && r.gap(k-1) <= widest {
		lo--
	}
	if k+2 < len(r.points) && r.gap(k+1) <= widest {
		hi++
	}
	near := r.points[lo:hi]
	var v []complex128
	var err error
	switch in.Method {
	case LogPhase:
		v, err = logPhase(near, k-lo, at.Degrees)
	case Complex:
		v = cartesian(near, make([]float64, len(near)), k-lo, at.Degrees)
	case Aligned:
		late := make([]float64, len(near))
		for j := 1; j < len(near); j++ {
			late[j] = late[j-1] + r.delay(lo+j)
		}
		v = cartesian(near, late, k-lo, at.Degrees)
	default:
		v = linearPower(a, b, at.Degrees)
	}
	if err != nil {
		return refuse("%v", err)
	}
	label := fmt.Sprintf("%v, interpolated from %v and %v", at, Direction{at.Orbit, turned(a.Direction.Degrees)}, Direction{at.Orbit, turned(b.Direction.Degrees)})
	p, err := freq.NewResponse(s.grid, v, label, s.basis)
	return Point{at, p, Interpolated}, err
}
