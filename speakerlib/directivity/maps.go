package directivity

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Map is a level over frequency and angle, for a figure.
type Map struct {
	Orbit   Orbit
	Degrees []float64    // ascending
	Origins []Origin     // of each angle: what is mirrored or interpolated is marked in a figure
	Levels  []freq.Curve // of each angle, dB
	Re      string       // what 0 dB is, in words
}

// Levels returns the map of the sound pressure levels of an orbit at a drive in volts rms,
// in dB re 20 µPa. The set must be per volt.
func (s *Set) Levels(o Orbit, volts float64) (*Map, error) {
	on, err := s.whole(o)
	if err != nil {
		return nil, err
	}
	if err := s.drivable(volts); err != nil {
		return nil, err
	}
	m := &Map{Orbit: o, Re: fmt.Sprintf("20 µPa at %g V, %v", volts, s.basis)}
	for _, p := range on {
		m.add(p, p.Response.SPL(volts))
	}
	return m, nil
}

// Normalised returns the map of an orbit re one direction at every frequency: the shape of
// the radiation without the response in that direction. A dip in the reference direction
// is a ridge in all others.
func (s *Set) Normalised(o Orbit, re Direction) (*Map, error) {
	on, err := s.whole(o)
	if err != nil {
		return nil, err
	}
	reference, err := s.Point(re)
	if err != nil {
		return nil, err
	}
	m := &Map{Orbit: o, Re: fmt.Sprintf("%v (%v) at each frequency", re, re.Orbit)}
	for _, p := range on {
		v, err := relative(p.Response, reference.Response)
		if err != nil {
			return nil, err
		}
		c, err := freq.NewCurve(s.grid, v, p.Response.Label(), "dB", freq.Basis{})
		if err != nil {
			return nil, err
		}
		m.add(p, c)
	}
	return m, nil
}

func (m *Map) add(p Point, c freq.Curve) {
	m.Degrees = append(m.Degrees, p.Direction.Degrees)
	m.Origins = append(m.Origins, p.Origin)
	m.Levels = append(m.Levels, c.As(fmt.Sprintf("%g°", p.Direction.Degrees)))
}

// whole returns the points of an orbit, of which there must be at least two.
func (s *Set) whole(o Orbit) ([]Point, error) {
	if o != Horizontal && o != Vertical {
		return nil, fmt.Errorf("directivity: orbit is %d, want Horizontal or Vertical", int(o))
	}
	on := s.Orbit(o)
	if len(on) < 2 {
		return nil, fmt.Errorf("directivity: %d angles of the %v orbit, want at least 2", len(on), o)
	}
	return on, nil
}

// Polar is the level over the angle at one frequency, for a polar plot.
type Polar struct {
	Orbit   Orbit
	Hz      float64 // of the point of the grid that it was taken at
	Smooth  float64 // n of the 1/n-octave power average; 0: the point itself
	Degrees []float64
	Origins []Origin
	DB      []float64 // re the reference direction at the same frequency
}

// Polar returns the levels over the angle re a direction at the point of the grid that is
// nearest to a frequency, averaged in power over 1/smooth octave (freq.Response.SmoothPower)
// unless smooth is 0. Frequencies beyond the grid are refused.
func (s *Set) Polar(o Orbit, hz, smooth float64, re Direction) (*Polar, error) {
	on, err := s.whole(o)
	if err != nil {
		return nil, err
	}
	if !(hz >= s.grid.First() && hz <= s.grid.Last()) {
		return nil, fmt.Errorf("directivity: polar plot at %g Hz of a set on %v, want a frequency within", hz, s.grid)
	}
	reference, err := s.Point(re)
	if err != nil {
		return nil, err
	}
	at := s.grid.Nearest(hz)
	level := func(p Point) (float64, error) {
		if smooth == 0 {
			v, err := relative(p.Response, reference.Response)
			if err != nil {
				return 0, err
			}
			return v[at], nil
		}
		c, err := p.Response.SmoothPower(smooth, 1)
		if err != nil {
			return 0, err
		}
		return c.At(at), nil
	}
	out := &Polar{Orbit: o, Hz: s.grid.At(at), Smooth: smooth}
	zero, err := level(reference)
	if err != nil {
		return nil, err
	}
	if math.IsInf(zero, 0) {
		return nil, fmt.Errorf("directivity: reference %v is silent at %g Hz, want a sound", re, out.Hz)
	}
	for _, p := range on {
		l, err := level(p)
		if err != nil {
			return nil, err
		}
		out.Degrees = append(out.Degrees, p.Direction.Degrees)
		out.Origins = append(out.Origins, p.Origin)
		out.DB = append(out.DB, l-zero)
	}
	return out, nil
}

// Beamwidth is how far the sound reaches to both sides of a direction.
type Beamwidth struct {
	Orbit Orbit
	Re    Direction
	Drop  float64 // dB
	// Plus and Minus are the angles, in degrees from Re, at which the level first falls by
	// the drop to the side of rising and of falling angles. Total is their sum. Where it
	// does not fall within the angles that there are, they are +Inf; where it does not fall
	// on the whole circle Plus and Minus are 180° each.
	Plus, Minus, Total freq.Curve
	// Doubtful says that angles that were not given were used.
	Doubtful bool
}

// Beamwidth returns at which angles from a direction of an orbit the level has first fallen
// by drop decibels below its level there: the usual −6 dB is 6. Between two angles the
// level in dB is taken as linear over the angle, the one interpolation that is made here
// without being asked for; a gap of more than 15° before the fall is refused. Beyond the
// first fall the level may rise again, in a lobe that is not counted.
func (s *Set) Beamwidth(o Orbit, re Direction, drop float64) (*Beamwidth, error) {
	if !(drop > 0) || math.IsInf(drop, 0) {
		return nil, fmt.Errorf("directivity: drop of a beamwidth is %g dB, want a finite value > 0", drop)
	}
	if re.shared() {
		re.Orbit = o
	}
	if re.Orbit != o {
		return nil, fmt.Errorf("directivity: beamwidth of the %v orbit about %v, which is on the other", o, re)
	}
	m, err := s.Normalised(o, re)
	if err != nil {
		return nil, err
	}
	at := 0
	for m.Degrees[at] != re.Degrees {
		at++
	}
	n := len(m.Degrees)
	closed := m.Degrees[0]+360-m.Degrees[n-1] <= widestStep(m.Degrees)*(1+1e-9)
	b := &Beamwidth{Orbit: o, Re: re, Drop: drop}
	for _, g := range m.Origins {
		b.Doubtful = b.Doubtful || g != Given
	}
	plus, minus, total := make([]float64, s.grid.Len()), make([]float64, s.grid.Len()), make([]float64, s.grid.Len())
	for i := range plus {
		if plus[i], err = m.fall(at, 1, i, drop, closed); err != nil {
			return nil, err
		}
		if minus[i], err = m.fall(at, -1, i, drop, closed); err != nil {
			return nil, err
		}
		total[i] = plus[i] + minus[i]
	}
	for _, c := range []struct {
		to    *freq.Curve
		v     []float64
		label string
	}{{&b.Plus, plus, "to rising angles"}, {&b.Minus, minus, "to falling angles"}, {&b.Total, total, "beamwidth"}} {
		if *c.to, err = freq.NewCurve(s.grid, c.v, fmt.Sprintf("−%g dB %s", drop, c.label), "°", freq.Basis{}); err != nil {
			return nil, err
		}
	}
	return b, nil
}

func widestStep(degrees []float64) (widest float64) {
	for i := 1; i < len(degrees); i++ {
		widest = max(widest, degrees[i]-degrees[i-1])
	}
	return widest
}

// fall returns the angle from index at, in steps of +1 or −1, at which curve i falls by
// drop; 180° if the orbit is closed and it does not within half a circle, else +Inf.
func (m *Map) fall(at, step, i int, drop float64, closed bool) (float64, error) {
	n := len(m.Degrees)
	before, last := 0.0, 0.0
	for k := 1; k < n; k++ {
		j := at + k*step
		if !closed && (j < 0 || j >= n) {
			break
		}
		j = (j%n + n) % n
		angle := math.Mod(float64(step)*(m.Degrees[j]-m.Degrees[at])+720, 360)
		if gap := angle - last; gap > widestGap*(1+1e-9) {
			return 0, fmt.Errorf("directivity: beam of the %v orbit goes on at %g Hz where there is nothing for %g° before %g°, want angles at most %g° apart, or Set.Fill to interpolate", m.Orbit, m.Levels[j].Grid().At(i), gap, m.Degrees[j], float64(widestGap))
		}
		l := m.Levels[j].At(i)
		if l <= -drop {
			a := angle
			if !math.IsInf(l, 0) {
				a = last + (angle-last)*(before+drop)/(before-l)
			}
			return min(a, 180), nil
		}
		if angle >= 180 {
			return 180, nil
		}
		before, last = l, angle
	}
	return math.Inf(1), nil // a circle ends at 180° or in a gap
}
