package directivity

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Toward returns the pressure in any direction, a vector to the right, upward and forward as
// seen by someone who looks at the front. On one of the orbits it is that of the orbit, found
// between angles as stated. Beside them it is an estimate, of the horizontal and the vertical
// response at the same angle θ from the axis, on the side where the direction lies:
//
//	p = cos²φ·p_H(±θ) + sin²φ·p_V(±θ),  tan φ = up/right
//
// (common practice, no source). It is right for sources that are alike around the axis, and
// keeps what the orbits have; a lobe that only lies between them it cannot know.
func (s *Set) Toward(right, up, forward float64, in Interpolation) (Point, error) {
	if err := pointed(right, up, forward); err != nil {
		return Point{}, err
	}
	in, err := s.directed(in)
	if err != nil {
		return Point{}, err
	}
	return s.toward([2]*ring{s.ring(Horizontal), s.ring(Vertical)}, right, up, forward, in)
}

func (s *Set) toward(rings [2]*ring, right, up, forward float64, in Interpolation) (Point, error) {
	aside := math.Hypot(right, up)
	theta := math.Atan2(aside, forward) * 180 / math.Pi
	if aside < 1e-12*norm(right, up, forward) {
		return s.Point(Side(math.Round(theta)))
	}
	h, err := s.part(rings, Side(math.Copysign(theta, right)), right*right/(aside*aside), in)
	if err != nil {
		return Point{}, err
	}
	v, err := s.part(rings, Up(math.Copysign(theta, up)), up*up/(aside*aside), in)
	if err != nil {
		return Point{}, err
	}
	if h.weight == 0 {
		return v.Point, nil
	}
	if v.weight == 0 {
		return h.Point, nil
	}
	sum := make([]complex128, s.grid.Len())
	for i := range sum {
		sum[i] = complex(h.weight, 0)*h.Response.At(i) + complex(v.weight, 0)*v.Response.At(i)
	}
	r, err := freq.NewResponse(s.grid, sum, fmt.Sprintf("%g° from the axis, from %v and %v", theta, h.Direction, v.Direction), s.basis)
	return Point{h.Direction, r, Interpolated}, err
}

// pointed reports a vector that has no direction.
func pointed(right, up, forward float64) error {
	if n := norm(right, up, forward); !(n > 0) || math.IsInf(n, 0) {
		return fmt.Errorf("directivity: direction %g %g %g, want a finite vector that is not 0", right, up, forward)
	}
	return nil
}

// directed reports a set or an interpolation that gives nothing beside the orbits.
func (s *Set) directed(in Interpolation) (Interpolation, error) {
	if s.clock.Phases != Common {
		return in, fmt.Errorf("directivity: direction beside the orbits of a set with %v, want one time zero", s.clock.Phases)
	}
	return in.validate(s.clock.Phases)
}

func norm(x, y, z float64) float64 { return math.Sqrt(x*x + y*y + z*z) }

type part struct {
	Point
	weight float64
}

// part returns the point of a direction and its weight; without weight it is not looked for.
func (s *Set) part(rings [2]*ring, d Direction, weight float64, in Interpolation) (part, error) {
	if weight < 1e-12 {
		return part{}, nil
	}
	p, err := s.Point(d)
	if err != nil {
		p, err = s.between(rings[d.Orbit], d, in)
	}
	return part{p, weight}, err
}

// Pattern returns Toward as a function, which is what package room takes as the directivity of
// a source. What the interpolation needs is found once. Faults are told when it is called.
func (s *Set) Pattern(in Interpolation) func(right, up, forward float64) (freq.Transfer, error) {
	rings := [2]*ring{s.ring(Horizontal), s.ring(Vertical)}
	in, fault := s.directed(in)
	return func(right, up, forward float64) (freq.Transfer, error) {
		if fault != nil {
			return nil, fault
		}
		if err := pointed(right, up, forward); err != nil {
			return nil, err
		}
		p, err := s.toward(rings, right, up, forward, in)
		if err != nil {
			return nil, err
		}
		return p.Response, nil
	}
}
