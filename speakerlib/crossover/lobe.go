package crossover

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/search"
	"example.org/loudspeaker/speakerlib/level"
)

// Lobe is the main lobe of the sum over the elevation at one frequency and distance:
// that which holds the elevation of the highest level within what was measured, or, of
// lobes within 0.1 dB of it, that nearest to the axis.
// Elevations are seen from the reference point, up positive. An edge that was not
// found within what was measured is infinite, with the sign of its side: the lobe is
// open there.
type Lobe struct {
	Hz     float64 `col:"frequency" unit:"Hz" fmt:"%.0f"`
	Tilt   float64 `col:"tilt" unit:"°" fmt:"%+.1f"` // of the highest level
	Level  float64 `col:"level there re axis" unit:"dB" fmt:"%+.2f"`
	Lower3 float64 `col:"−3 dB below" unit:"°" fmt:"%+.1f"` // re the highest level
	Upper3 float64 `col:"−3 dB above" unit:"°" fmt:"%+.1f"`
	Lower6 float64 `col:"−6 dB below" unit:"°" fmt:"%+.1f"`
	Upper6 float64 `col:"−6 dB above" unit:"°" fmt:"%+.1f"`
}

// Width3 returns the angle between the −3 dB edges, infinite of an open lobe.
func (l Lobe) Width3() float64 { return l.Upper3 - l.Lower3 }

// Width6 returns the angle between the −6 dB edges.
func (l Lobe) Width6() float64 { return l.Upper6 - l.Lower6 }

// Elevation is the level in one elevation.
type Elevation struct {
	Angle float64 `col:"elevation" unit:"°" fmt:"%+.1f"`
	Level float64 `col:"level" unit:"dB" fmt:"%.2f"` // dB re the level on the axis at that frequency and distance
}

// lobeStep is how densely a lobe is looked at before its top and edges are refined.
const lobeStep = 0.25 * math.Pi / 180

// OverAngle returns the level of the sum over n elevations from one to another at a
// distance from the reference point, at the point of the grid nearest to a frequency,
// re the axis of the reference point.
func (s *Stack) OverAngle(hz, distance, from, to float64, n int) ([]Elevation, error) {
	if n < 2 || !(from < to) {
		return nil, fmt.Errorf("crossover: %d elevations from %g to %g rad, want at least 2 of them in order", n, from, to)
	}
	f, err := s.nearest(hz)
	if err != nil {
		return nil, err
	}
	axis, err := s.magnitude(f, Place{Distance: distance})
	if err != nil {
		return nil, err
	}
	if axis == 0 {
		return nil, fmt.Errorf("crossover: sum is silent on the axis at %g Hz: there is no level to refer to", s.grid.At(f))
	}
	out := make([]Elevation, n)
	for i := range out {
		a := from + (to-from)*float64(i)/float64(n-1)
		v, err := s.magnitude(f, Arc(distance, a))
		if err != nil {
			return nil, err
		}
		out[i] = Elevation{a, level.DB(v / axis)}
	}
	return out, nil
}

// nearest returns the point of the grid nearest to a frequency within it.
func (s *Stack) nearest(hz float64) (int, error) {
	const slack = 1e-9
	if !(hz >= s.grid.First()*(1-slack) && hz <= s.grid.Last()*(1+slack)) {
		return 0, fmt.Errorf("crossover: lobe at %g Hz, want a frequency within %v", hz, s.grid)
	}
	return s.grid.Nearest(hz), nil
}

// magnitude returns |sum| at an index of frequency.
func (s *Stack) magnitude(f int, p Place) (float64, error) {
	var z [1]complex128
	for k := range s.ways {
		if err := s.wayTo(z[:], k, p, f, f+1); err != nil {
			return 0, err
		}
	}
	return cmplx.Abs(z[0]), nil
}

// Lobe finds the main lobe at the point of the grid nearest to a frequency, at a
// distance. It looks every quarter degree over all that was measured; top and edges
// are then refined.
func (s *Stack) Lobe(hz, distance float64) (Lobe, error) {
	from, to, err := s.Range(distance)
	if err != nil {
		return Lobe{}, err
	}
	f, err := s.nearest(hz)
	if err != nil {
		return Lobe{}, err
	}
	at := func(a float64) float64 {
		v, err := s.magnitude(f, Arc(distance, max(from, min(to, a))))
		if err != nil {
			return math.NaN()
		}
		return v
	}
	axis, err := s.magnitude(f, Place{Distance: distance})
	if err != nil {
		return Lobe{}, err
	}
	n := int(math.Ceil((to-from)/lobeStep)) + 1
	step := (to - from) / float64(n-1)
	top, most := 0, math.Inf(-1)
	v := make([]float64, n)
	for i := range v {
		if v[i] = at(from + float64(i)*step); v[i] > most {
			top, most = i, v[i]
		}
	}
	if !(most > 0) {
		return Lobe{}, fmt.Errorf("crossover: sum is silent in every elevation at %g Hz: there is no lobe", s.grid.At(f))
	}
	for i, x := range v { // local maxima as high, but for a little, and nearer to the axis
		a := from + float64(i)*step
		if x >= most*level.Ratio(-0.1) && (i == 0 || x >= v[i-1]) && (i == n-1 || x >= v[i+1]) && math.Abs(a) < math.Abs(from+float64(top)*step) {
			top = i
		}
	}
	l := Lobe{Hz: s.grid.At(f)}
	l.Tilt, most = search.Golden(at, from+float64(max(top-1, 0))*step, from+float64(min(top+1, n-1))*step, 1e-6)
	l.Level = level.DB(most / axis)
	edge := func(drop float64, direction int) float64 {
		limit := most * level.Ratio(-drop)
		for i := top; i >= 0 && i < n; i += direction {
			if v[i] > limit {
				continue
			}
			in, out := from+float64(i-direction)*step, from+float64(i)*step
			for range 40 {
				if m := (in + out) / 2; at(m) > limit {
					in = m
				} else {
					out = m
				}
			}
			return (in + out) / 2
		}
		return math.Inf(direction)
	}
	l.Lower3, l.Upper3, l.Lower6, l.Upper6 = edge(3, -1), edge(3, 1), edge(6, -1), edge(6, 1)
	return l, nil
}

// Tilt returns the tilt of the main lobe over frequency at a distance, rad, on the
// points of the grid within lo … hi hertz. Where ways overlap it shows where the
// sound is aimed; it jumps where another lobe becomes the highest.
func (s *Stack) Tilt(lo, hi, distance float64) (freq.Curve, error) {
	i, j := s.grid.Between(lo, hi)
	if i >= j {
		return freq.Curve{}, fmt.Errorf("crossover: no point of %v within %g … %g Hz", s.grid, lo, hi)
	}
	g, err := freq.NewGrid(s.grid.Hz()[i:j])
	if err != nil {
		return freq.Curve{}, err
	}
	v := make([]float64, g.Len())
	for k := range v {
		l, err := s.Lobe(g.At(k), distance)
		if err != nil {
			return freq.Curve{}, err
		}
		v[k] = l.Tilt
	}
	return freq.NewCurve(g, v, fmt.Sprintf("tilt of the lobe at %.4g m", distance), "rad", freq.Basis{})
}
