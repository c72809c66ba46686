package directivity

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
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
	// of a turn from neighbour to neighbour, as far from the acoustic centre it does.
	Complex
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
	case Power:
		return "power"
	}
	return fmt.Sprintf("Method(%d)", int(m))
}

// Interpolation says how to interpolate over angle.
type Interpolation struct {
	Method Method
	// Widest is the largest gap that is bridged, in degrees. 0: 15.
	Widest float64
}

func (in Interpolation) validate(p Phases) (Interpolation, error) {
	if in.Method < LogPhase || in.Method > Power {
		return in, fmt.Errorf("directivity: method of interpolation is %d, want LogPhase, Complex or Power", int(in.Method))
	}
	if in.Widest == 0 {
		in.Widest = 15
	}
	if !(in.Widest > 0 && in.Widest <= 180) {
		return in, fmt.Errorf("directivity: widest gap is %g°, want more than 0° and at most 180°", in.Widest)
	}
	if (in.Method == Power) != (p != Common) {
		return in, fmt.Errorf("directivity: interpolation of %v in a set with %v: want LogPhase or Complex with one time zero, and Power without", in.Method, p)
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
	rings := [2][]Point{s.ring(Horizontal), s.ring(Vertical)}
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

// ring returns the points of an orbit with those of the other end added beyond 180°, two to
// either side, so that every gap within the circle has its neighbours.
func (s *Set) ring(o Orbit) []Point {
	on := s.Orbit(o)
	if len(on) == 0 {
		return nil
	}
	n := min(2, len(on))
	var ring []Point
	for _, p := range on[len(on)-n:] {
		p.Direction.Degrees -= 360
		ring = append(ring, p)
	}
	ring = append(ring, on...)
	for _, p := range on[:n] {
		p.Direction.Degrees += 360
		ring = append(ring, p)
	}
	return ring
}

// bracket returns the index of the point before an angle in a ring, if there is one after it.
func bracket(ring []Point, degrees float64) (k int, ok bool) {
	for k+1 < len(ring) && ring[k+1].Direction.Degrees <= degrees {
		k++
	}
	return k, k+1 < len(ring) && ring[k].Direction.Degrees <= degrees
}

// between interpolates within a ring.
func (s *Set) between(ring []Point, at Direction, in Interpolation) (Point, error) {
	refuse := func(format string, args ...any) (Point, error) {
		return Point{}, fmt.Errorf("directivity: interpolating %v (%v) in %s: %s", at, at.Orbit, s.covered(at.Orbit), fmt.Sprintf(format, args...))
	}
	k, ok := bracket(ring, at.Degrees)
	if !ok {
		return refuse("want an angle between two of them")
	}
	a, b := ring[k], ring[k+1]
	if gap := b.Direction.Degrees - a.Direction.Degrees; gap > in.Widest*(1+1e-9) {
		return refuse("the gap is %g°, want at most %g° (extrapolation is refused)", gap, in.Widest)
	}
	// The cubic takes a second neighbour on either side, where it is not too far.
	lo, hi := k, k+2
	if in.Method != Power {
		if k > 0 && a.Direction.Degrees-ring[k-1].Direction.Degrees <= in.Widest*(1+1e-9) {
			lo--
		}
		if k+2 < len(ring) && ring[k+2].Direction.Degrees-b.Direction.Degrees <= in.Widest*(1+1e-9) {
			hi++
		}
	}
	var v []complex128
	var err error
	switch in.Method {
	case LogPhase:
		v, err = logPhase(ring[lo:hi], k-lo, at.Degrees)
	case Complex:
		v = cartesian(ring[lo:hi], k-lo, at.Degrees)
	default:
		v = linearPower(a, b, at.Degrees)
	}
	if err != nil {
		return refuse("%v", err)
	}
	label := fmt.Sprintf("%v, interpolated from %v and %v", at, Direction{at.Orbit, turned(a.Direction.Degrees)}, Direction{at.Orbit, turned(b.Direction.Degrees)})
	r, err := freq.NewResponse(s.grid, v, label, s.basis)
	return Point{at, r, Interpolated}, err
}

// turnLimit is how far the difference of phase between neighbours may turn from one
// frequency to the next before it is no longer clear which way.
const turnLimit = 0.9 * math.Pi

func logPhase(near []Point, k int, degrees float64) ([]complex128, error) {
	n := near[0].Response.Len()
	x := make([]float64, len(near))
	for j, p := range near {
		x[j] = p.Direction.Degrees
	}
	amp, phase := make([]float64, len(near)), make([]float64, len(near))
	turn := make([]float64, len(near)) // phase of j re j−1, followed over frequency
	v := make([]complex128, n)
	for i := range v {
		for j, p := range near {
			z := p.Response.At(i)
			if z == 0 {
				return nil, fmt.Errorf("%v is 0 at %g Hz, which has no logarithm: want the method Complex", p.Direction, p.Response.Grid().At(i))
			}
			amp[j] = math.Log(cmplx.Abs(z))
			if j == 0 {
				phase[j] = cmplx.Phase(z)
				continue
			}
			step := cmplx.Phase(z*cmplx.Conj(near[j-1].Response.At(i))*cmplx.Rect(1, -turn[j])) + 0
			if i > 0 && math.Abs(step) > turnLimit {
				return nil, fmt.Errorf("the phase of %v re %v turns by %.2f rad from %g to %g Hz, want at most %.2f: measure finer, or take the method Complex", p.Direction, near[j-1].Direction, step, p.Response.Grid().At(i-1), p.Response.Grid().At(i), turnLimit)
			}
			turn[j] += step
			phase[j] = phase[j-1] + turn[j]
		}
		v[i] = cmplx.Rect(math.Exp(cubic(x, amp, k, degrees)), cubic(x, phase, k, degrees))
	}
	return v, nil
}

func cartesian(near []Point, k int, degrees float64) []complex128 {
	x := make([]float64, len(near))
	for j, p := range near {
		x[j] = p.Direction.Degrees
	}
	re, im := make([]float64, len(near)), make([]float64, len(near))
	v := make([]complex128, near[0].Response.Len())
	for i := range v {
		for j, p := range near {
			z := p.Response.At(i)
			re[j], im[j] = real(z), imag(z)
		}
		v[i] = complex(cubic(x, re, k, degrees), cubic(x, im, k, degrees))
	}
	return v
}

func linearPower(a, b Point, degrees float64) []complex128 {
	t := (degrees - a.Direction.Degrees) / (b.Direction.Degrees - a.Direction.Degrees)
	p, q := power(a.Response), power(b.Response)
	v := make([]complex128, len(p))
	for i := range v {
		v[i] = complex(math.Sqrt((1-t)*p[i]+t*q[i]), 0)
	}
	return v
}

// cubic returns the value at X of the cubic between x[k] and x[k+1] whose slopes are those
// of the parabolas through each and its neighbours: quadratics are kept.
func cubic(x, y []float64, k int, at float64) float64 {
	h := x[k+1] - x[k]
	middle := (y[k+1] - y[k]) / h
	left, right := middle, middle
	if k > 0 {
		g := x[k] - x[k-1]
		left = (middle*g + (y[k]-y[k-1])/g*h) / (g + h)
	}
	if k+2 < len(x) {
		g := x[k+2] - x[k+1]
		right = (middle*g + (y[k+2]-y[k+1])/g*h) / (g + h)
	}
	// One neighbour missing: the parabola through the three that there are.
	if k == 0 && k+2 < len(x) {
		left = 2*middle - right
	} else if k > 0 && k+2 == len(x) {
		right = 2*middle - left
	}
	t := (at - x[k]) / h
	return y[k] + h*t*(middle+(1-t)*((1-t)*(left-middle)-t*(right-middle)))
}

// Doubt is how far an interpolation is from what was measured.
type Doubt struct {
	Direction Direction
	RMS       float64 // of the difference in level within the band, weighted by log frequency, dB
	Worst     float64 // the difference of the largest magnitude, dB
	WorstAt   float64 // where, Hz
}

// LeaveOneOut tells what an interpolation over an orbit is worth within lo … hi hertz: each
// angle that has neighbours is left out, interpolated from them over a gap that is twice
// as wide as that of the set, and compared with what is there. Of a smooth pattern the set
// itself is then interpolated about four (Power) to sixteen times better. Only points that
// are not interpolated themselves count.
func (s *Set) LeaveOneOut(o Orbit, in Interpolation, lo, hi float64) ([]Doubt, error) {
	if o != Horizontal && o != Vertical {
		return nil, fmt.Errorf("directivity: orbit is %d, want Horizontal or Vertical", int(o))
	}
	in, err := in.validate(s.clock.Phases)
	if err != nil {
		return nil, err
	}
	i, j := s.grid.Between(lo, hi)
	if j-i < 2 {
		return nil, fmt.Errorf("directivity: %d points within %g … %g Hz (%v), want at least 2", j-i, lo, hi, s.grid)
	}
	in.Widest = min(180, 2*in.Widest)
	var doubts []Doubt
	for _, p := range s.Orbit(o) {
		if p.Origin == Interpolated {
			continue
		}
		if len(s.points) == 1 {
			break
		}
		var rest []Point
		for _, q := range s.points {
			if q.Direction != p.Direction && !(p.Direction.shared() && q.Direction == p.Direction.other()) {
				rest = append(rest, q)
			}
		}
		fewer, err := s.with(rest)
		if err != nil {
			return nil, err
		}
		ring := fewer.ring(o)
		k, ok := bracket(ring, p.Direction.Degrees)
		if !ok || ring[k+1].Direction.Degrees-ring[k].Direction.Degrees > in.Widest*(1+1e-9) {
			continue // at the end of the orbit, or beside a gap
		}
		guess, err := fewer.between(ring, p.Direction, in)
		if err != nil {
			return nil, err
		}
		doubts = append(doubts, compare(p, guess, i, j))
	}
	if doubts == nil {
		return nil, fmt.Errorf("directivity: no %v angle has two neighbours within %g°: want three angles at least (%s)", o, in.Widest, s.covered(o))
	}
	return doubts, nil
}

func compare(p, guess Point, i, j int) Doubt {
	d := Doubt{Direction: p.Direction}
	g := p.Response.Grid()
	var sum, total float64
	for k := i; k < j; k++ {
		e := level.DB(cmplx.Abs(guess.Response.At(k)) / cmplx.Abs(p.Response.At(k)))
		w := math.Log(g.At(min(k+1, j-1)) / g.At(max(k-1, i)))
		sum += w * e * e
		total += w
		if !(math.Abs(e) <= math.Abs(d.Worst)) {
			d.Worst, d.WorstAt = e, g.At(k)
		}
	}
	d.RMS = math.Sqrt(sum / total)
	return d
}
