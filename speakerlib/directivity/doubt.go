package directivity

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/level"
)

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
		k, ok := ring.bracket(p.Direction.Degrees)
		if !ok || ring.gap(k) > in.Widest*(1+1e-9) {
			continue // at the end of the orbit, or beside a gap
		}
		guess, err := fewer.between(ring, p.Direction, in)
		if err != nil {
			return nil, err
		}
		for k := i; k < j; k++ {
			if p.Response.At(k) == 0 {
				return nil, fmt.Errorf("directivity: %v (%v) is silent at %g Hz, want a sound to compare with", p.Direction, o, s.grid.At(k))
			}
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
